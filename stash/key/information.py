"""How much an answer is expected to tell: the mutual information of answer and hypothesis, in bits.

Source: Shannon, A Mathematical Theory of Communication (1948), section 12; Lindley, On a Measure of the Information
Provided by an Experiment (1956).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
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

Row = tuple[float, Mapping[int, float]]
"""A hypothesis, or several that expect the same: its probability, and what it expects as ``{shape: weight}``."""


def expected_bits(belief: Belief, question: Question) -> float:
    """Return the information an answer is expected to give about the hypotheses.

    For sizes the integral is taken by the eight-point Gauss-Legendre rule between the points where a density bends;
    against adaptive quadrature it is good to 0.00001 bit.

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


def _rows(belief: Belief, question: Question) -> list[Row]:
    masses: dict[tuple[tuple[int, float], ...], float] = {}
    for at, probability in enumerate(belief.probabilities):
        if probability > 0:
            expected = tuple(sorted(mixture(belief, question, at).items()))
            masses[expected] = masses.get(expected, 0.0) + probability
    return [(mass, dict(expected)) for expected, mass in masses.items()]


def _of_words(question: WordQuestion, rows: Sequence[Row]) -> float:
    total = 0.0
    for choice in question.choices:
        by_shape = [math.exp(log) for log in question.log_likelihoods(choice)]
        seen = [(mass, math.fsum(weight * by_shape[shape] for shape, weight in mix.items())) for mass, mix in rows]
        total += _spread(seen)
    return total


def _of_numbers(question: NumberQuestion, rows: Sequence[Row]) -> float:
    total = 0.0
    for low, high, near in _panels(question):
        half, middle = (high - low) / 2, (high + low) / 2
        if not near:
            total += (high - low) * _spread(_densities(question, rows, near, middle))
            continue
        for node, weight in _GAUSS:
            for reading in (middle - half * node, middle + half * node):
                total += half * weight * _spread(_densities(question, rows, near, reading))
    return total


def _panels(question: NumberQuestion) -> Iterator[tuple[float, float, tuple[int, ...]]]:
    """Cut the range where a density bends; with each piece, the bumps that reach into it."""
    reach = [(cuts[0], cuts[-1]) for cuts in (bump.cuts() for bump in question.bumps)]
    points = sorted({question.low, question.high, *(cut for bump in question.bumps for cut in bump.cuts())})
    for low, high in pairwise(points):
        middle = (low + high) / 2
        yield low, high, tuple(at for at, (start, end) in enumerate(reach) if start < middle < end)


def _densities(
    question: NumberQuestion, rows: Sequence[Row], near: Sequence[int], reading: float
) -> list[tuple[float, float]]:
    anything = question.floor
    slipped = question.slip * anything
    above = {at + 1: (1 - question.slip) * math.exp(question.bumps[at].log_density(reading)) for at in near}
    above[ANYTHING] = anything - slipped
    return [
        (mass, slipped + math.fsum(weight * above[shape] for shape, weight in mix.items() if shape in above))
        for mass, mix in rows
    ]


def _spread(seen: Sequence[tuple[float, float]]) -> float:
    """``sum(p f log2 f) - F log2 F`` where F is the mixture: what one answer adds to the mutual information."""
    mixed = math.fsum(mass * density for mass, density in seen)
    if mixed <= 0:
        return 0.0
    return math.fsum(mass * density * math.log2(density / mixed) for mass, density in seen if density > 0)
