"""Bayes: what the answers make of each design and of "none of these".

A design with nothing on record for a measure is judged, there, as one of its siblings taken at random: a reading then
leaves its share where it was, and a measure nobody has taken costs the design nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from stash.key.densities import log_sum
from stash.key.options import Options
from stash.key.questions import ANYTHING, Question

NONE = ""
"""The hypothesis "none of these": no design has an empty key."""


@dataclass(frozen=True, slots=True)
class Hypotheses:
    """What the thing could be.

    Args:
        names: Design keys in order, then ``NONE``.
        priors: Belief in each before looking, in that order; they sum to 1.
    """

    names: tuple[str, ...]
    priors: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of each hypothesis.

    Args:
        hypotheses: What the thing could be.
        probabilities: Belief in each now, in their order; they sum to 1.
        siblings: For each hypothesis, how its unrecorded measures weigh the others; None where nothing answered is
            unrecorded, so that the priors do.
    """

    hypotheses: Hypotheses
    probabilities: tuple[float, ...]
    siblings: tuple[tuple[float, ...] | None, ...]

    def of(self, name: str) -> float:
        """Return the belief in a design, or in ``NONE``."""
        return self.probabilities[self.hypotheses.names.index(name)]

    @property
    def ranking(self) -> tuple[str, ...]:
        """The designs, likeliest first, then by key; a difference in the tenth digit is none."""
        designs = zip(self.hypotheses.names[:-1], self.probabilities[:-1], strict=True)
        return tuple(name for name, _ in sorted(designs, key=lambda pair: (-round(pair[1], 9), pair[0])))

    @property
    def bits(self) -> float:
        """How much is still open: the entropy in bits."""
        return -math.fsum(p * math.log2(p) for p in self.probabilities if p > 0)


def hypotheses_of(designs: Iterable[str], options: Options) -> Hypotheses:
    """Return the designs and "none of these" with their priors.

    Args:
        designs: Design keys.
        options: ``none_prior`` and ``weights``.
    """
    names = sorted(designs)
    weights = [options.weights.get(name, 1.0) for name in names]
    whole = math.fsum(weights)
    none = options.none_prior if whole > 0 else 1.0
    return Hypotheses((*names, NONE), (*((1 - none) * weight / (whole or 1.0) for weight in weights), none))


def believe(hypotheses: Hypotheses, questions: Mapping[str, Question], answers: Mapping[str, float | str]) -> Belief:
    """Return what the answers make of the hypotheses.

    Args:
        hypotheses: What the thing could be.
        questions: ``{measure: question}``.
        answers: ``{measure: number or word}``; an answer to no question changes nothing.

    Returns:
        The belief; the order of answers never matters.
    """
    answered = sorted(set(answers) & set(questions))
    asked = [questions[key] for key in answered]
    table = [_row(hypotheses, questions[key], answers[key]) for key in answered]
    missing = [_missing(name, asked) for name in hypotheses.names]
    logs: list[float] = []
    siblings: list[tuple[float, ...] | None] = []
    for at, prior in enumerate(hypotheses.priors):
        here = _log(prior) + math.fsum(row[at] for index, row in enumerate(table) if index not in missing[at])
        weights = _sibling_logs(hypotheses, table, missing[at], at) if missing[at] and prior < 1 else None
        siblings.append(None if weights is None else _shares(weights))
        logs.append(here if weights is None else here + log_sum(weights) - math.log1p(-prior))
    return Belief(hypotheses, _shares(logs), tuple(siblings))


def mixture(belief: Belief, question: Question, at: int) -> dict[int, float]:
    """Return what a hypothesis expects of a question, as weights of its shapes.

    Args:
        belief: What is believed now.
        question: A question not answered yet.
        at: Which hypothesis.

    Returns:
        ``{shape: weight}``, summing to 1.
    """
    name = belief.hypotheses.names[at]
    shape = _shape(question, name)
    if shape is not None:
        return {shape: 1.0}
    recorded = _recorded(belief.hypotheses, question)
    weights = belief.siblings[at]
    if weights is None:
        return recorded
    mixed: dict[int, float] = {}
    for other, weight in zip(belief.hypotheses.names, weights, strict=True):
        shape = _shape(question, other)
        for each, share in recorded.items() if shape is None else ((shape, 1.0),):
            mixed[each] = mixed.get(each, 0.0) + weight * share
    return mixed


def _shape(question: Question, name: str) -> int | None:
    return ANYTHING if name == NONE else question.shape_of.get(name)


def _recorded(hypotheses: Hypotheses, question: Question) -> dict[int, float]:
    """Weights of the shapes among the hypotheses that have one, by prior."""
    masses: dict[int, float] = {}
    for name, prior in zip(hypotheses.names, hypotheses.priors, strict=True):
        shape = _shape(question, name)
        if shape is not None:
            masses[shape] = masses.get(shape, 0.0) + prior
    whole = math.fsum(masses.values())
    return {shape: mass / whole for shape, mass in masses.items()} if whole else {ANYTHING: 1.0}


def _row(hypotheses: Hypotheses, question: Question, answer: float | str) -> list[float]:
    """The log likelihood of an answer under each hypothesis; where none is on record, of a sibling at random."""
    by_shape = question.log_likelihoods(answer)
    recorded = _recorded(hypotheses, question)
    average = log_sum(_log(share) + by_shape[shape] for shape, share in recorded.items())
    shapes = (_shape(question, name) for name in hypotheses.names)
    return [average if shape is None else by_shape[shape] for shape in shapes]


def _missing(name: str, asked: Sequence[Question]) -> frozenset[int]:
    return frozenset(index for index, question in enumerate(asked) if _shape(question, name) is None)


def _sibling_logs(
    hypotheses: Hypotheses, table: Sequence[Sequence[float]], missing: frozenset[int], at: int
) -> list[float]:
    """For each other hypothesis, its prior times what it makes of the answers this one has nothing on record for."""
    return [
        -math.inf if other == at else _log(prior) + math.fsum(table[index][other] for index in sorted(missing))
        for other, prior in enumerate(hypotheses.priors)
    ]


def _shares(logs: Sequence[float]) -> tuple[float, ...]:
    top = max(logs)
    masses = [math.exp(each - top) for each in logs]
    whole = math.fsum(masses)
    return tuple(mass / whole for mass in masses)


def _log(share: float) -> float:
    return math.log(share) if share > 0 else -math.inf
