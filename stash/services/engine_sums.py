"""The bench sums of a machine as built beside stock, wherever its parts give the inputs.

The parts are found by the keys of the starter vocabulary (``KEYS``); a machine whose kinds have other keys simply has
no sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from stash.bench.bearings import bearings_by_size
from stash.bench.comparing import Compared, EngineSizes, compare_sums
from stash.bench.law import Line
from stash.fit.catalogue import Catalogue
from stash.fit.checks import fitted_part, is_changed
from stash.fit.facts import Machine
from stash.fit.intervals import Interval, Known
from stash.fit.mates import stock_designs
from stash.fit.speed import REV_LIMIT
from stash.kernel.exact import from_micro

KEYS = {
    "bore_mm": ("cylinder", "bore_mm"),
    "stroke_mm": ("crank_assembly", "stroke_mm"),
    "reciprocating_g": ("piston", "mass_g"),
    "rod_centres_mm": ("connecting_rod", "centres_mm"),
    "chamber_cm3": ("head", "chamber_cm3"),
    "exhaust_top_mm": ("cylinder", "exhaust_top_mm"),
}
"""``{size: (kind, measure)}`` in the starter vocabulary."""
BEARING = "main_bearing"
BEARING_SIZES = ("id_mm", "od_mm", "width_mm")
"""The kind that a case is heated for, and its measures: bore, outside diameter, width."""
CASE = ("crankcase_half", "metal")
"""The kind and the measure that say what the case is made of."""


def engine_sums(catalogue: Catalogue, machine: Machine, lines: tuple[Line, ...]) -> dict[str, dict[str, Any]]:
    """Return the sums that differ from stock.

    Args:
        catalogue: The facts.
        machine: The machine as built or planned.
        lines: The lines by law that a displacement may cross.

    Returns:
        ``{sum: {"name", "unit", "now", "stock", "note", "danger"}}``; stock is None where a size is not known.
    """
    return {
        row.key: {
            "name": row.name,
            "unit": row.unit,
            "now": row.now,
            "stock": row.stock,
            "note": row.note,
            "danger": row.danger,
        }
        for row in every_sum(catalogue, machine, lines)
        if row.told
    }


def every_sum(catalogue: Catalogue, machine: Machine, lines: tuple[Line, ...]) -> tuple[Compared, ...]:
    """Return every sum that a machine's parts, or stock ones, give the sizes for, beside stock."""
    return compare_sums(engine_sizes(catalogue, machine), engine_sizes(catalogue, as_stock(machine)), lines)


def engine_sizes(catalogue: Catalogue, machine: Machine) -> EngineSizes:
    """Return what is known of a machine's engine; stock sizes not on the parts are the model's own.

    The moving mass is the piston's own: ring, pin and the rod's share are not on record.
    """
    model = catalogue.model[machine.model]
    own = {"bore_mm": _plain(model.bore_u), "stroke_mm": _plain(model.stroke_u)}
    found = {size: _size(catalogue, machine, kind, key, own.get(size)) for size, (kind, key) in KEYS.items()}
    return EngineSizes(
        bore_mm=found["bore_mm"] or None,
        stroke_mm=found["stroke_mm"] or None,
        cylinders=model.cylinders or 1,
        limit_rpm=min(_limits(catalogue, machine), default=None),
        rated_rpm=_plain(model.rated_rpm_u) or None,
        reciprocating_g=found["reciprocating_g"] or None,
        rod_centres_mm=found["rod_centres_mm"] or None,
        chamber_cm3=found["chamber_cm3"] or None,
        exhaust_top_mm=found["exhaust_top_mm"] or None,
        bearing=_bearing(catalogue, machine),
        case_metal=_word(catalogue, machine, *CASE),
    )


def as_stock(machine: Machine) -> Machine:
    """Return a machine as it left the factory."""
    return Machine(machine.code, machine.model, machine.year, machine.state)


def _bearing(catalogue: Catalogue, machine: Machine) -> str:
    """The basic designation all main bearings agree on, "" when they don't or it is not known."""
    sizes = [_size(catalogue, machine, BEARING, key, None) for key in BEARING_SIZES]
    known = [size for size in sizes if size]
    found = bearings_by_size(*known) if len(known) == len(BEARING_SIZES) else ()
    return found[0].basic if found else ""


def _word(catalogue: Catalogue, machine: Machine, kind: str, measure: str) -> str:
    """The word all positions of a kind agree on, "" when they don't or it is not known."""
    positions = catalogue.positions_of_kind[machine.model].get(kind, ())
    words = {_value(catalogue, machine, name, measure) for name in positions}
    only = words.pop() if len(words) == 1 else None
    return only if isinstance(only, str) else ""


def _size(catalogue: Catalogue, machine: Machine, kind: str, measure: str, own: float | None) -> float | None:
    """The size all positions of a kind agree on, None when they don't or it is not known.

    Args:
        catalogue: The facts.
        machine: The machine.
        kind: The kind that has the size.
        measure: Its measure.
        own: What the model says of itself; it holds for parts that are stock, whose tolerance would blur it, and where
            the model's sheet has no position for the part.
    """
    positions = catalogue.positions_of_kind[machine.model].get(kind, ())
    values: set[float | None] = set() if positions else {own}
    for name in positions:
        known = _value(catalogue, machine, name, measure)
        stock = known is not None and not is_changed(catalogue, machine, name)
        values.add(own if own and (stock or name not in machine.fitted) else _middle(known))
    return values.pop() if len(values) == 1 else None


def _limits(catalogue: Catalogue, machine: Machine) -> Iterator[float]:
    """The highest speed each module or limiter may allow."""
    for name, position in catalogue.positions[machine.model].items():
        if (position.kind, REV_LIMIT) in catalogue.measure:
            limit = _value(catalogue, machine, name, REV_LIMIT)
            if isinstance(limit, Interval):
                yield float(from_micro(limit.high_u))


def _value(catalogue: Catalogue, machine: Machine, position: str, measure: str) -> Known | None:
    if position in machine.fitted:
        if machine.fitted[position].state != "present":
            return None
        return fitted_part(catalogue, machine, position).values.get(measure)
    designs = stock_designs(catalogue, machine.model, position, machine.year)
    values = {catalogue.design[key].values.get(measure) for key in designs}
    return values.pop() if len(values) == 1 else None


def _middle(value: Known | None) -> float | None:
    return float(from_micro(value.low_u + value.high_u) / 2) if isinstance(value, Interval) else None


def _plain(micro: int | None) -> float | None:
    return None if micro is None else float(from_micro(micro))
