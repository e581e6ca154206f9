"""Reading one measured value: what its cell may hold follows from its measure."""

from __future__ import annotations

from collections.abc import Sequence

from stash.kernel.cells import Fault, read_cell
from stash.kernel.exact import decimal_text, parse_decimal, to_micro
from stash.kernel.tables import Cell, Column

_MOST = {
    "mm": 10_000,
    "cm": 1_000,
    "m": 100,
    "g": 1_000_000,
    "kg": 1_000,
    "rpm": 100_000,
    "cm3": 100_000,
    "cm³": 100_000,
}
"""``{unit: largest value on a small machine}``; none of these can be below zero. Source: project decision."""
_LARGEST = 1_000_000_000
_TELL = Column("value", Cell.YES_NO)


def read_measured(type_: str, choices: Sequence[str], unit: str, text: str) -> str | Fault:
    """Read a measured value.

    Args:
        type_: The measure's type: ``number``, ``choice`` or ``yes_no``.
        choices: The words allowed where it is a choice.
        unit: The measure's unit, "" for none.
        text: What stands in the cell, not empty.

    Returns:
        The value as canonical text, or what is wrong with it.
    """
    stripped = text.strip()
    if type_ == "number":
        return _number(unit, stripped)
    if type_ == "yes_no":
        answer = read_cell(_TELL, stripped)
        return answer if isinstance(answer, Fault) else "yes" if answer else "no"
    if stripped in choices:
        return stripped
    return Fault("is not one of the choices of its measure", "Use one of: " + ", ".join(choices) + ".")


def _number(unit: str, text: str) -> str | Fault:
    number = parse_decimal(text)
    if number is None:
        hint = (
            "Write decimals with a point."
            if "," in text
            else "Its measure is a number: digits, with a point for decimals."
        )
        return Fault("is not a number", hint)
    most = _MOST.get(unit, _LARGEST)
    least = 0 if unit in _MOST else -_LARGEST
    if not least <= number <= most:
        return Fault("is out of range", f"It must lie between {least} and {most} {unit}".rstrip() + ".")
    try:
        to_micro(number)
    except ValueError:
        return Fault("has too many decimals", "Six decimals are kept at most.")
    return decimal_text(number)
