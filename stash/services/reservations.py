"""Parts promised to builds: nobody takes one away without having been told."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Build, BuildPart, Lot, Machine
from stash.errors import Conflict
from stash.fit.catalogue import Catalogue
from stash.kernel.codes import grouped
from stash.ledger.balance import Entry
from stash.plan import facts


def promised(session: Session, lot: str) -> list[tuple[Build, BuildPart]]:
    """Return the builds a lot is promised to, those on hold too; a build that is done needs nothing more."""
    query = (
        select(Build, BuildPart)
        .join(BuildPart, BuildPart.build == Build.key)
        .where(BuildPart.lot == lot, Build.status != "done")
        .order_by(Build.name, Build.key, BuildPart.position)
    )
    return [(build, part) for build, part in session.execute(query).all()]


def promises(stock: facts.Stock, lot: str) -> tuple[tuple[facts.Build, facts.BuildPart], ...]:
    """Return the builds a lot is promised to, for showing."""
    builds = sorted((build for build in stock.builds.values() if build.status != "done"), key=lambda each: each.name)
    return tuple((build, part) for build in builds for part in build.parts if part.lot == lot)


def refuse_promised(
    session: Session, catalogue: Catalogue, lot: Lot, quantity: int, machine: str = "", *, anyway: bool = False
) -> None:
    """Refuse to take parts that are promised to another build.

    Args:
        session: The transaction.
        catalogue: The catalogue, which says how many a position takes.
        lot: The lot.
        quantity: How many would be taken.
        machine: The machine they go to; builds on it may have them.
        anyway: The person was told and takes them all the same.

    Raises:
        Conflict: Too few would be left for the builds; names them.
    """
    names = "" if anyway else _short(session, catalogue, lot, lot.quantity - quantity, machine)
    if names:
        raise Conflict(
            f"Lot {grouped(lot.code)} is promised to {names}",
            "Take another, release it from the build, or say that you take it all the same.",
        )


def refuse_taken_back(session: Session, catalogue: Catalogue, entries: Iterable[Entry]) -> None:
    """Refuse an undoing that took parts from builds they were promised to since.

    Args:
        session: The transaction, in which they are taken back already.
        catalogue: The catalogue, which says how many a position takes.
        entries: The undoing's movements.

    Raises:
        Conflict: Too few are left for the builds; names them.
    """
    left = {entry.lot: entry.target for entry in entries if entry.source.type == "place" != entry.target.type}
    for code, target in left.items():
        lot = session.get_one(Lot, code, populate_existing=True)
        names = _short(session, catalogue, lot, lot.quantity, target.name if target.type == "machine" else "")
        if names:
            raise Conflict(
                f"It can't be undone: lot {grouped(code)} was promised to {names}", "Release it from the build first."
            )


def hand_over(session: Session, lot: Lot, keeper: Lot) -> str:
    """Let what a lot was promised for be filled by the lot its parts went into; returns a sentence, or ""."""
    found = promised(session, lot.code)
    for _, part in found:
        same = select(BuildPart).where(
            BuildPart.build == part.build, BuildPart.position == part.position, BuildPart.lot == keeper.code
        )
        if session.scalars(same).first() is None:
            session.add(
                BuildPart(build=part.build, position=part.position, design=part.design, lot=keeper.code, note=part.note)
            )
        session.delete(part)
    session.flush()
    names = ", ".join(dict.fromkeys(build.name for build, _ in found))
    return f" What {grouped(lot.code)} was promised for, {names}, now has {grouped(keeper.code)}." if names else ""


def _short(session: Session, catalogue: Catalogue, lot: Lot, left: int, machine: str) -> str:
    """Name the builds, other than on a machine, that need more of a lot than what is left; "" where none does."""
    others = [(build, part) for build, part in promised(session, lot.code) if not machine or build.machine != machine]
    needed = sum(_takes(session, catalogue, build, part.position) for build, part in others)
    return ", ".join(dict.fromkeys(build.name for build, _ in others)) if left < needed else ""


def _takes(session: Session, catalogue: Catalogue, build: Build, position: str) -> int:
    machine = session.get(Machine, build.machine) if build.machine else None
    spot = catalogue.positions[machine.model if machine else str(build.model)].get(position)
    return spot.quantity if spot else 1
