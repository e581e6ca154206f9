"""What would still tell apart the designs that are left, and whether the instrument at hand can."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from stash.key.belief import Belief
from stash.key.densities import Bump, Side
from stash.key.questions import NumberQuestion, Question, WordQuestion
from stash.key.wording import at_hand, good_enough, label, named, shown

SEPARATION = 2 * 1.6449
"""Two sizes this many standard deviations apart are told apart 19 times in 20 by one reading.

Source: normal distribution, 95 % one-sided quantile 1.6449, half of the distance to each side.
"""
CONTENDER_SHARE = 0.05
"""A design this much as likely as the leader is still in the tie. Source: project decision."""


@dataclass(frozen=True, slots=True)
class TieBreak:
    """One thing that would tell two designs apart, or why it can't.

    Args:
        designs: The two design keys, likelier first.
        measure: The measure's key, "" when nothing on record differs.
        needed: The standard uncertainty (k = 1) that would decide, in the measure's unit; None where it is no size, or
            no instrument can.
        can: Something could decide it: a finer instrument, another look, a value to be put on record.
        text: The same in words.
    """

    designs: tuple[str, str]
    measure: str
    needed: float | None
    can: bool
    text: str


def contenders(belief: Belief) -> tuple[str, ...]:
    """Return the designs still in question, likeliest first."""
    designs = belief.ranking
    return tuple(name for name in designs if belief.of(name) >= CONTENDER_SHARE * belief.of(designs[0]))


def tie_breaks(
    names: Mapping[str, str], questions: Mapping[str, Question], answered: Collection[str], tied: Sequence[str]
) -> tuple[TieBreak, ...]:
    """Return what would tell the leader from each other design in the tie.

    Args:
        names: ``{design: what people call it}``.
        questions: ``{measure: question}``.
        answered: Measures answered.
        tied: Design keys, likeliest first.

    Returns:
        For each other design in order: what can decide first, then what can't.
    """
    found: list[TieBreak] = []
    for other in tied[1:]:
        pair = (tied[0], other)
        ways = [
            way for key, question in questions.items() for way in _ways(names, question, pair, known=key in answered)
        ]
        found += sorted(ways, key=lambda way: not way.can) or [
            TieBreak(pair, "", None, can=False, text=_twins(names, pair))
        ]
    return tuple(found)


def needed_uncertainty(one: Bump, other: Bump, uncertainty: float) -> float:
    """Return the standard uncertainty at which one reading tells two sizes apart; 0 or less when no instrument can.

    Args:
        one: One size, as now measured.
        other: The other.
        uncertainty: The standard uncertainty that is in both now.
    """
    spread = max(one.sigma, other.sigma)
    tolerance_squared = max(spread * spread - uncertainty * uncertainty, 0.0)
    wanted = abs(one.mean - other.mean) / SEPARATION
    left = wanted * wanted - tolerance_squared
    return math.copysign(math.sqrt(abs(left)), left)


def _ways(names: Mapping[str, str], question: Question, pair: tuple[str, str], *, known: bool) -> Iterator[TieBreak]:
    shapes = [question.shape_of.get(design) for design in pair]
    what = label(question.measure)
    bare = [design for design, shape in zip(pair, shapes, strict=True) if shape is None]
    if bare:
        if len(bare) == 1:
            text = f"{named(names, bare[0])} has no {what} on record: write it down from one that is known"
            yield TieBreak(pair, question.measure.key, None, can=True, text=text)
        return
    if shapes[0] == shapes[1]:
        return
    if isinstance(question, WordQuestion):
        yield _look(question, pair, known=known)
    else:
        yield _measure(question, pair, known=known)


def _look(question: WordQuestion, pair: tuple[str, str], *, known: bool) -> TieBreak:
    words = [question.words[question.shape_of[design] - 1] for design in pair]
    verb = "Look again at" if known else "Look at"
    text = f"{verb} {label(question.measure)}: {words[0]} against {words[1]}"
    return TieBreak(pair, question.measure.key, None, can=True, text=text)


def _measure(question: NumberQuestion, pair: tuple[str, str], *, known: bool) -> TieBreak:
    one, other = (question.bumps[question.shape_of[design] - 1] for design in pair)
    unit, what = question.measure.unit, label(question.measure)
    sizes = f"{what} {shown(one.mean, unit)} against {shown(other.mean, unit)}"
    needed = needed_uncertainty(one, other, question.uncertainty)
    if needed <= 0:
        text = f"{sizes}: their tolerances overlap too far for any instrument"
        return TieBreak(pair, question.measure.key, None, can=False, text=text)
    if needed < question.uncertainty:
        now = f"{at_hand(question.uncertainty, unit)} (good to {shown(question.uncertainty, unit)})"
        text = f"{sizes}: {now} cannot decide; it takes one good to {_fine(needed, unit)}: {good_enough(needed, unit)}"
    else:
        text = f"{'Measure again' if known else 'Measure'}: {sizes}"
    if one.side is not Side.NONE and max(one.wear, other.wear) >= abs(one.mean - other.mean):
        text += "; wear hides the difference, so measure where nothing rubs"
    return TieBreak(pair, question.measure.key, needed, can=True, text=text)


def _fine(needed: float, unit: str) -> str:
    """Round down to one digit, so that what is asked for is enough."""
    step = 10.0 ** math.floor(math.log10(needed))
    return shown(math.floor(needed / step) * step, unit)


def _twins(names: Mapping[str, str], pair: tuple[str, str]) -> str:
    return (
        f"Nothing on record tells {named(names, pair[0])} from {named(names, pair[1])}: compare the stamped number or "
        "the machine it came from, or find a measure in which they differ"
    )
