"""Counting what is there: one lot, or a whole bin, and what lies in a bin that it is not noted in.

A count enters the difference as lost or found. Nothing is counted down to nothing by somebody who did not look for it.
A count may be rough ("about 40"): the ledger reckons with the number all the same, and says how it is known.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Lot, Movement, Place
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, InvalidInput, NotFound
from stash.kernel.codes import grouped, require_code
from stash.kernel.ends import End, outside_end, parse_end, place_end
from stash.services.handling import Done, done, lot_row, place_name, whole_number
from stash.services.loans import on_loan
from stash.services.reservations import promised
from stash.services.titles import counted


@dataclass(frozen=True, slots=True)
class Found:
    """What was found of a lot.

    Args:
        quantity: How many were there.
        about: They were estimated rather than counted.
        looked: The person looked for them elsewhere; needed to count a lot down to nothing.
        version: The lot's version the form was made from, None when there was no form.
    """

    quantity: int
    about: bool = False
    looked: bool = False
    version: int | None = None


def count(store: Store, code: str, found: Found, *, who: str, on: dt.date) -> Done:
    """Enter what was counted of one lot; a difference is lost or found.

    Args:
        store: The database.
        code: The lot.
        found: What was there.
        who: Who counted.
        on: The day.

    Raises:
        InvalidInput: A negative count.
        Conflict: A count of nothing by someone who did not look for them, or the lot was changed meanwhile.
    """

    def act(work: Work) -> Done:
        lot = lot_row(work.session, code, found.version)
        difference = _enter(work, lot, found, on)
        told = "as expected" if not difference else f"{abs(difference)} {'more' if difference > 0 else 'fewer'}"
        about = "about " if found.about else ""
        more = _short(work, lot) + _perhaps_back(work.session, lot, difference)
        return done(work, f"{grouped(lot.code)} counted: {about}{found.quantity}, {told}.{more}")

    return store.write(who, "counted", act)


def count_place(store: Store, place: str, found: Mapping[str, Found], *, who: str, on: dt.date) -> Done:
    """Enter the count of a whole bin in one go.

    Args:
        store: The database.
        place: The bin's code.
        found: ``{lot code: what was there}``; the bin counts as counted when no lot noted in it is left out. A lot of
            another place was misfiled and is refused, see ``misfiled``.
        who: Who counted.
        on: The day.

    Raises:
        NotFound: No such place.
        InvalidInput: A lot that does not belong here, or a negative count.
        Conflict: A count of nothing for a lot that was not looked for, or a lot was changed meanwhile; nothing was
            written.
    """

    def act(work: Work) -> Done:
        row = _place(work, place)
        expected = set(work.session.scalars(select(Lot.code).where(Lot.place == row.code, Lot.quantity > 0)))
        differences, short = 0, ""
        for code, each in found.items():
            lot = lot_row(work.session, code, each.version)
            if lot.place != row.code:
                raise InvalidInput(
                    f"Lot {grouped(lot.code)} does not belong in {row.name}",
                    "Move it here if it shall stay, or put it back where it belongs, then count again.",
                )
            expected.discard(lot.code)
            difference = _enter(work, lot, each, on)
            differences += bool(difference)
            short += _short(work, lot) + _perhaps_back(work.session, lot, difference)
        told = f"{differences} not as expected" if differences else "all as expected"
        if expected:
            short += f" {len(expected)} not counted yet, so the bin keeps its old date."
        else:
            row.counted_on = on
        return done(work, f"{row.name} counted: {counted(len(found), 'lot')}, {told}.{short}")

    return store.write(who, "counted a bin", act)


def misfiled(store: Store, place: str, code: str, *, who: str, stays: bool, quantity: int = 1) -> Done:
    """Enter that a lot lay in a bin it is not noted in: it goes home, or stays and is booked here.

    The ledger says both: that it was found here, and where it went.

    Args:
        store: The database.
        place: The bin it was found in.
        code: The lot.
        who: Who found it.
        stays: It stays here from now on; else it goes back to the place it is noted in.
        quantity: How many lay here, for a lot that was counted down to nothing before.

    Raises:
        InvalidInput: It is noted here already, or has no place to go back to.
        Conflict: It is noted as fitted to a machine, or is in another lot now; booking it here would make two of it.
    """

    def act(work: Work) -> Done:
        row, lot = _place(work, place), lot_row(work.session, code)
        here, home = place_end(row.code), place_end(lot.place)
        if not lot.quantity:
            lot.quantity, lot.about = whole_number(quantity), None
            work.move(_turned_up(work.session, lot, here))
        elif here != home:
            work.move([(lot.code, lot.quantity, home, here)])
        else:
            raise InvalidInput(f"{grouped(lot.code)} is noted in {row.name}", "Count it with the others.")
        if stays or here == home:
            lot.place = row.code
            return done(work, f"{grouped(lot.code)} is now noted in {row.name}.")
        if lot.place is None:
            raise InvalidInput(f"{grouped(lot.code)} is noted nowhere", "Let it stay here.")
        work.move([(lot.code, lot.quantity, here, home)])
        return done(work, f"{grouped(lot.code)} goes back to {place_name(work.session, lot.place)}.")

    return store.write(who, "found misfiled", act)


def versions(store: Store, place: str) -> dict[str, int]:
    """Return ``{lot: version}`` of the lots noted in a place, for a form to carry."""
    with store.reading() as session:
        rows = session.execute(select(Lot.code, Lot.version).where(Lot.place == place)).all()
    return {code: int(version) for code, version in rows}


def _enter(work: Work, lot: Lot, found: Found, on: dt.date) -> int:
    """Enter one lot's count; returns found less expected."""
    if found.quantity < 0:
        raise InvalidInput(f"{found.quantity} is no count of {grouped(lot.code)}", "Give 0 or more.")
    difference = found.quantity - lot.quantity
    if found.quantity == 0 and lot.quantity and not found.looked:
        raise Conflict(
            f"Lot {grouped(lot.code)} would be counted down to nothing",
            "Look in the neighbouring bins first; then say that you looked for it.",
        )
    if difference:
        here = place_end(lot.place)
        ends = (here, outside_end("lost")) if difference < 0 else (outside_end("found"), here)
        work.move([(lot.code, abs(difference), *ends)])
    lot.quantity = found.quantity
    lot.about = (found.about and found.quantity > 0) or None
    lot.counted_on = on
    return difference


