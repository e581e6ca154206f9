"""Sizes as people write them, in millimetres."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from stash.exchange.flat.words import Conventions, read_decimal
from stash.kernel.exact import decimal_text

MM_PER_INCH = Decimal("25.4")
"""Source: international inch, exact by definition (1959)."""
_PER_UNIT = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000)}
_INCH = re.compile(r"(?<![^\W\d_])(?:inches|inch|in|zoll|pouces?|pollici|duim)\b\.?|[\"\u2033]", re.IGNORECASE)
_UNIT = re.compile(r"(?<![^\W\d_])(mm|cm|m)\b\.?", re.IGNORECASE)
_SEPARATORS = re.compile(r"(?<=[\d\s\"\u2033m])[x\u00d7*](?=[\s\d])|(?<=\d)\s*[-\u2013/]\s*(?=\d)", re.IGNORECASE)
_FRACTION = re.compile(r"\A(?:(\d+)[\s-]+)?(\d+)/(\d+)\Z")
_WORDED = re.compile(r"(?:([^\W\d_][^\d]*?)[\s:=]+)?([\d.,]+)(?:\s+([^\W\d_]+))?")
"""One number with words before or after it: ``studs 40``, ``45 kit``."""
_DIAMETER = re.compile("[\u00d8\u2300\u03c6\u00f8]")


@dataclass(frozen=True, slots=True)
class Sizes:
    """The sizes in a cell.

    Args:
        mm: The numbers in order, in millimetres.
        words: What else stands in the cell, "" for nothing.
        converted: They were in another unit.
    """

    mm: tuple[Decimal, ...] = ()
    words: str = ""
    converted: bool = False


def read_sizes(text: str, conventions: Conventions) -> Sizes:
    """Read the sizes in a cell: ``37,95``, ``38 x 1,5``, ``15x35x11``, ``1/2 in``, ``25-35``, ``12 mm``.

    Words besides numbers and units are handed back: what they mean is not known here, so ``110 links`` is no size.
    """
    bare = _DIAMETER.sub(" ", text)
    inches = _INCH.search(bare) is not None
    unit = _UNIT.search(bare)
    scale = MM_PER_INCH if inches else _PER_UNIT[unit[1].lower()] if unit else Decimal(1)
    bare = _UNIT.sub(" ", _INCH.sub(" ", bare)).strip()
    pieces = [bare] if inches and _FRACTION.match(bare) else _SEPARATORS.split(bare)
    numbers: list[Decimal] = []
    words: list[str] = []
    for piece in pieces:
        said = _WORDED.fullmatch(piece.strip()) if len(pieces) == 1 else None
        if said is not None:
            words.extend(each.strip() for each in (said[1], said[3]) if each)
        number = _number((said[2] if said else piece).strip(), conventions)
        if number is not None:
            numbers.append(Decimal(decimal_text((number * scale).quantize(Decimal("0.000001")))))
        elif piece.strip() and said is None:
            words.append(piece.strip())
    return Sizes(tuple(numbers), " ".join(words), converted=scale != 1)


def _number(text: str, conventions: Conventions) -> Decimal | None:
    found = _FRACTION.match(text)
    if found is None:
        return read_decimal(text, conventions)
    if not int(found[3]):
        return None
    value = Fraction(int(found[1] or 0)) + Fraction(int(found[2]), int(found[3]))
    return Decimal(value.numerator) / Decimal(value.denominator)
