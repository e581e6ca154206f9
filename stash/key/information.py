"""How much an answer is expected to tell: the mutual information of answer and hypothesis, in bits.

Source: Shannon, A Mathematical Theory of Communication (1948), section 12; Lindley, On a Measure of the Information
Provided by an Experiment (1956).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from stash.key.belief import Belief, mixture
from stash.key.questions import ANYTHING, NumberQuestion, Question, WordQuestion

_GAUSS = (
    (0.1834346424956498, 0.3626837833783620),
    (0.5255324099163290, 0.3137066458778873),
    (0.7966664774136267, 0.2223810344533745),
    (0.9602898564975363, 0.1012285362903763),
)
"""Nodes and weights of the eight-point rule on [-1, 1], mirrored. Source: Abramowitz and Stegun, table 25.4."""

LEAST_PANEL_SIGMAS = 0.7
"""Pieces narrower than this many standard deviations are joined: the rule is exact enough without. Source: tests."""

Mix = Mapping[int, float]
"""What a hypothesis expects of a question: ``{shape: weight}``, summing to 1."""


@dataclass(frozen=True, slots=True)
class Rows:
    """The hypotheses by what they expect; those that expect the same count together.

    Args:
        plain: ``{shape: probability}`` of those that expect one shape.
        mixed: ``(probability, what it expects)`` of those that expect several.
    """

    plain: Mix
    mixed: tuple[tuple[float, Mix], ...]


def expected_bits(belief: Belief, question: Question) -> float:
    """Return the information an answer is expected to give about the hypotheses.

    For sizes the integral is taken by the eight-point Gauss-Legendre rule between the points where a density bends;
    against adaptive quadrature it is good to 0.000001 bit.

    Args:
        belief: What is believed now.
        question: A question not answered yet.

    Returns:
        Bits, 0 or more.
    """
    rows = _rows(belief, question)
    if isinstance(question, WordQuestion):
        return max(0.0, _of_words(question, rows))
    return max(0.0, _of_numbers(question, rows))


def _rows(belief: Belief, question: Question) -> Rows:
    plain: dict[int, float] = {}
    mixed: dict[tuple[tuple[int, float], ...], float] = {}
    for at, probability in enumerate(belief.probabilities):
        expected = tuple(sorted(mixture(belief, question, at).items())) if probability > 0 else ()
        if len(expected) == 1:
            plain[expected[0][0]] = plain.get(expected[0][0], 0.0) + probability
        elif expected:
            mixed[expected] = mixed.get(expected, 0.0) + probability
    return Rows(plain, tuple((mass, dict(expected)) for expected, mass in mixed.items()))


def _of_words(question: WordQuestion, rows: Rows) -> float:
    total = 0.0
    for choice in question.choices:
        by_shape = [math.exp(log) for log in question.log_likelihoods(choice)]
        seen = [(mass, by_shape[shape]) for shape, mass in rows.plain.items()]
        seen += [
            (mass, math.fsum(weight * by_shape[shape] for shape, weight in mix.items())) for mass, mix in rows.mixed
        ]
        total += _spread(seen)
    return total


def _of_numbers(question: NumberQuestion, rows: Rows) -> float:
    total = 0.0
    for low, high, near in _panels(question):
        half, middle = (high - low) / 2, (high + low) / 2
        seen = _NearBy(question, rows, near)
        if not near:
            total += (high - low) * _spread(seen.densities(middle))
            continue
        for node, weight in _GAUSS:
            for reading in (middle - half * node, middle + half * node):
                total += half * weight * _spread(seen.densities(reading))
    return total


def _panels(question: NumberQuestion) -> Iterator[tuple[float, float, tuple[int, ...]]]:
    """Cut the range where a density bends; with each piece, the shapes of the bumps that reach into it."""
    cuts = [bump.cuts() for bump in question.bumps]
    starts = sorted((each[0], at) for at, each in enumerate(cuts, 1))
    reach = {at: each[-1] for at, each in enumerate(cuts, 1)}
    points = _spaced(
        sorted({question.low, question.high, *(cut for each in cuts for cut in each)}),
        LEAST_PANEL_SIGMAS * min(bump.sigma for bump in question.bumps),
    )
    near: set[int] = set()
    begun = 0
    for low, high in pairwise(points):
        while begun < len(starts) and starts[begun][0] < high:
            near.add(starts[begun][1])
            begun += 1
        near = {at for at in near if reach[at] > low}
        yield low, high, tuple(sorted(near))


def _spaced(points: Sequence[float], least: float) -> list[float]:
    """Leave out points closer than ``least`` to the one before; the last one stays."""
    kept = [points[0]]
    for point in points[1:-1]:
        if point - kept[-1] >= least:
            kept.append(point)
    return [*kept, points[-1]]


class _NearBy:
    """What the hypotheses expect of readings in one piece of the range.

    Only the shapes that reach into it differ from a mere slip; all others count together, so that many designs of many
    sizes cost no more than those nearby.
    """

    def __init__(self, question: NumberQuestion, rows: Rows, near: Sequence[int]) -> None:
        self._bumps = [(shape, question.bumps[shape - 1]) for shape in near]
        self._kept = 1 - question.slip
        self._slipped = question.slip * question.floor
        self._anything = question.floor
        self._plain = [(rows.plain[shape], shape) for shape in near if shape in rows.plain]
        stranger = rows.plain.get(ANYTHING, 0.0)
        far = math.fsum(rows.plain.values()) - stranger - math.fsum(mass for mass, _ in self._plain)
        self._constant = [(stranger, self._anything), (max(far, 0.0), self._slipped)]
        self._mixed = [
            (mass, mix.get(ANYTHING, 0.0), [(shape, mix[shape]) for shape in near if shape in mix])
            for mass, mix in rows.mixed
        ]

    def densities(self, reading: float) -> list[tuple[float, float]]:
        """Return ``(probability, density at the reading)`` of each group of hypotheses."""
        above = {shape: self._kept * math.exp(bump.log_density(reading)) for shape, bump in self._bumps}
        seen = [(mass, self._slipped + above[shape]) for mass, shape in self._plain]
        seen += self._constant
        for mass, strange, weights in self._mixed:
            density = self._slipped + strange * (self._anything - self._slipped)
            seen.append((mass, density + sum(weight * above[shape] for shape, weight in weights)))
        return seen


def _spread(seen: Sequence[tuple[float, float]]) -> float:
    """``sum(p f log2 f) - F log2 F`` where F is the mixture: what one answer adds to the mutual information."""
    mixed = sum(mass * density for mass, density in seen)
    if mixed <= 0:
        return 0.0
    return sum(mass * density * math.log2(density / mixed) for mass, density in seen if mass * density > 0)
