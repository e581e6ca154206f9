"""A size as somebody types it, with or without its unit; and the same size in the other unit.

Old literature gives inches, cubic inches, feet a minute, ounces and degrees Fahrenheit; every field takes either.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from stash.bench import units
from stash.errors import InvalidInput


@dataclass(frozen=True, slots=True)
class Quantity:
    """One sort of quantity.

    Args:
        unit: The unit sums are done in.
        other: The unit old literature uses.
        there: From the one to the other.
        back: From the other to the one.
        spellings: How people write the one.
        other_spellings: How people write the other.
    """

    unit: str
    other: str
    there: Callable[[float], float]
    back: Callable[[float], float]
    spellings: tuple[str, ...]
    other_spellings: tuple[str, ...]


QUANTITIES = (
    Quantity("mm", "in", units.in_from_mm, units.mm_from_in, ("mm",), ("in", "inch", "inches", '"', "\u2033")),
    Quantity("cm³", "in³", units.in3_from_cm3, units.cm3_from_in3, ("cm³", "cm3", "cc", "ml"), ("in³", "in3", "cu in")),
    Quantity("m/s", "ft/min", units.ft_min_from_m_s, units.m_s_from_ft_min, ("m/s",), ("ft/min", "fpm")),
    Quantity("g", "oz", units.oz_from_g, units.g_from_oz, ("g", "gram", "grams"), ("oz", "ounce", "ounces")),
    Quantity("°C", "°F", units.f_from_c, units.c_from_f, ("°c", "c", "degc"), ("°f", "f", "degf")),
    Quantity("Nm", "lbf ft", units.lbf_ft_from_nm, units.nm_from_lbf_ft, ("nm", "n m"), ("lbf ft", "lb ft", "ft lb")),
)
QUANTITY_BY_UNIT: Mapping[str, Quantity] = {each.unit: each for each in QUANTITIES}
_NUMBER = re.compile(
    r"\s*(?P<sign>[-\u2212])?\s*(?:(?:(?P<whole>\d+)[\s-]+)?(?P<over>\d+)\s*/\s*(?P<under>\d+)"
    r"|(?P<plain>\d+(?:[.,]\d+)?|[.,]\d+))\s*(?P<unit>.*?)\s*"
)
_THOUSAND = re.compile(r"\d{1,3},\d{3}")


def read_quantity(text: str, unit: str) -> float:
    """Read a typed size into the unit sums are done in.

    Args:
        text: Such as ``38``, ``1.5 in``, ``1 1/2"`` or ``12,7 mm``; without a unit it is in the given one.
        unit: The unit wanted: one of ``QUANTITY_BY_UNIT``, or another one that has no second unit, such as ``rpm``.

    Raises:
        InvalidInput: It is no number, or its unit is none of this quantity.
    """
    mark = _NUMBER.fullmatch(text)
    if mark is None:
        raise InvalidInput(f"{text!r} is not a number", f"Write a number, such as 38.5{_or_other(unit)}.")
    if _THOUSAND.fullmatch(mark["plain"] or ""):
        raise InvalidInput(
            f"{text!r} can be read two ways", "Write thousands without a comma, and decimals with a point."
        )
    number = _number(text, mark)
    return number if mark["unit"] == "" else _in_unit(number, mark["unit"].casefold(), unit)


def in_other_unit(value: float, unit: str) -> tuple[float, str] | None:
    """Return a size in the other unit of its quantity, None when it has none.

    Args:
        value: The size.
        unit: Either unit of the quantity.
    """
    for each in QUANTITIES:
        if unit == each.unit:
            return each.there(value), each.other
        if unit == each.other:
            return each.back(value), each.unit
    return None


def _number(text: str, mark: re.Match[str]) -> float:
    sign = -1 if mark["sign"] else 1
    if mark["plain"]:
        return sign * float(mark["plain"].replace(",", "."))
    if not int(mark["under"]):
        raise InvalidInput(f"{text!r} divides by nothing", "Write a fraction such as 1/2.")
    return sign * (int(mark["whole"] or 0) + int(mark["over"]) / int(mark["under"]))


def _in_unit(number: float, typed: str, unit: str) -> float:
    quantity = QUANTITY_BY_UNIT.get(unit)
    if typed == unit.casefold() or (quantity and typed in quantity.spellings):
        return number
    if quantity and typed in quantity.other_spellings:
        return quantity.back(number)
    raise InvalidInput(f"{typed!r} is not a unit of this size", f"Use {unit or 'no unit'}{_or_other(unit)}.")


def _or_other(unit: str) -> str:
    quantity = QUANTITY_BY_UNIT.get(unit)
    return f" or {quantity.other}" if quantity else ""
