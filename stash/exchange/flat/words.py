"""Single cells of a flat sheet: counts, sizes, amounts, dates and grades as people write them.

Every reader gives what it understood and a doubt in words where there is one; nothing is guessed silently.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from stash.kernel.exact import LARGEST


@dataclass(frozen=True, slots=True)
class Conventions:
    """How a sheet writes numbers and dates; asked once for the whole sheet.

    Args:
        decimal: ``,`` or ``.``: what stands before the decimals.
        order: ``dmy``, ``mdy`` or ``ymd``: the order of a date's parts.
        typed: The sheet is a workbook: a cell that was a number comes with a point, whatever its texts use.
    """

    decimal: str = "."
    order: str = "dmy"
    typed: bool = False


@dataclass(frozen=True, slots=True)
class Count:
    """How many: the number, whether it is only about so many, and what is doubtful."""

    number: int
    about: bool = False
    doubt: str = ""


_MULTIPLES = {
    "pair": 2, "pairs": 2, "pr": 2, "prs": 2, "paar": 2, "paire": 2, "paires": 2,
    "dozen": 12, "dz": 12, "doz": 12, "dutzend": 12,
}  # fmt: skip
_ONES = {"x", "pcs", "pc", "piece", "pieces", "st", "stk", "stück", "ea", "each", "off", "no"}
_HEAPS = {"set", "sets", "bag", "bags", "box", "boxes", "kit", "kits", "lot", "handful", "m", "cm", "roll", "satz"}
_MOST = 1_000_000
"""What a lot holds at most, as the tables have it."""
_ABOUT = re.compile(r"^(?:~|ca\.?|about|approx\.?|circa|etwa|env\.?)\s*", re.IGNORECASE)
_COUNT = re.compile(r"^(?:x\s*)?(\d+)(?:[.,]0{1,2})?\s*([^\W\d_]*)\.?\Z", re.IGNORECASE)


def read_count(text: str) -> Count:
    """Read a quantity: ``2``, ``2x``, ``3 pr``, ``1 dozen``, ``~40``, ``1 bag``.

    An empty cell, and what is no number, counts as one with a doubt.
    """
    plain = text.strip().strip("\"'").strip()
    about = _ABOUT.match(plain) is not None
    plain = _ABOUT.sub("", plain).lower()
    if not plain:
        return Count(1, doubt="no quantity is given: taken as 1")
    found = _COUNT.match(f"1 {plain}" if plain in _MULTIPLES else plain)
    if found is None:
        return Count(1, doubt=f"{text!r} is no count: taken as 1")
    unit = found[2]
    number = int(found[1]) * _MULTIPLES.get(unit, 1)
    if number > _MOST:
        return Count(1, doubt=f"{text!r} is more than a lot can hold: taken as 1")
    if not unit or unit in _ONES or unit in _MULTIPLES:
        return Count(number, about)
    told = "how many parts is that?" if unit in _HEAPS else "the word is not understood."
    return Count(number, about, f"{text!r}: {told} Taken as {number}")


def read_decimal(text: str, conventions: Conventions) -> Decimal | None:
    """Read a number in the sheet's way of writing; None when it is none.

    The other mark may group thousands (``1.234,50``); ``9,-`` is a whole amount.
    """
    plain = text.strip().replace("\u2212", "-").replace("\u00a0", "").replace(" ", "").replace("'", "")
    plain = re.sub(r"^[\u20ac$\u00a3]|[\u20ac$\u00a3]\Z|(?:eur|usd|gbp|chf)\Z", "", plain, flags=re.IGNORECASE)
    plain = re.sub(r"[.,]-+\Z", "", plain)
    mark = re.escape(conventions.decimal)
    group = re.escape("." if conventions.decimal == "," else ",")
    if conventions.typed and re.fullmatch(r"[+-]?\d+\.\d{1,6}", plain):
        mark, group = re.escape("."), ","
    found = re.match(rf"^([+-]?)(\d{{1,3}}(?:{group}\d{{3}})+|\d+)(?:{mark}(\d{{1,6}}))?\Z", plain)
    if found is None:
        return None
    sign, whole, decimals = found[1], found[2], found[3] or "0"
    number = Decimal(f"{sign}{re.sub(group, '', whole)}.{decimals}")
    return number if abs(number) <= LARGEST else None


def guess_decimal(texts: Iterable[str]) -> tuple[str, bool]:
    """Guess the decimal mark from cells that hold numbers.

    Returns:
        The mark, and whether the cells are of one mind; with nothing to go by it is a point, and sure.
    """
    votes = {",": 0, ".": 0}
    for text in texts:
        for mark in re.findall(r"\d([.,])\d{1,2}(?!\d)", text):
            votes[mark] += 1
    if not any(votes.values()):
        return ".", True
    mark = "," if votes[","] >= votes["."] else "."
    return mark, min(votes.values()) == 0


@dataclass(frozen=True, slots=True)
class Day:
    """A day, and what is doubtful about it."""

    day: dt.date | None
    doubt: str = ""


_PARTS = re.compile(r"^(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})\Z")
_SERIAL_FROM, _SERIAL_TO = 20_000, 80_000
"""Days since 1899-12-30 that a spreadsheet program shows as a date, from 1954 to 2119."""


def read_day(text: str, conventions: Conventions) -> Day:
    """Read a date: ISO, or three numbers in the sheet's order; a bare year stays a doubt, as does a day's number."""
    plain = text.strip()
    if not plain:
        return Day(None)
    found = _PARTS.match(plain)
    if found is not None:
        return _from_parts(plain, [int(part) for part in found.groups()], conventions.order)
    if plain.isdigit() and _SERIAL_FROM <= int(plain) <= _SERIAL_TO:
        day = dt.date(1899, 12, 30) + dt.timedelta(days=int(plain))
        return Day(day, f"{plain} is a spreadsheet's number for {day.isoformat()}")
    if re.fullmatch(r"(18|19|20)\d\d", plain):
        return Day(None, f"only the year {plain} is known: kept in the note")
    return Day(None, f"{text!r} is no date: kept in the note")


def _from_parts(text: str, parts: list[int], order: str) -> Day:
    if parts[0] > 31:  # noqa: PLR2004 - no day: a year stands first
        order = "ymd"
    elif order == "ymd":
        order = "dmy"
    where = {letter: parts[at] for at, letter in enumerate(order)}
    year = where["y"] + (2000 if where["y"] < 70 else 1900) if where["y"] < 100 else where["y"]  # noqa: PLR2004
    try:
        day = dt.date(year, where["m"], where["d"])
    except ValueError:
        return Day(None, f"{text!r} is no date in the order {order}: kept in the note")
    return Day(day)


def either_order(text: str) -> bool:
    """Tell whether day and month of a date could be either."""
    found = _PARTS.match(text.strip())
    if found is None:
        return False
    one, two = int(found[1]), int(found[2])
    return one <= 12 and two <= 12 and one != two  # noqa: PLR2004 - months


def guess_order(texts: Iterable[str]) -> tuple[str, bool]:
    """Guess the order of a date's parts from cells that hold dates.

    Returns:
        ``dmy`` or ``mdy``, and whether the cells leave no doubt: a part above 12 is a day, and none is against it.
    """
    first = second = 0
    either = False
    for text in texts:
        either = either or either_order(text)
        found = _PARTS.match(text.strip())
        if found is None or int(found[1]) > 31:  # noqa: PLR2004 - a year stands first: no doubt
            continue
        one, two = int(found[1]), int(found[2])
        first += one > 12  # noqa: PLR2004 - no month
        second += two > 12  # noqa: PLR2004 - no month
    if second > first:
        return "mdy", not first
    return "dmy", not second and (first > 0 or not either)


@dataclass(frozen=True, slots=True)
class Grade:
    """A condition, how it is known, and what is doubtful."""

    condition: str
    checked: str = ""
    doubt: str = ""


_GRADES: tuple[tuple[str, str], ...] = (
    (r"\bscrap\b|throw away|\bhooked\b|\bfrayed\b|schrott", "scrap"),
    (r"\bcore\b|body only|only the", "core"),
    (r"\bpattern\b|\brepro\b|reproduction", "pattern"),
    (r"\buntested\b|\bunknown\b|^\?+\Z|^mixed\Z|\bungepr", "unknown"),
    (
        r"needs?\b|\bworn\b|crack|\bleak|\brust|\bstuck\b|broken|\bplay in\b|\bblue\b|defekt|verschliss|kaputt",
        "needs_work",
    ),
    (
        r"^new\b|unused|never used|unbenutzt|\bnos\b|\bnib\b|new old stock|\b(?:neu|neuf|nieuw|nuovo|nuevo)\b",
        "new",
    ),
    (r"excellent|as new|like new|mint|neuwertig", "excellent"),
    (r"\bgood\b|\bgut\b|\bbon\b|\bgoed\b|\bbuono\b|\bbueno\b", "good"),
    (r"\bok\b|used|serviceable|\bfair\b|usable|faded|\bruns\b|\bgebraucht\b|occasion", "serviceable"),
)
_DENIED = re.compile(
    r"\b(?:not?|nicht|kein\w*|pas|niet|non)\s+(?:so |very |too |sehr |tr\u00e8s )?"
    r"(?:good|ok|new|great|usable|gut|neu|bon|goed|buono|bueno|tested)\b"
)
_RAN = re.compile(r"\bran\b|\bruns\b|\btested\b|running|gel\u00e4uft|getestet", re.IGNORECASE)


def read_grade(text: str) -> Grade:
    """Read a condition in words, such as ``used ok``, ``NOS``, ``good, ran``, ``needs cleaning``.

    The worst word wins; what no word is understood of is unknown, with a doubt.
    """
    plain = text.strip().casefold()
    if not plain:
        return Grade("unknown")
    if _DENIED.search(plain):
        return Grade("unknown", "", f"{text!r} says what it is not: taken as unknown")
    ran = "ran" if _RAN.search(plain) and "untested" not in plain else ""
    for pattern, condition in _GRADES:
        if re.search(pattern, plain):
            return Grade(condition, ran)
    if ran:
        return Grade("serviceable", ran)
    return Grade("unknown", "", f"{text!r} is no condition we know: taken as unknown")
