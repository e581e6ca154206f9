"""Limits of size for the fits a small crankcase uses: bearing seats and journals, pins and bushes, 3 to 80 mm.

Source: ISO 286-2:2010, tables of limit deviations; micrometres.
"""

from __future__ import annotations

from typing import NamedTuple

from stash.bench.sums import positive
from stash.errors import InvalidInput

SMALLEST_MM, LARGEST_MM = 3.0, 80.0
_BANDS_UP_TO_MM = (6.0, 10.0, 18.0, 30.0, 50.0, 80.0)
_LIMITS_UM: dict[str, tuple[tuple[int, int], ...]] = {
    "H6": ((0, 8), (0, 9), (0, 11), (0, 13), (0, 16), (0, 19)),
    "H7": ((0, 12), (0, 15), (0, 18), (0, 21), (0, 25), (0, 30)),
    "J7": ((-6, 6), (-7, 8), (-8, 10), (-9, 12), (-11, 14), (-12, 18)),
    "K7": ((-9, 3), (-10, 5), (-12, 6), (-15, 6), (-18, 7), (-21, 9)),
    "M7": ((-12, 0), (-15, 0), (-18, 0), (-21, 0), (-25, 0), (-30, 0)),
    "N7": ((-16, -4), (-19, -4), (-23, -5), (-28, -7), (-33, -8), (-39, -9)),
    "P7": ((-20, -8), (-24, -9), (-29, -11), (-35, -14), (-42, -17), (-51, -21)),
    "g6": ((-12, -4), (-14, -5), (-17, -6), (-20, -7), (-25, -9), (-29, -10)),
    "h5": ((-5, 0), (-6, 0), (-8, 0), (-9, 0), (-11, 0), (-13, 0)),
    "h6": ((-8, 0), (-9, 0), (-11, 0), (-13, 0), (-16, 0), (-19, 0)),
    "j5": ((-2, 3), (-2, 4), (-3, 5), (-4, 5), (-5, 6), (-7, 6)),
    "k5": ((1, 6), (1, 7), (1, 9), (2, 11), (2, 13), (2, 15)),
    "k6": ((1, 9), (1, 10), (1, 12), (2, 15), (2, 18), (2, 21)),
    "m5": ((4, 9), (6, 12), (7, 15), (8, 17), (9, 20), (11, 24)),
    "m6": ((4, 12), (6, 15), (7, 18), (8, 21), (9, 25), (11, 30)),
}
"""``{class: (lower, upper) for each band}``; capitals are holes, small letters shafts."""

CLASSES = tuple(_LIMITS_UM)
"""The tolerance classes that are known here."""


class Limits(NamedTuple):
    """Limit deviations from the nominal size, micrometres."""

    lower_um: int
    upper_um: int


def limits_um(nominal_mm: float, tolerance_class: str) -> Limits:
    """Return the limit deviations of a tolerance class.

    Args:
        nominal_mm: Nominal size, mm, above 3 and up to 80.
        tolerance_class: Such as ``H7`` for a hole or ``k5`` for a shaft.

    Raises:
        InvalidInput: A size or a class outside the tables here.

    Source: ISO 286-2:2010; a size lies in the band above one limit up to and including the next.
    """
    positive(nominal_mm=nominal_mm)
    if tolerance_class not in _LIMITS_UM:
        raise InvalidInput(
            f"{tolerance_class!r} is not a class in this table", "Use one of: " + ", ".join(CLASSES) + "."
        )
    if not SMALLEST_MM < nominal_mm <= LARGEST_MM:
        raise InvalidInput(f"{nominal_mm} mm is outside this table", "It covers sizes above 3 mm and up to 80 mm.")
    band = next(at for at, up_to in enumerate(_BANDS_UP_TO_MM) if nominal_mm <= up_to)
    return Limits(*_LIMITS_UM[tolerance_class][band])


def clearance_um(nominal_mm: float, hole_class: str, shaft_class: str) -> Limits:
    """Return the least and greatest clearance of a fit, micrometres; below zero is interference.

    Args:
        nominal_mm: Nominal size, mm.
        hole_class: Such as ``H7``.
        shaft_class: Such as ``g6``.

    Raises:
        InvalidInput: A size or a class outside the tables here, or hole and shaft changed over.

    Source: ISO 286-1:2010, clearance and interference.
    """
    if not hole_class[:1].isupper() or not shaft_class[:1].islower():
        raise InvalidInput(
            f"{hole_class}/{shaft_class} is not a fit", "Give the hole first, with a capital: H7 and g6."
        )
    hole, shaft = limits_um(nominal_mm, hole_class), limits_um(nominal_mm, shaft_class)
    return Limits(hole.lower_um - shaft.upper_um, hole.upper_um - shaft.lower_um)
