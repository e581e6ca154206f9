"""Matched sets: parts that ran together on one machine and should stay together, and a word when they are split.

Which kinds make a set is data: ``kinds.matched_set`` names it, and kinds with the same word on one machine are a set (a
kind may belong to several; two positions of one kind are a set too, as the halves of a case). Which parts ran together
is read from the ledger, see ``stash.ledger.together``; for lots that were loaded with the machine they came off, from
that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Fitted, Lot, Machine, Movement
from stash.db.store import Store
from stash.fit.catalogue import Catalogue
from stash.fit.checks import CheckFinding
from stash.kernel.codes import grouped
from stash.kernel.ends import End, machine_end, parse_end, place_end
from stash.ledger.balance import Entry
from stash.ledger.together import Part, Together, elsewhere, together
from stash.plan.facts import Build
from stash.services.handling import place_name
from stash.services.titles import kind_name, model_title, sentence_list

KEEP = "Keep them together."
_TOLD = 4


@dataclass(frozen=True, slots=True)
class Matched:
    """Who ran with whom, and what things are called.

    Args:
        found: The parts, followed through the ledger.
        loose: ``{lot: its place}`` of the lots of such kinds that hold anything.
        kinds: ``{lot: kind}`` of these and of empty ones.
        models: ``{machine: model}``.
        catalogue: The catalogue.
    """

    found: Together
    loose: dict[str, str]
    kinds: dict[str, str]
    models: dict[str, str]
    catalogue: Catalogue

    def kind_at(self, spot: End) -> str:
        """Return the kind a machine's position takes."""
        return self.catalogue.positions[self.models[spot.name]][spot.position].kind


def matched(store: Store) -> Matched:
    """Return who ran with whom, worked out once for as long as nothing is written."""
    catalogue, stock = store.catalogue(), store.stock()

    def make() -> Matched:
        with store.reading() as session:
            return matched_in(session, catalogue)

    kept = store.derived("matched sets", stock, make)
    return kept if kept.catalogue is catalogue else make()


def matched_in(session: Session, catalogue: Catalogue) -> Matched:
    """Return who ran with whom, inside an open transaction."""
    sets_of = {kind.key: kind.matched_sets for kind in catalogue.kinds if kind.matched_sets}
    models = {row.code: row.model for row in session.execute(select(Machine.code, Machine.model))}
    sets = {
        machine_end(code, position.name): sets_of[position.kind]
        for code, model in models.items()
        for position in catalogue.positions[model].values()
        if position.kind in sets_of
    }
    lots = list(session.scalars(select(Lot).where(Lot.kind.in_(sets_of)))) if sets_of else []
    entries = list(_entries(session, list(sets_of))) if sets_of else []
    entries = [*_before_the_ledger(catalogue, models, lots, entries), *entries]
    touched = {end for entry in entries for end in (entry.source, entry.target)}
    missing = session.execute(select(Fitted.machine, Fitted.position).where(Fitted.state == "missing"))
    empty = [end for end in (machine_end(*row) for row in missing) if end in sets and end not in touched]
    loose = {lot.code: lot.place or "" for lot in lots if lot.quantity}
    return Matched(together(entries, sets, empty), loose, {lot.code: lot.kind for lot in lots}, models, catalogue)


def split_by(known: Matched, session: Session, lot: str, here: End | None) -> str:
    """Say what ran with a lot's part and is not where it goes; "" when they are together or it belongs to no set.

    Args:
        known: Who ran with whom.
        session: Where the names of places are read.
        lot: Its code.
        here: Where it is or goes to; None when it leaves the stash.
    """
    return _told(known, session, known.found.lots.get(lot), here)


def split_at(known: Matched, session: Session, spot: End, here: End | None) -> str:
    """Say what ran with the part at a machine's position and is not where it goes; see ``split_by``."""
    return _told(known, session, known.found.part_at(spot) if spot in known.found.sets else None, here)


def warn_lot(store: Store, lot: str, here: End | None = None) -> str:
    """Say before an act what a lot should stay with, "" where nothing is left of it; see ``split_by``."""
    known = matched(store)
    with store.reading() as session:
        return split_by(known, session, lot, here) if lot in known.loose else ""


