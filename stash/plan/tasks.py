"""What is to be completed: open builds and chosen gaps, with the positions to fill and what the owner has decided."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from stash.errors import NotFound
from stash.fit.catalogue import Catalogue, Position
from stash.fit.claims import Part, part_of_design, part_of_lot
from stash.fit.facts import Fitted, Lot, Machine
from stash.kernel.codes import grouped
from stash.kernel.exact import MICRO
from stash.plan.facts import Build, BuildPart, Stock
from stash.plan.holes import carried, holes


@dataclass(frozen=True)
class Pin:
    """What the owner has decided for a position.

    Args:
        part: The part, None when the decision can't be followed.
        lots: ``(lot, how many)`` set aside for it; what is not set aside comes from equal parts.
        problem: Why the decision can't be followed, "" when it can.
    """

    part: Part | None
    lots: tuple[tuple[Lot, int], ...] = ()
    problem: str = ""


@dataclass(frozen=True)
class Task:
    """One machine to complete.

    Args:
        key: The build's key, or the gap's.
        title: What people call it.
        model: Model key.
        machine: The machine with the positions to fill emptied, None for a build from nothing.
        positions: The positions to fill, in order of name.
        carried: Designs and kinds that stay on the machine.
        value_u: Worth of having it done, in millionths.
        budget_minor: Most money, minor units; None = no limit.
        pins: ``{position: decision}``.
    """

    key: str
    model: str
    machine: Machine | None
    positions: tuple[Position, ...]
    carried: frozenset[str]
    value_u: int = MICRO
    budget_minor: int | None = None
    pins: Mapping[str, Pin] = field(default_factory=dict)
    title: str = ""


def tasks_of(
    catalogue: Catalogue, stock: Stock, builds: Collection[str] | None, gaps: Collection[str]
) -> tuple[list[Task], dict[str, int]]:
    """Return what a plan has to complete, and what is set aside.

    Args:
        catalogue: The facts.
        stock: What is owned and planned.
        builds: Keys of builds to plan; None = every open one.
        gaps: Keys of gaps to plan too; one whose machine a build is on already is left to the build.

    Returns:
        Tasks in order of key, builds first; ``{lot: how many}`` set aside for builds that are not done.

    Raises:
        NotFound: No such build or gap.
    """
    chosen = _chosen(stock, builds)
    pins, aside = _decisions(catalogue, stock)
    tasks = [_task_of_build(catalogue, stock, build, pins[build.key]) for build in chosen]
    busy = {build.machine for build in chosen if build.machine}
    wanted_u = {f"wanted:{row.model}": row.value_u for row in stock.wanted}
    known = {hole.key: hole for hole in holes(catalogue, stock)} if gaps else {}
    for key in sorted(set(gaps)):
        if key not in known:
            raise NotFound(f"There is no gap {key!r}", "List the gaps for their names; one that was filled is gone.")
        hole = known[key]
        machine = hole.machine
        if machine is not None and machine.code in busy:
            continue
        value_u = machine.value_u if machine is not None and key not in wanted_u else wanted_u.get(key)
        if machine is not None:
            busy.add(machine.code)
        tasks.append(_task(catalogue, key, hole.model, machine, hole.positions, value_u))
    return tasks, aside


def _chosen(stock: Stock, builds: Collection[str] | None) -> list[Build]:
    if builds is None:
        return [build for _, build in sorted(stock.builds.items()) if build.status == "open"]
    for key in builds:
        if key not in stock.builds:
            raise NotFound(f"There is no build {key!r}", "List the builds for their keys.")
    return [build for key, build in sorted(stock.builds.items()) if key in builds]


def _task_of_build(catalogue: Catalogue, stock: Stock, build: Build, pins: Mapping[str, Pin]) -> Task:
    machine = stock.machines.get(build.machine) if build.machine else None
    sheet = catalogue.positions[machine.model if machine else build.model]
    positions = tuple(
        position
        for name, position in sheet.items()
        if machine is None or name in pins or machine.fitted.get(name, _PRESENT).state in {"missing", "faulty"}
    )
    model = machine.model if machine else build.model
    task = _task(catalogue, build.key, model, machine, positions, build.value_u)
    return replace(task, title=build.name, budget_minor=build.budget_minor, pins=pins)


_PRESENT = Fitted("present")


def _task(
    catalogue: Catalogue,
    key: str,
    model: str,
    machine: Machine | None,
    positions: tuple[Position, ...],
    value_u: int | None,
) -> Task:
    if machine is not None:
        emptied = {**machine.fitted, **{position.name: Fitted("missing") for position in positions}}
        machine = replace(machine, fitted=emptied)
    title = " ".join((catalogue.model[model].name, *([grouped(machine.code)] if machine is not None else [])))
    worth_u = MICRO if value_u is None else value_u
    return Task(key, model, machine, positions, carried(catalogue, machine), worth_u, title=title)


def _decisions(catalogue: Catalogue, stock: Stock) -> tuple[dict[str, dict[str, Pin]], dict[str, int]]:
    """Resolve what is decided for every build that is not done, earlier keys first."""
    aside: dict[str, int] = {}
    pins: dict[str, dict[str, Pin]] = {}
    for key, build in sorted(stock.builds.items()):
        pins[key] = {}
        if build.status == "done":
            continue
        machine = stock.machines.get(build.machine)
        sheet = catalogue.positions[machine.model if machine else build.model]
        rows: dict[str, list[BuildPart]] = {}
        for row in build.parts:
            if row.design or row.lot:
                rows.setdefault(row.position, []).append(row)
        for position, decided in sorted(rows.items()):
            pins[key][position] = _resolve(catalogue, stock, sheet.get(position), decided, aside)
    return pins, aside


def _resolve(
    catalogue: Catalogue, stock: Stock, position: Position | None, rows: Sequence[BuildPart], aside: dict[str, int]
) -> Pin:
    """Follow the decision for one position, setting aside what it takes."""
    if position is None:
        return Pin(None, problem="the model has no such position")
    parts = [_part(catalogue, stock, row) for row in rows]
    if any(part is None for part in parts):
        return Pin(None, problem="the part decided on is not there any more")
    whole = [part for part in parts if part is not None]
    if any(part.kind != position.kind for part in whole):
        return Pin(None, problem=f"the part decided on is not a {position.kind}")
    if len({(part.design, _own(part)) for part in whole}) > 1:
        return Pin(None, problem="two different parts are decided for one position")
    lots: list[tuple[Lot, int]] = []
    needed = position.quantity
    for lot in _lots(stock, rows):
        taken = min(needed, lot.quantity - aside.get(lot.code, 0))
        if taken <= 0 and needed:
            reason = "is empty" if lot.quantity <= 0 else "is promised to another build"
            return Pin(None, problem=f"the lot decided on, {lot.code}, {reason}")
        if taken:
            needed -= taken
            lots.append((lot, taken))
    for lot, taken in lots:
        aside[lot.code] = aside.get(lot.code, 0) + taken
    return Pin(whole[0], tuple(lots))


def _part(catalogue: Catalogue, stock: Stock, row: BuildPart) -> Part | None:
    lot = stock.lots.get(row.lot)
    if row.lot:
        if lot is None or (row.design and lot.design and row.design != lot.design):
            return None
        return part_of_lot(catalogue, replace(lot, design=row.design or lot.design))
    design = catalogue.design.get(row.design)
    return part_of_design(design) if design else None


def _own(part: Part) -> tuple[object, ...]:
    return tuple(sorted((key, part.values[key]) for key in part.own))


def _lots(stock: Stock, rows: Iterable[BuildPart]) -> list[Lot]:
    return [stock.lots[row.lot] for row in rows if row.lot]
