"""Reserving what a plan takes from the shelf, all of it in one step that can be undone."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db import models
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict
from stash.fit.catalogue import Catalogue
from stash.kernel.codes import grouped
from stash.plan.answer import Plan, PlannedBuild
from stash.plan.facts import Stock
from stash.services.handling import Done, done
from stash.services.plan_lists import build_title
from stash.services.titles import counted

_MEANT = ("kind", "design", "quantity", "condition", "checked")
"""What of a lot a plan leans on; where it lies does not matter."""


def reserve(store: Store, catalogue: Catalogue, stock: Stock, plan: Plan, *, who: str) -> Done:
    """Promise every loose part of a plan to its build; gaps that the plan completes become builds.

    Args:
        store: The database.
        catalogue: The facts the plan was made from.
        stock: What was owned when it was made.
        plan: The plan.
        who: Who does it.

    Returns:
        What was done; its batch can be undone as one.

    Raises:
        Conflict: Something the plan leans on has changed since; says what, and nothing is written.
    """
    chosen = [build for build in plan.builds if any(part.lot for part in build.parts)]

    def act(work: Work) -> Done:
        changed = [*_changed(work.session, stock, chosen), *_measured_anew(store.stock(), stock, chosen)]
        if store.catalogue() is not catalogue:
            changed.append("the catalogue")
        if changed:
            raise Conflict(
                "Changed since the plan was made: " + ", ".join(changed), "Plan again; nothing was reserved."
            )
        count = sum(_promise(work.session, catalogue, stock, build) for build in chosen)
        return done(
            work,
            f"Reserved {counted(count, 'lot')} for {counted(len(chosen), 'build')}."
            if count
            else "All of it was reserved.",
        )

    return store.write(who, "reserved from a plan", act)


def _changed(session: Session, stock: Stock, builds: list[PlannedBuild]) -> Iterator[str]:
    """Name what is no longer as the plan took it."""
    for code in sorted({part.lot for build in builds for part in build.parts if part.lot}):
        row, then = session.get(models.Lot, code), stock.lots[code]
        if row is None or any((getattr(row, name) or "") != (getattr(then, name) or "") for name in _MEANT):
            yield f"lot {grouped(code)}"
    now: dict[str, set[tuple[str, str, str]]] = {}
    for part in session.scalars(select(models.BuildPart)):
        now.setdefault(part.build, set()).add((part.position, part.design or "", part.lot or ""))
    status = {row.key: row.status for row in session.scalars(select(models.Build))}
    for key in sorted(status.keys() | stock.builds.keys()):
        known = stock.builds.get(key)
        before = {(part.position, part.design, part.lot) for part in known.parts} if known else None
        if known is None or status.get(key) != known.status or now.get(key, set()) != before:
            yield f"build {known.name if known else key}"


def _measured_anew(now: Stock, stock: Stock, builds: list[PlannedBuild]) -> Iterator[str]:
    """Name the lots with other sizes of their own, and the machines that carry something else: the mates may differ."""
    for code in sorted({part.lot for build in builds for part in build.parts if part.lot}):
        if code in now.lots and now.lots[code].values != stock.lots[code].values:
            yield f"what was measured on lot {grouped(code)}"
    for code in sorted({build.machine for build in builds if build.machine}):
        then, there = stock.machines[code], now.machines.get(code)
        if there is None or (there.model, there.year) != (then.model, then.year):
            yield f"machine {grouped(code)}"
            continue
        for position in sorted(there.fitted.keys() | then.fitted.keys()):
            if there.fitted.get(position) != then.fitted.get(position):
                yield f"the {position} of {grouped(code)}"


def _promise(session: Session, catalogue: Catalogue, stock: Stock, build: PlannedBuild) -> int:
    """Write one build's reservations, the build too when it is a gap so far; returns how many are new."""
    key = build.build
    known = {(part.position, part.lot) for part in stock.builds[key].parts} if key in stock.builds else set()
    if key not in stock.builds:
        key = _new_build(session, catalogue, stock, build)
    fresh = sorted({(part.position, part.lot) for part in build.parts if part.lot} - known)
    for position, lot in fresh:
        session.add(models.BuildPart(build=key, position=position, lot=lot, note="reserved from a plan"))
    return len(fresh)


def _new_build(session: Session, catalogue: Catalogue, stock: Stock, build: PlannedBuild) -> str:
    base = f"{build.model}-{build.machine.lower()}" if build.machine else build.model
    key, number = base, 2
    while session.get(models.Build, key) is not None:
        key, number = f"{base}-{number}", number + 1
    title = build_title(catalogue, stock, build)
    session.add(models.Build(key=key, name=title, model=build.model, machine=build.machine, status="open"))
    session.flush()
    return key
