"""The bench sums of a machine as built beside stock, wherever its parts give the inputs.

The parts are found by the keys of the starter vocabulary (``KEYS``); a machine whose kinds have other keys simply has
no sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from stash.bench.comparing import EngineSizes, compare_sums
from stash.fit.catalogue import Catalogue
from stash.fit.checks import fitted_part, is_changed
from stash.fit.facts import Machine
from stash.fit.intervals import Interval
from stash.fit.mates import stock_designs
from stash.fit.speed import REV_LIMIT
from stash.kernel.exact import from_micro

KEYS = {
    "bore_mm": ("cylinder", "bore_mm"),
    "stroke_mm": ("crank_assembly", "stroke_mm"),
    "reciprocating_g": ("piston", "mass_g"),
}
"""``{size: (kind, measure)}`` in the starter vocabulary."""


def engine_sums(catalogue: Catalogue, machine: Machine) -> dict[str, dict[str, Any]]:
    """Return the sums that differ from stock.

    Args:
        catalogue: The facts.
        machine: The machine as built or planned.

    Returns:
        ``{sum: {"name", "unit", "now", "stock", "note", "danger"}}``; stock is None where a size is not known.
    """
    now, stock = engine_sizes(catalogue, machine), engine_sizes(catalogue, _as_stock(machine))
    return {
        row.key: {
            "name": row.name,
            "unit": row.unit,
            "now": row.now,
            "stock": row.stock,
            "note": row.note,
            "danger": row.danger,
        }
        for row in compare_sums(now, stock)
        if row.now is not None and (row.changed or row.danger)
    }


def engine_sizes(catalogue: Catalogue, machine: Machine) -> EngineSizes:
    """Return what is known of a machine's engine; stock sizes not on the parts are the model's own."""
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
    )


def _as_stock(machine: Machine) -> Machine:
    return Machine(machine.code, machine.model, machine.year, machine.state)


def _size(catalogue: Catalogue, machine: Machine, kind: str, measure: str, own: float | None) -> float | None:
    """The size all positions of a kind agree on, None when they don't or it is not known.

    Args:
        catalogue: The facts.
        machine: The machine.
        kind: The kind that has the size.
        measure: Its measure.
        own: What the model says of itself; it holds for parts that are stock, whose tolerance would blur it.
    """
    values: set[float | None] = set()
    for name in catalogue.positions_of_kind[machine.model].get(kind, ()):
        known = _value(catalogue, machine, name, measure)
        stock = known is not None and not is_changed(catalogue, machine, name)
        values.add(own if own and (stock or name not in machine.fitted) else _middle(known))
    return values.pop() if len(values) == 1 else None


def _limits(catalogue: Catalogue, machine: Machine) -> Iterator[float]:
    """The highest speed each module or limiter may allow."""
    for name, position in catalogue.positions[machine.model].items():
        if (position.kind, REV_LIMIT) in catalogue.measure:
            limit = _value(catalogue, machine, name, REV_LIMIT)
            if limit is not None:
                yield float(from_micro(limit.high_u))


def _value(catalogue: Catalogue, machine: Machine, position: str, measure: str) -> Interval | None:
    if position in machine.fitted:
        if machine.fitted[position].state != "present":
            return None
        value = fitted_part(catalogue, machine, position).values.get(measure)
        return value if isinstance(value, Interval) else None
    designs = stock_designs(catalogue, machine.model, position, machine.year)
    values = {catalogue.design[key].values.get(measure) for key in designs}
    only = values.pop() if len(values) == 1 else None
    return only if isinstance(only, Interval) else None


def _middle(value: Interval | None) -> float | None:
    return None if value is None else float(from_micro(value.low_u + value.high_u) / 2)


def _plain(micro: int | None) -> float | None:
    return None if micro is None else float(from_micro(micro))
