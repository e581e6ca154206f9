"""Small workshops for the plan's tests: one model for each build, so that every option is said outright."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from stash.fit.catalogue import Catalogue
from stash.fit.facts import CameOn, Design, Family, Generation, Kind, Lot, Machine, Maker, Model, PositionRow, Rule
from stash.kernel.exact import MICRO
from stash.plan.facts import Build, Stock


def catalogue(
    sheets: Mapping[str, Mapping[str, str]],
    designs: Mapping[str, str],
    *,
    quantities: Mapping[tuple[str, str], int] | None = None,
    prices: Mapping[str, int] | None = None,
    values: Mapping[str, Mapping[str, object]] | None = None,
    came_on: Sequence[tuple[str, str, str]] = (),
    rules: Sequence[Rule] = (),
    safety: Sequence[str] = (),
    **rest: object,
) -> Catalogue:
    """Return a catalogue of one generation.

    Args:
        sheets: ``{model: {position: kind}}``.
        designs: ``{design: kind}``.
        quantities: ``{(model, position): how many}``, 1 where not said.
        prices: ``{design: minor units}``.
        values: ``{design: {measure: value}}``.
        came_on: ``(design, model, position)``.
        rules: Rules.
        safety: Kinds that are safety-critical.
        rest: Further tuples of facts.
    """
    kinds = sorted({kind for sheet in sheets.values() for kind in sheet.values()} | set(designs.values()))
    return Catalogue(
        makers=(Maker("fennaby", "Fennaby"),),
        families=(Family("small", "Small case"),),
        generations=(Generation("small-1", "small", 1, "First"),),
        models=tuple(Model(key, key, "fennaby", "small-1") for key in sheets),
        kinds=tuple(Kind(kind, kind, safety_critical=kind in safety) for kind in kinds),
        designs=tuple(
            Design(key, kind, key, price_minor=(prices or {}).get(key), values=(values or {}).get(key, {}))
            for key, kind in designs.items()
        ),
        position_rows=tuple(
            PositionRow("", model, position, kind, (quantities or {}).get((model, position), 1))
            for model, sheet in sheets.items()
            for position, kind in sheet.items()
        ),
        came_on=tuple(CameOn(design, position, model=model) for design, model, position in came_on),
        rules=tuple(rules),
        **rest,
    )


def stock(
    lots: Sequence[Lot] = (),
    builds: Sequence[Build] = (),
    machines: Sequence[Machine] = (),
    **rest: object,
) -> Stock:
    """Return a stock of lots, builds and machines."""
    return Stock(
        machines={row.code: row for row in machines},
        lots={row.code: row for row in lots},
        builds={row.key: row for row in builds},
        **rest,
    )


def build(key: str, model: str, value: int = 1, **rest: object) -> Build:
    """Return an open build worth ``value``."""
    return Build(key, key, model, value_u=value * MICRO, **rest)
