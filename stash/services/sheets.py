"""The as-built sheet of a machine and the stock sheet of a model, position by position."""

from __future__ import annotations

from dataclasses import dataclass

from stash.db.store import Store
from stash.errors import NotFound
from stash.fit.catalogue import Catalogue, Position
from stash.fit.checks import is_changed
from stash.fit.facts import CameOn, Fitted, Kind, Lot, Machine, Model
from stash.fit.mates import stock_designs
from stash.fit.wording import design_name
from stash.kernel.codes import require_code
from stash.kernel.years import Years
from stash.plan.facts import Stock
from stash.services.titles import value_text

STATES = ("stock", "assumed", "swapped", "missing", "faulty", "unknown")
"""What an as-built line says: seen as stock, assumed stock, not stock, missing, faulty, or not known."""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One position of a machine as built.

    Args:
        position: The position.
        kind: Its kind.
        state: One of ``STATES``.
        design: Design key fitted, "" when not known which.
        name: What people call it; for assumed stock all the designs it may be.
        condition: Its condition, "" if not noted.
        values: What was measured on it, in words.
        stock: Names of what it left the factory with.
        originals: Loose lots that came off this position.
    """

    position: Position
    kind: Kind
    state: str
    design: str
    name: str
    condition: str
    values: tuple[str, ...]
    stock: tuple[str, ...]
    originals: tuple[Lot, ...]


@dataclass(frozen=True, slots=True)
class System:
    """The lines of one system of a machine, such as the intake."""

    name: str
    lines: tuple[SheetLine, ...]


def machine_facts(store: Store, code: str) -> Machine:
    """Return a machine's facts.

    Raises:
        NotFound: No machine has the code.
    """
    machine = store.stock().machines.get(str(require_code(code)))
    if machine is None:
        raise NotFound(f"No machine has the code {code}", "Scan it again, or look for it.")
    return machine


def as_built(catalogue: Catalogue, stock: Stock, machine: Machine) -> tuple[System, ...]:
    """Return a machine's as-built sheet by system; systems in order of name, lines in order of position."""
    systems: dict[str, list[SheetLine]] = {}
    for position in catalogue.positions[machine.model].values():
        line = _line(catalogue, stock, machine, position)
        systems.setdefault(line.kind.system or "other", []).append(line)
    return tuple(System(name, tuple(systems[name])) for name in sorted(systems))


def _line(catalogue: Catalogue, stock: Stock, machine: Machine, position: Position) -> SheetLine:
    fitted = machine.fitted.get(position.name)
    left_with = stock_designs(catalogue, machine.model, position.name, machine.year)
    names = tuple(design_name(catalogue, key) for key in left_with)
    design = fitted.design if fitted is not None else (left_with[0] if len(left_with) == 1 else "")
    values = fitted.values.items() if fitted is not None else ()
    return SheetLine(
        position=position,
        kind=catalogue.kind[position.kind],
        state=_state(catalogue, machine, position.name, fitted),
        design=design,
        name=design_name(catalogue, design) if design else " or ".join(names) if fitted is None else "",
        condition=fitted.condition if fitted is not None else "",
        values=tuple(value_text(catalogue, position.kind, key, value) for key, value in sorted(values)),
        stock=names,
        originals=stock.lots_off.get((machine.code, position.name), ()),
    )


def _state(catalogue: Catalogue, machine: Machine, position: str, fitted: Fitted | None) -> str:
    if fitted is None:
        return "assumed"
    if fitted.state != "present":
        return fitted.state
    if is_changed(catalogue, machine, position):
        return "swapped"
    return "stock" if fitted.design else "unknown"


@dataclass(frozen=True, slots=True)
class StockLine:
    """One position of a model and what it left the factory with, by years."""

    position: Position
    kind: Kind
    came_on: tuple[tuple[Years, str, str], ...]
    """(years, design key, name)."""


def stock_sheet(catalogue: Catalogue, model: Model) -> tuple[StockLine, ...]:
    """Return a model's stock sheet in order of position."""
    rows = catalogue.stock_rows[model.key]
    return tuple(
        StockLine(
            position,
            catalogue.kind[position.kind],
            tuple((_years(row, model), row.design, design_name(catalogue, row.design)) for row in rows.get(name, ())),
        )
        for name, position in catalogue.positions[model.key].items()
    )


def _years(row: CameOn, model: Model) -> Years:
    return row.years.common(model.years) or row.years
