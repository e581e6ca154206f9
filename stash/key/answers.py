"""What was answered, checked against what a kind can be asked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal

from stash.errors import InvalidInput
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Measure
from stash.kernel.exact import LARGEST, parse_decimal
from stash.key.questions import choices_of

Answer = Decimal | float | str | bool | None
"""A reading, a word, yes or no, or None for "can't see"."""

NO_ANSWER = frozenset({"", "?", "unknown", "can't see", "can\u2019t see"})
"""Words that mean there is no answer."""


def read_answers(
    catalogue: Catalogue, kind: str, readings: Mapping[str, Answer], tells: Mapping[str, Answer]
) -> dict[str, float | str]:
    """Check every answer.

    Args:
        catalogue: The facts.
        kind: The kind's key.
        readings: ``{measure: answer}``, numbers in the measure's unit.
        tells: The same for what was looked at; which of the two an answer comes in does not matter.

    Returns:
        ``{measure: number or word}`` in order of measure, without those that are no answer.

    Raises:
        InvalidInput: A measure the kind does not have, a measure answered twice, or an answer it cannot have.
    """
    twice = sorted(set(readings) & set(tells))
    if twice:
        raise InvalidInput(f"{twice[0]} is answered twice", "Give it once, as a measure or as a tell.")
    answers: dict[str, float | str] = {}
    for key, answer in sorted({**readings, **tells}.items()):
        measure = catalogue.measure.get((kind, key))
        if measure is None:
            raise InvalidInput(f"{key} is not a measure of {kind}", _known(catalogue, kind))
        read = read_answer(measure, choices_of(measure, catalogue.designs_of_kind.get(kind, ())), answer)
        if read is not None:
            answers[key] = read
    return answers


def read_answer(measure: Measure, choices: Sequence[str], answer: Answer) -> float | str | None:
    """Read one answer.

    Args:
        measure: What was asked.
        choices: The words that may be answered, for a choice or a tell.
        answer: What was answered.

    Returns:
        A number in the measure's unit, a word, or None for no answer.

    Raises:
        InvalidInput: The measure cannot have that answer.
    """
    if is_no_answer(answer):
        return None
    if measure.type == "number":
        return _number(measure, answer)
    word = ("yes" if answer else "no") if isinstance(answer, bool) else str(answer).strip()
    for choice in choices:
        if choice.casefold() == word.casefold():
            return choice
    allowed = ", ".join(choices) or "nothing yet: no choices are declared"
    raise InvalidInput(f"{measure.key}: {word!r} is not one of its answers", f"It can be {allowed}.")


def is_no_answer(answer: Answer) -> bool:
    """Tell whether an answer says nothing."""
    return answer is None or (isinstance(answer, str) and answer.strip().lower() in NO_ANSWER)


def _number(measure: Measure, answer: Answer) -> float:
    unit = f" in {measure.unit}" if measure.unit else ""
    if isinstance(answer, bool):
        raise InvalidInput(f"{measure.key}: yes or no is not a reading", f"Give a number{unit}.")
    number: Decimal | float | None = parse_decimal(answer) if isinstance(answer, str) else answer
    if number is None or not math.isfinite(number) or abs(float(number)) > LARGEST:
        hint = "Write decimals with a point." if "," in str(answer) else f"Give a number{unit}, without the unit."
        raise InvalidInput(f"{measure.key}: {str(answer)!r} is not a reading", hint)
    if number < 0:
        raise InvalidInput(f"{measure.key}: {number} is below zero", f"Give a size{unit}, 0 or more.")
    return float(number)


def _known(catalogue: Catalogue, kind: str) -> str:
    keys = sorted(row.key for row in catalogue.measures if row.kind == kind)
    return f"Use one of: {', '.join(keys)}." if keys else f"No measures are declared for {kind} yet."
