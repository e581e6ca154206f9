"""What each answer says for or against a design, as a mechanic would say it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from stash.fit.facts import Measure
from stash.kernel.exact import decimal_text
from stash.key.densities import Bump, Side
from stash.key.questions import ANYTHING, NumberQuestion, Question, WordQuestion

AGREES_WITHIN = 2.0
"""Standard deviations within which a reading agrees. Source: GUM, JCGM 100:2008, 6.3.3 (coverage factor 2)."""
DOUBTFUL_WITHIN = 4.0
"""Standard deviations beyond which it is another size or a slip. Source: project decision."""
USUAL_WEARS = 3.0
"""Mean wears within which a part is just worn (19 in 20 of an exponential). Source: exponential distribution."""
_INSTRUMENTS_MM = (
    (0.5, 0.2, "a tape"),
    (0.03, 0.02, "a caliper"),
    (0.015, 0.01, "a bore gauge"),
    (0.005, 0.0, "a micrometer"),
)
"""Good to (k = 1), called so from, name; coarsest first. Source: from memory."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one answer says about one design.

    Args:
        measure: The measure's key.
        bits: How much likelier the answer is under the design than under "none of these", as a power of two; None where
            the design has nothing on record.
        text: The same in words.
    """

    measure: str
    bits: float | None
    text: str


def contribution(question: Question, design: str, answer: float | str) -> Contribution:
    """Say what an answer makes of a design.

    Args:
        question: What was asked.
        design: The design's key.
        answer: A number in the measure's unit, or a word.
    """
    measure = question.measure
    shape = question.shape_of.get(design)
    if shape is None:
        return Contribution(measure.key, None, f"no {label(measure)} on record for this one: left out")
    logs = question.log_likelihoods(answer)
    bits = (logs[shape] - logs[ANYTHING]) / math.log(2)
    if isinstance(question, WordQuestion):
        return Contribution(measure.key, bits, _word_text(question, question.words[shape - 1], str(answer)))
    return Contribution(measure.key, bits, _number_text(question, question.bumps[shape - 1], float(answer)))


def stray_text(question: NumberQuestion, reading: float) -> str:
    """Say that a reading is outside everything a kind is known to show; "" when it is not."""
    if question.low <= reading <= question.high:
        return ""
    unit = question.measure.unit
    return (
        f"{label(question.measure)} {shown(reading, unit)} is far from everything on record, "
        f"{shown(question.bumps[0].mean, unit)} to {shown(question.bumps[-1].mean, unit)}: "
        "look for a slip, or another kind"
    )


def label(measure: Measure) -> str:
    """Return what people call a measure."""
    return measure.name or measure.key


def named(names: Mapping[str, str], design: str) -> str:
    """Return what people call a design, its key when nobody named it."""
    return names.get(design) or design


def shown(value: float, unit: str) -> str:
    """Return a size with its unit, to a ten-thousandth: ``37.89 mm``."""
    return f"{decimal_text(round(Decimal(value), 4))} {unit}".rstrip()


def at_hand(uncertainty: float, unit: str) -> str:
    """Name what measures with an uncertainty."""
    return next((name for _, called_from, name in _INSTRUMENTS_MM if unit == "mm" and uncertainty >= called_from), "it")


def good_enough(needed: float, unit: str) -> str:
    """Name the coarsest instrument that is good to an uncertainty."""
    if unit != "mm":
        return "a finer instrument"
    finest = "a shop that measures finer than a micrometer"
    return next((name for good_to, _, name in _INSTRUMENTS_MM if needed >= good_to), finest)


def _word_text(question: WordQuestion, word: str, answer: str) -> str:
    what = label(question.measure)
    if word == answer:
        return f"{what}: {answer}, as on record"
    return f"{what}: {answer}, where {word} is on record: not this, or seen wrongly"


def _number_text(question: NumberQuestion, bump: Bump, reading: float) -> str:
    unit, what = question.measure.unit, label(question.measure)
    away = reading - bump.mean
    if abs(away) <= AGREES_WITHIN * bump.sigma:
        return f"{what} {shown(reading, unit)} agrees with {shown(bump.mean, unit)}"
    way = "above" if away > 0 else "below"
    gap = f"{what} {shown(reading, unit)} is {shown(abs(away), unit)} {way} {shown(bump.mean, unit)}"
    return f"{gap}: {_judged(bump, away, what)}"


def _judged(bump: Bump, away: float, what: str) -> str:
    worn_way = bump.side is Side.EITHER or bump.side.value * away > 0
    if worn_way and abs(away) <= AGREES_WITHIN * bump.sigma + USUAL_WEARS * bump.wear:
        return f"a worn {what} of this, or another design"
    if worn_way:
        return "more than wear usually takes: another design, or a slip"
    against = "" if bump.side is Side.NONE else f"wear only makes it {bump.side.name.lower()}, so "
    if abs(away) <= DOUBTFUL_WITHIN * bump.sigma:
        return f"{against}a poor reading of this, or another design"
    return f"{against}not this, or a slip"
