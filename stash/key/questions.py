"""What can be asked of a kind, and how likely each answer is under each design.

A question holds the distinct *shapes* of its answers: shape 0 is "anything" (what "none of these" expects), the others
are the distinct sizes or words on record. Designs that share a shape cannot be told apart by this question.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Measure
from stash.fit.intervals import Interval
from stash.kernel.exact import MICRO
from stash.key.densities import Bump, Side, log_sum
from stash.key.options import (
    LEAST_SIGMA,
    NUMBER_EFFORT_S,
    RANGE_MARGIN,
    TELL_EFFORT_S,
    UNCERTAINTY_MM,
    UNCERTAINTY_SHARE,
    WEAR_MM,
    WEAR_PER_UNCERTAINTY,
    Options,
)

ANYTHING = 0
"""The shape of "none of these"."""

_SIDES = {"smaller": Side.SMALLER, "larger": Side.LARGER, "either": Side.EITHER}


@dataclass(frozen=True, slots=True)
class NumberQuestion:
    """A size to measure.

    Args:
        measure: The measure.
        shape_of: ``{design: shape}``; a design with no size on record is missing.
        bumps: The densities of shapes 1, 2, ...
        uncertainty: Standard uncertainty of the instrument, in the unit.
        low: Lowest reading a part of the kind could show.
        high: Highest.
        slip: Share of readings that could be anything in range.
    """

    measure: Measure
    shape_of: Mapping[str, int]
    bumps: tuple[Bump, ...]
    uncertainty: float
    low: float
    high: float
    slip: float

    @property
    def shapes(self) -> int:
        """How many shapes there are, "anything" among them."""
        return len(self.bumps) + 1

    @property
    def floor(self) -> float:
        """The density of "anything", in 1/unit; outside the range too, where only a slip or a stranger can be."""
        return 1 / (self.high - self.low)

    def log_likelihoods(self, answer: float | str) -> list[float]:
        """Return the log density of a reading under each shape, in order."""
        reading = float(answer)
        anything = math.log(self.floor)
        slipped = math.log(self.slip) + anything if self.slip else -math.inf
        kept = math.log1p(-self.slip)
        return [anything, *(log_sum((kept + bump.log_density(reading), slipped)) for bump in self.bumps)]


@dataclass(frozen=True, slots=True)
class WordQuestion:
    """A tell to look for, or a choice to read.

    Args:
        measure: The measure.
        shape_of: ``{design: shape}``; a design with no word on record is missing.
        words: The words of shapes 1, 2, ...
        choices: Every word that may be answered.
        error: Share of answers that are wrong, spread evenly over the other words.
    """

    measure: Measure
    shape_of: Mapping[str, int]
    words: tuple[str, ...]
    choices: tuple[str, ...]
    error: float

    def log_likelihoods(self, answer: float | str) -> list[float]:
        """Return the log probability of an answer under each shape, in order."""
        wrong = math.log(self.error / max(len(self.choices) - 1, 1))
        right = math.log1p(-self.error)
        return [-math.log(len(self.choices)), *(right if word == answer else wrong for word in self.words)]


Question = NumberQuestion | WordQuestion


def questions_of(catalogue: Catalogue, kind: str, options: Options) -> dict[str, Question]:
    """Return what can be asked of a kind.

    Args:
        catalogue: The facts.
        kind: The kind's key.
        options: What the caller knows better.

    Returns:
        ``{measure: question}`` in order of measure; what no design has on record asks nothing and is left out.
    """
    designs = catalogue.designs_of_kind.get(kind, ())
    found: dict[str, Question] = {}
    for measure in sorted((row for row in catalogue.measures if row.kind == kind), key=lambda row: row.key):
        recorded = {row.key: row.values[measure.key] for row in designs if measure.key in row.values}
        if measure.type == "number":
            sizes = {design: value for design, value in recorded.items() if isinstance(value, Interval)}
            if sizes:
                found[measure.key] = _number(measure, sizes, options)
        else:
            words = {design: value for design, value in recorded.items() if isinstance(value, str)}
            if words:
                found[measure.key] = _word(measure, words, choices_of(measure, designs), options)
    return found


def effort_s(measure: Measure) -> float:
    """Return the seconds an answer takes, never 0."""
    stated = measure.effort_s
    if stated:
        return stated
    return NUMBER_EFFORT_S if measure.type == "number" else TELL_EFFORT_S


def is_instrument(measure: Measure) -> bool:
    """Tell whether an answer is read off an instrument: a number with a unit, not a count or a date."""
    return measure.type == "number" and bool(measure.unit)


def choices_of(measure: Measure, designs: Sequence[Design]) -> tuple[str, ...]:
    """Return the words that may be answered: as declared, yes and no, or else those on record."""
    if measure.type == "yes_no":
        return ("yes", "no")
    recorded = {word for design in designs if isinstance(word := design.values.get(measure.key), str)}
    return measure.choices + tuple(sorted(recorded - set(measure.choices)))


def _word(measure: Measure, said: Mapping[str, str], choices: tuple[str, ...], options: Options) -> WordQuestion:
    words = tuple(sorted(set(said.values())))
    shape_of = {design: words.index(word) + 1 for design, word in said.items()}
    error = options.tell_errors.get(measure.key, options.tell_error)
    return WordQuestion(measure, shape_of, words, choices, error)


def _number(measure: Measure, sizes: Mapping[str, Interval], options: Options) -> NumberQuestion:
    uncertainty = _uncertainty(measure, sizes, options)
    bump_of = {design: _bump(measure, size, uncertainty, options) for design, size in sizes.items()}
    bumps = tuple(sorted(set(bump_of.values()), key=lambda bump: (bump.mean, bump.sigma)))
    shape_of = {design: bumps.index(bump) + 1 for design, bump in bump_of.items()}
    low, high = _range(measure, bumps, options)
    return NumberQuestion(measure, shape_of, bumps, uncertainty, low, high, options.slip)


def _uncertainty(measure: Measure, sizes: Mapping[str, Interval], options: Options) -> float:
    if measure.key in options.uncertainties:
        return options.uncertainties[measure.key]
    if measure.uncertainty_u is not None:
        return measure.uncertainty_u / MICRO
    if measure.unit == "mm":
        return UNCERTAINTY_MM
    return UNCERTAINTY_SHARE * max(max(abs(size.low_u), abs(size.high_u)) for size in sizes.values()) / MICRO


def _bump(measure: Measure, size: Interval, uncertainty: float, options: Options) -> Bump:
    """A tolerance of half-width a is taken as uniform: a/sqrt(3). Source: GUM, JCGM 100:2008, 4.3.7."""
    tolerance = (size.high_u - size.low_u) / 2 / MICRO / math.sqrt(3)
    sigma = max(math.hypot(uncertainty, tolerance), LEAST_SIGMA)
    side = _SIDES.get(measure.wear, Side.NONE)
    default = WEAR_MM.get(measure.wear, 0.0) if measure.unit == "mm" else WEAR_PER_UNCERTAINTY * uncertainty
    wear = options.wear_scales.get(measure.key, default) if side is not Side.NONE else 0.0
    return Bump((size.low_u + size.high_u) / 2 / MICRO, sigma, wear, side if wear else Side.NONE)


def _range(measure: Measure, bumps: tuple[Bump, ...], options: Options) -> tuple[float, float]:
    """As stated, or a margin around the sizes on record; always wide enough for every reading to be expected."""
    sizes = [bump.mean for bump in bumps]
    margin = RANGE_MARGIN * max(abs(size) for size in sizes)
    stated = options.ranges.get(measure.key, (min(sizes) - margin, max(sizes) + margin))
    ends = [end for cuts in (bump.cuts() for bump in bumps) for end in (cuts[0], cuts[-1])]
    return min(stated[0], *ends), max(stated[1], *ends)
