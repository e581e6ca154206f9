"""Ball bearings by what is engraved on them: sizes, and what the letters after the number say.

Source: ISO 15:2017, boundary dimensions of radial bearings (dimension series 18, 19, 10, 02, 03 and narrow 00);
ISO 5753-1 for clearance classes; the letters for shields and seals are common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from stash.errors import InvalidInput, NotFound

_BORES_BY_CODE = {"00": 10.0, "01": 12.0, "02": 15.0, "03": 17.0}
_TABLE = """
623 3 10 4|624 4 13 5|625 5 16 5|626 6 19 6|627 7 22 7|628 8 24 8|629 9 26 8|634 4 16 5|635 5 19 6
604 4 12 4|605 5 14 5|606 6 17 6|607 7 19 6|608 8 22 7|609 9 24 7
61800 10 19 5|61801 12 21 5|61802 15 24 5|61803 17 26 5|61804 20 32 7|61805 25 37 7|61806 30 42 7
61900 10 22 6|61901 12 24 6|61902 15 28 7|61903 17 30 7|61904 20 37 9|61905 25 42 9|61906 30 47 9
16002 15 32 8|16003 17 35 8|16004 20 42 8|16005 25 47 8|16006 30 55 9
6000 10 26 8|6001 12 28 8|6002 15 32 9|6003 17 35 10|6004 20 42 12|6005 25 47 12|6006 30 55 13|6007 35 62 14
6200 10 30 9|6201 12 32 10|6202 15 35 11|6203 17 40 12|6204 20 47 14|6205 25 52 15|6206 30 62 16|6207 35 72 17
6300 10 35 11|6301 12 37 12|6302 15 42 13|6303 17 47 14|6304 20 52 15|6305 25 62 17|6306 30 72 19|6307 35 80 21
"""
"""Designation, bore, outside diameter, width in mm. Source: ISO 15:2017, from memory."""

_SEALS = {
    "Z": ("shield", 1),
    "ZZ": ("shield", 2),
    "2Z": ("shield", 2),
    "RS": ("seal", 1),
    "RS1": ("seal", 1),
    "RSH": ("seal", 1),
    "RSR": ("seal", 1),
    "RZ": ("low-friction seal", 1),
    "2RS": ("seal", 2),
    "2RS1": ("seal", 2),
    "2RSH": ("seal", 2),
    "2RSR": ("seal", 2),
    "2RZ": ("low-friction seal", 2),
}
_CLEARANCES = {"C1": "C1", "C2": "C2", "CN": "normal", "C0": "normal", "C3": "C3", "C4": "C4", "C5": "C5"}
_CAGES = {"TN": "polymer", "TN9": "polymer", "TNH": "polymer", "M": "brass", "J": "steel"}
_GROOVES = {"N": "groove", "NR": "groove and ring"}
_KNOWN = sorted((*_SEALS, *_CLEARANCES, *_CAGES, *_GROOVES), key=lambda word: (-len(word), word))
_SIDES = ("open", "one side", "both sides")
_MARK = re.compile(r"\s*(\d{2}/\d{2}|\d{3,5})")
_BREAK = re.compile(r"[-/.,\s()]+")


@dataclass(frozen=True, slots=True)
class Bearing:
    """A basic designation and its sizes, mm."""

    basic: str
    bore_mm: float
    outside_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True)
class Designation:
    """What is engraved on a bearing, read.

    Args:
        basic: The basic designation: what decides the sizes.
        closure: ``open``, ``shield``, ``seal`` or ``low-friction seal``.
        sides: How many sides are closed: 0, 1 or 2.
        clearance: ``normal``, or ``C1`` to ``C5``.
        cage: ``steel``, ``polymer``, ``brass``, or "" where nothing says.
        groove: ``groove``, ``groove and ring``, or "".
        unread: Letters that mean nothing here (grease, precision, a maker's own).
    """

    basic: str
    closure: str = "open"
    sides: int = 0
    clearance: str = "normal"
    cage: str = ""
    groove: str = ""
    unread: tuple[str, ...] = ()

    @property
    def seals(self) -> str:
        """Which sides are closed: ``open``, ``one side`` or ``both sides``."""
        return _SIDES[self.sides]

    def __str__(self) -> str:
        closed = {"shield": "Z", "seal": "RS", "low-friction seal": "RZ"}.get(self.closure, "")
        suffix = f"-{'2' if self.sides > 1 else ''}{closed}" if closed else ""
        return self.basic + suffix + ("" if self.clearance == "normal" else f"/{self.clearance}")


def _rows() -> dict[str, Bearing]:
    rows = (row.split() for row in _TABLE.replace("\n", "|").split("|") if row)
    return {basic: Bearing(basic, float(bore), float(outside), float(width)) for basic, bore, outside, width in rows}


BEARINGS = _rows()
"""``{basic designation: bearing}``."""

ALSO_CALLED = {f"6{basic[2:]}": basic for basic in BEARINGS if basic.startswith("61")}
"""Thin series in their short form: 6800 for 61800, 6902 for 61902. Source: common practice, no source."""


def read_designation(text: str) -> Designation:
    """Read what is engraved on a bearing.

    Args:
        text: Such as ``6203-2RS/C3``, ``6203 ZZ C3`` or ``62032rs``; case and separators don't matter.

    Returns:
        The designation, with letters nobody here knows in ``unread``.

    Raises:
        InvalidInput: It does not begin with a number of three to five digits.
    """
    upper = text.upper()
    mark = _MARK.match(upper)
    if mark is None:
        raise InvalidInput(f"{text!r} is not a bearing number", "It begins with three to five digits, such as 6203.")
    basic, rest = _split(mark.group(1), upper[mark.end() :])
    found: dict[str, str] = {}
    closure, sides = "open", 0
    unread: list[str] = []
    for word in _words(rest):
        if word in _SEALS:
            closure, sides = _SEALS[word]
        elif word in _CLEARANCES:
            found["clearance"] = _CLEARANCES[word]
        elif word in _CAGES:
            found["cage"] = _CAGES[word]
        elif word in _GROOVES:
            found["groove"] = _GROOVES[word]
        else:
            unread.append(word)
    return Designation(basic, closure, sides, unread=tuple(unread), **found)


def bearing(text: str) -> Bearing:
    """Return the sizes of a bearing.

    Args:
        text: What is engraved on it; only the basic designation counts.

    Raises:
        InvalidInput: It is no bearing number.
        NotFound: It is one, but not in the table here.

    Source: ISO 15:2017.
    """
    basic = read_designation(text).basic
    if basic not in BEARINGS:
        bore = bore_by_code_mm(basic)
        hint = f"Its bore is {bore:g} mm by the number; measure outside diameter and width."
        raise NotFound(f"Bearing {basic} is not in the table", hint)
    return BEARINGS[basic]


def bore_by_code_mm(basic: str) -> float:
    """Return the bore that a basic designation names.

    Args:
        basic: Three to five digits, or two digits, a slash and the bore.

    Returns:
        Millimetres.

    Raises:
        InvalidInput: It is no basic designation.

    Source: bore code: 00 10, 01 12, 02 15, 03 17, from 04 times five; the last digit itself below 10 mm; after a slash
    the bore as it is. Common practice, no source.
    """
    if not re.fullmatch(_MARK, basic):
        raise InvalidInput(f"{basic!r} is not a basic designation", "Three to five digits, such as 6203.")
    if "/" in basic or len(basic) == 3:  # noqa: PLR2004 - 608: the last digit is the bore
        return float(basic[-2:] if "/" in basic else basic[-1])
    return _BORES_BY_CODE.get(basic[-2:], 5.0 * int(basic[-2:]))


def bearings_by_size(
    bore_mm: float, outside_mm: float, width_mm: float, within_mm: float = 0.15
) -> tuple[Bearing, ...]:
    """Return the bearings of a size, closest first.

    Args:
        bore_mm: Measured bore, mm.
        outside_mm: Measured outside diameter, mm.
        width_mm: Measured width, mm.
        within_mm: How far each may be off, mm.
    """
    found: list[tuple[float, str]] = []
    for row in BEARINGS.values():
        off = (abs(row.bore_mm - bore_mm), abs(row.outside_mm - outside_mm), abs(row.width_mm - width_mm))
        if max(off) <= within_mm:
            found.append((sum(off), row.basic))
    return tuple(BEARINGS[basic] for _, basic in sorted(found))


def differences(one: str, other: str) -> tuple[str, ...]:
    """Return in what two bearing numbers differ, in words; empty when they mean the same bearing.

    Args:
        one: What is engraved on one.
        other: What is engraved on the other.

    Raises:
        InvalidInput: One of them is no bearing number.
    """
    a, b = read_designation(one), read_designation(other)
    pairs = (
        ("basic designation", a.basic, b.basic),
        (
            "closed",
            f"{a.closure}, {a.seals}" if a.sides else a.seals,
            f"{b.closure}, {b.seals}" if b.sides else b.seals,
        ),
        ("clearance", a.clearance, b.clearance),
        ("cage", a.cage or "not said", b.cage or "not said"),
        ("snap ring", a.groove or "none", b.groove or "none"),
        ("other letters", " ".join(a.unread) or "none", " ".join(b.unread) or "none"),
    )
    return tuple(f"{what}: {left} against {right}" for what, left, right in pairs if left != right)


def _split(digits: str, rest: str) -> tuple[str, str]:
    """Part a number from a suffix run into it, as in 62032RS; and write thin series in full."""
    for length in range(len(digits), 2, -1):
        basic = ALSO_CALLED.get(digits[:length], digits[:length])
        if basic in BEARINGS:
            return basic, digits[length:] + rest
    return digits, rest


def _words(rest: str) -> list[str]:
    words: list[str] = []
    for chunk in filter(None, _BREAK.split(rest)):
        at = 0
        while at < len(chunk):
            word = next((known for known in _KNOWN if chunk.startswith(known, at)), chunk[at:])
            words.append(word)
            at += len(word)
    return words