def _turned_up(session: Session, lot: Lot, here: End) -> list[tuple[str, int, End, End]]:
    """Movements for parts of which none was noted any more: back from loan as many as are lent, found the rest.

    Raises:
        Conflict: They are noted as fitted to a machine, or went into another lot.
    """
    last = session.scalars(select(Movement).where(Movement.lot == lot.code).order_by(Movement.id.desc())).first()
    there = parse_end(last.target) if last else here
    left = select(Movement.id).where(Movement.source == str(there), Movement.id > (last.id if last else 0))
    if there.type == "machine" and session.scalars(left).first() is None:
        raise Conflict(
            f"{grouped(lot.code)} is noted as fitted to machine {grouped(there.name)}, {there.position}",
            "If it came off, take it off there: that gives it a code of its own.",
        )
    if there.type == "lot":
        raise Conflict(
            f"{grouped(lot.code)} was put together with {grouped(there.name)}",
            "Look that one up instead, or split it if these are to keep a label of their own.",
        )
    back = min(lot.quantity, on_loan(session, lot.code).get(lot.code, 0))
    ways = (("lent", back), ("found", lot.quantity - back))
    return [(lot.code, count, outside_end(way), here) for way, count in ways if count]


def _short(work: Work, lot: Lot) -> str:
    """Tell whom a lot that is gone was promised to; a count is a fact and is entered all the same."""
    names = sorted({build.name for build, _ in promised(work.session, lot.code)}) if not lot.quantity else []
    return f" {grouped(lot.code)} was promised to {', '.join(names)}." if names else ""


def _perhaps_back(session: Session, lot: Lot, difference: int) -> str:
    """Tell that what was found may have come back from loan, which nobody entered."""
    out = on_loan(session, lot.code).get(lot.code, 0) if difference > 0 else 0
    lent = f"{out} of {grouped(lot.code)} {'is' if out == 1 else 'are'} lent"
    return f" {lent}: if that came back, undo this and enter it as back from loan." if out else ""


def _place(work: Work, code: str) -> Place:
    row = work.session.get(Place, str(require_code(code)))
    if row is None:
        raise NotFound(f"No place has the code {code}", "Scan it again, or look for it.")
    return row