def warn_spot(store: Store, machine: str, position: str) -> str:
    """Say before a part comes off what it should stay with."""
    known = matched(store)
    with store.reading() as session:
        return split_at(known, session, machine_end(machine, position), None)


def after(session: Session, catalogue: Catalogue, moved: Iterable[tuple[str, End | None]]) -> str:
    """Say, after an act, which matched sets it left split: sentences with a blank in front, or "".

    Args:
        session: The open transaction, flushed.
        catalogue: The catalogue.
        moved: (lot, where its part is now) of each part that was handled.
    """
    known = matched_in(session, catalogue)
    said = dict.fromkeys(
        f"{grouped(lot)}: {text}" for lot, here in moved if (text := split_by(known, session, lot, here))
    )
    more = f" {len(said) - _TOLD} more sets are split." if len(said) > _TOLD else ""
    return "".join(f" {text}" for text in list(said)[:_TOLD]) + more


def findings(store: Store, machine: str) -> tuple[CheckFinding, ...]:
    """Find what ran with the parts of a machine and is not on it, in order of where it lies."""
    known = matched(store)
    spots = [spot for spot in known.found.sets if spot.name == machine]
    parts = [(spot.position, known.found.part_at(spot)) for spot in spots]
    return _findings(store, known, parts, machine_end(machine, ""), frozenset())


def build_findings(store: Store, build: Build) -> tuple[CheckFinding, ...]:
    """Find what ran with the loose parts decided for a build and is not meant for it."""
    known = matched(store)
    lots = frozenset(part.lot for part in build.parts if part.lot)
    parts = [(part.position, known.found.lots.get(part.lot)) for part in build.parts]
    return _findings(store, known, parts, machine_end(build.machine, "") if build.machine else None, lots)


def _findings(
    store: Store, known: Matched, parts: Iterable[tuple[str, Part | None]], here: End | None, lots: frozenset[str]
) -> tuple[CheckFinding, ...]:
    apart: dict[tuple[str, End, Part], list[str]] = {}
    for position, part in parts:
        for _, lot, where, other in elsewhere(known.found, part, known.loose, here):
            if lot not in lots:
                apart.setdefault((lot, where, other), []).append(position)
    with store.reading() as session:
        return tuple(
            CheckFinding(
                "note",
                positions[0],
                f"{_named(known, session, lot, where)} ran with the {sentence_list(dict.fromkeys(positions))}",
                f"They are a matched set. {KEEP}",
            )
            for (lot, where, _), positions in apart.items()
        )


def _told(known: Matched, session: Session, part: Part | None, here: End | None) -> str:
    found = dict.fromkeys((lot, where) for _, lot, where, _ in elsewhere(known.found, part, known.loose, here))
    if not found:
        return ""
    return f"it ran with {sentence_list(_named(known, session, *each) for each in found)}. {KEEP}"


def _named(known: Matched, session: Session, lot: str, where: End) -> str:
    if not lot:
        title = model_title(known.catalogue, known.models[where.name])
        return f"the {where.position} on {title} ({grouped(where.name)})"
    return (
        f"the {kind_name(known.catalogue, known.kinds[lot])} {grouped(lot)} ({place_name(session, where.name or None)})"
    )


def _entries(session: Session, kinds: list[str]) -> Iterator[Entry]:
    wanted = select(Lot.code).where(Lot.kind.in_(kinds))
    for row in session.execute(
        select(Movement.lot, Movement.quantity, Movement.source, Movement.target)
        .where(Movement.lot.in_(wanted))
        .order_by(Movement.id)
    ):
        yield Entry(row.lot, row.quantity, parse_end(row.source), parse_end(row.target))


def _before_the_ledger(
    catalogue: Catalogue, models: dict[str, str], lots: Iterable[Lot], entries: Iterable[Entry]
) -> Iterator[Entry]:
    """What loaded lots say of the machine they came off, as the movements it would have been."""
    followed = {entry.lot for entry in entries if entry.source.type in {"machine", "lot"}}
    for lot in lots:
        if lot.from_machine is None or lot.code in followed:
            continue
        model = models[lot.from_machine]
        names = [lot.from_position] if lot.from_position else catalogue.positions_of_kind[model].get(lot.kind, ())
        if len(names) == 1:
            yield Entry(lot.code, lot.quantity or 1, machine_end(lot.from_machine, names[0]), place_end(lot.place))
