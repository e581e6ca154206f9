"""Bearings in their seats: how hot a case must be for a bearing to drop in."""

from __future__ import annotations

from dataclasses import dataclass

from stash.bench.bearings import Bearing
from stash.bench.iso286 import limits_um
from stash.bench.sums import Sum, not_negative, positive
from stash.errors import InvalidInput

HOTTEST_C = 120.0
"""Above this a case loses strength, seals and polymer cages suffer, and bearing steel may. Source: common practice."""
ROOM_C = 20.0
"""Reference temperature for sizes. Source: ISO 1."""
DROP_IN_CLEARANCE_UM = 20.0
"""Clearance at which a bearing falls in without a push. Source: from memory."""
USUAL_SEAT = "N7"
"""Class of a bearing seat in light alloy where nobody says otherwise. Source: common practice, no source."""
TOO_HOT = "Above 120 °C: use a press, a freezer for the bearing, or a shop."


@dataclass(frozen=True, slots=True)
class CaseMetal:
    """What a case is made of; expansion per kelvin. Source: handbook values for casting alloys, from memory."""

    key: str
    name: str
    expansion_per_k: float


CASE_METALS = {
    metal.key: metal
    for metal in (
        CaseMetal("aluminium", "aluminium alloy", 23.1e-6),
        CaseMetal("magnesium", "magnesium alloy", 26.0e-6),
        CaseMetal("iron", "cast iron", 11.0e-6),
    )
}


def drop_in_temperature_c(
    seat_mm: float,
    interference_um: float,
    case_metal: str,
    *,
    clearance_um: float = DROP_IN_CLEARANCE_UM,
    room_c: float = ROOM_C,
) -> Sum:
    """Return the case temperature at which a cold bearing drops in.

    Args:
        seat_mm: Diameter of the seat, mm.
        interference_um: Greatest interference of bearing and seat when both are cold, micrometres.
        case_metal: ``aluminium``, ``magnesium`` or ``iron``.
        clearance_um: Clearance wanted when hot, micrometres.
        room_c: Temperature of the bearing, °C.

    Returns:
        °C; refused above 120 °C.

    Raises:
        InvalidInput: A size that makes no sense, or a metal not known here.

    Source: linear expansion, T = T0 + (interference + clearance) / (expansion x diameter).
    """
    positive(seat_mm=seat_mm)
    not_negative(interference_um=interference_um, clearance_um=clearance_um)
    metal = CASE_METALS.get(case_metal)
    if metal is None:
        raise InvalidInput(f"{case_metal!r} is not a case metal", "Use one of: " + ", ".join(CASE_METALS) + ".")
    value = room_c + (interference_um + clearance_um) / 1000 / (metal.expansion_per_k * seat_mm)
    return Sum(
        key="drop_in_temperature_c",
        name=f"drop-in temperature, {metal.name}",
        value=value,
        unit="°C",
        source="linear expansion: room + (interference + clearance) / (expansion x seat diameter)",
        check="seat 40 mm N7, interference 33 µm, clearance 20 µm: aluminium 77, magnesium 71, iron 140 °C (refused)",
        caution="Heat evenly in an oven, never with a flame. Gloves. Fuel and seals out first.",
        refused=TOO_HOT if value > HOTTEST_C else "",
    )


def bearing_drop_in_c(bearing: Bearing, seat_class: str, case_metal: str, *, room_c: float = ROOM_C) -> Sum:
    """Return the case temperature at which a standard bearing drops into a seat made to a tolerance class.

    Args:
        bearing: The bearing; its outside diameter is the seat's nominal size.
        seat_class: The seat's class, such as ``N7``.
        case_metal: ``aluminium``, ``magnesium`` or ``iron``.
        room_c: Temperature of the bearing, °C.

    Returns:
        °C; refused above 120 °C. The tightest seat and the largest bearing are taken.

    Raises:
        InvalidInput: A class, size or metal not known here.

    Source: ISO 286-2 for the seat; ISO 492, normal class, for the ring: its upper deviation is 0.
    """
    if not seat_class[:1].isupper():
        raise InvalidInput(f"{seat_class!r} is not a hole class", "A seat is a hole: give a capital, such as N7.")
    tightest = max(-limits_um(bearing.outside_mm, seat_class).lower_um, 0)
    return drop_in_temperature_c(bearing.outside_mm, tightest, case_metal, room_c=room_c)
