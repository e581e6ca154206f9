"""Reading and writing one cell: text in, value out, or what is wrong with it."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from stash.kernel.codes import parse_code
from stash.kernel.exact import decimal_text, money_text, parse_decimal, to_micro
from stash.kernel.tables import Cell, Column

Value = str | int | bool | Decimal | dt.date | None
"""What a cell holds once read; which of them is said at ``Cell``."""

_SLUG = re.compile(r"[\w](?:[\w.+*·-]{0,78}[\w+*])?\Z")
_SPOT = re.compile(r"[^;|\n\r\t<>]{1,80}\Z")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}\Z")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a cell, and how to mend it."""

    problem: str
    hint: str


def read_cell(column: Column, text: str) -> Value | Fault:
    """Read one cell.

    Args:
        column: The column it stands in.
        text: What stands there; white space around it does not count, and letters composed of several characters
            are taken as one (Unicode normalization form C), so that what looks the same is the same.

    Returns:
        The value (None for an empty optional cell), or the fault.
    """
    stripped = text.strip() if text.isascii() else unicodedata.normalize("NFC", text).strip()
    if not stripped:
        if column.required:
            return Fault("is empty", "Every row needs this cell filled.")
        if not column.default:
            return None
        stripped = column.default
    return _READ[column.cell](column, stripped)


def write_cell(column: Column, value: Value) -> str:
    """Write one value as cell text: the inverse of ``read_cell`` for its own results."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if column.cell is Cell.MONEY:
        return money_text(int(str(value)))
    if isinstance(value, Decimal):
        return decimal_text(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return str(value)


def list_items(text: str | None) -> tuple[tuple[str, ...], ...]:
    """Split a list cell: items separated by ``;``, alternatives inside one by ``|``."""
    return tuple(
        tuple(part.strip() for part in item.split("|") if part.strip())
        for item in (text or "").split(";")
        if item.strip(" |")
    )


def _text(column: Column, text: str) -> Value | Fault:
    if len(text) > column.longest:
        return Fault("is too long", f"Keep it to {column.longest} characters.")
    if _CONTROL.search(text):
        return Fault("holds characters that can't be shown", "Remove the control characters.")
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")


def _slug(_column: Column, text: str) -> Value | Fault:
    if _SLUG.match(text):
        return text
    return Fault(
        "is not a key",
        "Keys are short, without spaces: letters, digits, and - _ . + between them, such as kittle-ii or pin_bore_mm.",
    )


def _spot(column: Column, text: str) -> Value | Fault:
    whole = _text(column, text)
    if isinstance(whole, Fault) or _SPOT.match(text):
        return whole
    return Fault("is not the name of a position", "Up to 80 characters in one line, without ; | < or >.")


def _code(_column: Column, text: str) -> Value | Fault:
    code = parse_code(text)
    if code is None:
        return Fault("is not a code", "A code has 6 characters and its last one checks the others; look for a slip.")
    return str(code)


def _decimal(column: Column, text: str) -> Decimal | Fault:
    number = parse_decimal(text)
    if number is None:
        hint = "Write decimals with a point." if "," in text else "Write digits, with a point for decimals."
        return Fault("is not a number", hint)
    if (column.low is not None and number < column.low) or (column.high is not None and number > column.high):
        return Fault("is out of range", f"It must lie between {column.low} and {column.high}.")
    return number


def _whole(column: Column, text: str) -> Value | Fault:
    number = _decimal(column, text)
    if isinstance(number, Fault):
        return number
    if number != number.to_integral_value():
        return Fault("is not a whole number", "Write it without decimals.")
    return int(number)


def _exact(column: Column, text: str) -> Value | Fault:
    number = _decimal(column, text)
    if isinstance(number, Fault):
        return number
    try:
        to_micro(number)
    except ValueError:
        return Fault("has too many decimals", "Six decimals are kept at most.")
    return Decimal(decimal_text(number))


def _money(column: Column, text: str) -> Value | Fault:
    number = _decimal(Column(column.name, low=0, high=1_000_000_000), text)
    if isinstance(number, Fault):
        return number
    minor = number * 100
    if minor != minor.to_integral_value():
        return Fault("has too many decimals", "Amounts have two decimals, such as 18.50.")
    return int(minor)


def _yes_no(_column: Column, text: str) -> Value | Fault:
    answer = {"yes": True, "no": False}.get(text.lower())
    return Fault("is neither yes nor no", "Write yes or no.") if answer is None else answer


def _date(_column: Column, text: str) -> Value | Fault:
    if not _DAY.match(text):  # fromisoformat also reads weeks and days without dashes
        return Fault(*_DATE_FAULT)
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return Fault(*_DATE_FAULT)


_DATE_FAULT = ("is not a date", "Write dates as year-month-day, such as 1974-05-31.")


def _choice(column: Column, text: str) -> Value | Fault:
    if text in column.choices:
        return text
    return Fault("is not one of the words allowed", "Use one of: " + ", ".join(column.choices) + ".")


def _list(column: Column, text: str) -> Value | Fault:
    whole = _text(column, text)
    return whole if isinstance(whole, Fault) else ";".join("|".join(item) for item in list_items(text))


_READ: dict[Cell, Callable[[Column, str], Value | Fault]] = {
    Cell.TEXT: _text,
    Cell.SLUG: _slug,
    Cell.SPOT: _spot,
    Cell.CODE: _code,
    Cell.WHOLE: _whole,
    Cell.YEAR: _whole,
    Cell.EXACT: _exact,
    Cell.MONEY: _money,
    Cell.YES_NO: _yes_no,
    Cell.DATE: _date,
    Cell.CHOICE: _choice,
    Cell.LIST: _list,
    Cell.MEASURED: _text,
}
