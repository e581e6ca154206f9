"""What a label says, and how much of it fits.

Words are fitted by measured width. What does not fit is shortened at a word, with a visible ``…``; a word is only ever
cut where it is longer than a whole line, and then with the same sign. Every item gets a line, in the order of
``LabelText``, before any item gets its second one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from labels import marks
from labels.errors import LabelError
from labels.type import BOLD, REGULAR, clean, width_em

ELLIPSIS = "…"
LEADING = 1.16
"""Baseline to baseline, in type sizes."""

SMALLEST_PT = 6.0
"""Smallest type on a label. Source: project decision."""

_STEPS = (1.0, 0.88, 0.76)
_TITLE_SCALE = 1.22
_MOST_LINES = 6


@dataclass(frozen=True, slots=True)
class LabelText:
    """One label, all of it text; everything but code and address may be empty.

    Attributes:
        code: Six characters, printed big in two groups of three.
        address: What the QR symbol holds, upper case.
        title: What it is.
        discriminator: What tells it from its look-alikes.
        fits: What it goes on.
        fits_not: What it must not go on.
        mark: A generation mark such as ``A2``: a letter, and an ordinal told by a shape.
        quantity: How many, with its unit.
        counted: When it was counted.
    """

    code: str
    address: str
    title: str = ""
    discriminator: str = ""
    fits: str = ""
    fits_not: str = ""
    mark: str = ""
    quantity: str = ""
    counted: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """A line ready to draw.

    Attributes:
        text: What stands in it.
        face: Name of the face.
        size_pt: Type size.
        indent_pt: From the left edge of the box.
        tag: Short word in front, such as ``NOT``; empty on every line of an item but the first.
        inverse: The tag is white on black.
    """

    text: str
    face: str
    size_pt: float
    indent_pt: float = 0.0
    tag: str = ""
    inverse: bool = False


@dataclass(frozen=True, slots=True)
class _Item:
    """A part of a label's words before it is broken into lines."""

    text: str
    face: str
    size_pt: float
    indent_pt: float = 0.0
    tag: str = ""
    inverse: bool = False


def grouped(code: str) -> str:
    """A code as it is printed: ``7K3 QX9``.

    Raises:
        LabelError: Not six letters and digits.
    """
    if len(code) != 6 or not code.isascii() or not code.isalnum():  # noqa: PLR2004 (six characters)
        raise LabelError(f"The code {code!r} is not six letters and digits.")
    return f"{code[:3]} {code[3:]}".upper()


def check(label: LabelText) -> None:
    """Refuse a label that cannot be printed, whatever its stock.

    Raises:
        LabelError: A bad code or mark, or a character the faces lack; the message names the label.
    """
    grouped(label.code)
    try:
        if label.mark:
            clean(marks.parse(label.mark).letter)
        for text in (label.title, label.discriminator, label.fits, label.fits_not, label.quantity, label.counted):
            clean(text)
    except LabelError as error:
        raise LabelError(f"Label {label.code}: {error.message}", error.hint) from None


@lru_cache(maxsize=20_000)
def wrap(text: str, width: float, face: str, lines: int) -> tuple[tuple[str, ...], bool]:
    """Text broken into at most so many lines.

    Args:
        text: Words with single blanks between them.
        width: Width of a line in ems of the face.
        face: Name of the face.
        lines: The most lines wanted, at least 1.

    Returns:
        The lines, and whether everything is in them; if not, the last line ends with ``…``.
    """
    words = text.split(" ")
    blank = width_em(" ", face)
    done: list[str] = []
    at = 0
    while at < len(words) and len(done) < lines:
        start, used = at, 0.0
        while at < len(words):
            more = width_em(words[at], face) + (blank if at > start else 0.0)
            if used + more > width:
                break
            used += more
            at += 1
        if at == start:  # a word longer than a line
            return (*done, _cut(words[at], width, face)), False
        done.append(" ".join(words[start:at]))
    if at == len(words):
        return tuple(done), True
    return (*done[:-1], _ended(done[-1], width, face)), False


def _ended(line: str, width: float, face: str) -> str:
    """A full line shortened by whole words until ``…`` fits behind it."""
    words = line.split(" ")
    while len(words) > 1 and width_em(" ".join(words) + " " + ELLIPSIS, face) > width:
        words.pop()
    kept = " ".join(words) + " " + ELLIPSIS
    return kept if width_em(kept, face) <= width else _cut(words[0], width, face)


def _cut(word: str, width: float, face: str) -> str:
    """As many characters of a long word as fit with ``…`` behind them; at least the sign."""
    end = len(word) - 1
    while end and width_em(word[:end] + ELLIPSIS, face) > width:
        end -= 1
    return word[:end] + ELLIPSIS


def fill(label: LabelText, width_pt: float, height_pt: float, size_pt: float) -> list[Line]:
    """The lines of words that fit in a box, from top to bottom.

    Where the words do not all fit, smaller type is tried before anything is shortened.

    Args:
        label: What to say; the code and the mark are drawn elsewhere.
        width_pt: Width of the box.
        height_pt: Height of the box.
        size_pt: Type size of ordinary lines; the title is set larger and bold.
    """
    lines: list[Line] = []
    for size in sorted({max(SMALLEST_PT, size_pt * step) for step in _STEPS}, reverse=True):
        lines, whole = _filled(_items(label, size), width_pt, height_pt)
        if whole:
            break
    return lines


def _filled(items: Sequence[_Item], width_pt: float, height_pt: float) -> tuple[list[Line], bool]:
    """Lines for a box, and whether they say everything."""
    counts = [0] * len(items)
    room = height_pt
    for wanted in range(1, _MOST_LINES + 1):
        for index, item in enumerate(items):
            if counts[index] == wanted - 1 and item.size_pt * LEADING <= room and _wants(item, width_pt, wanted):
                counts[index] = wanted
                room -= item.size_pt * LEADING
    lines: list[Line] = []
    whole = True
    for item, count in zip(items, counts, strict=True):
        found, complete = _lines(item, width_pt, count)
        lines.extend(found)
        whole = whole and complete
    return lines, whole


def _wants(item: _Item, width_pt: float, count: int) -> bool:
    """Whether an item would use one more line."""
    broken, _ = wrap(item.text, (width_pt - item.indent_pt) / item.size_pt, item.face, count)
    return len(broken) == count


def _lines(item: _Item, width_pt: float, count: int) -> tuple[list[Line], bool]:
    if not count:
        return [], False
    broken, whole = wrap(item.text, (width_pt - item.indent_pt) / item.size_pt, item.face, count)
    return [
        Line(text, item.face, item.size_pt, item.indent_pt, "" if index else item.tag, item.inverse)
        for index, text in enumerate(broken)
    ], whole


def _items(label: LabelText, size_pt: float) -> Sequence[_Item]:
    """The label's words in the order in which they are given room."""
    tag_pt = (max(width_em("FITS", BOLD), width_em("NOT", BOLD)) + 0.5) * size_pt
    counted = f"counted {clean(label.counted)}" if label.counted else ""
    stock = " · ".join(part for part in (clean(label.quantity), counted) if part)
    items = (
        _Item(clean(label.title), BOLD, size_pt * _TITLE_SCALE),
        _Item(clean(label.discriminator), REGULAR, size_pt),
        _Item(clean(label.fits), REGULAR, size_pt, tag_pt, "FITS"),
        _Item(clean(label.fits_not), REGULAR, size_pt, tag_pt, "NOT", inverse=True),
        _Item(stock, REGULAR, size_pt),
    )
    return [item for item in items if item.text]
