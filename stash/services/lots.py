"""Handling loose parts: move, split, merge, let go, find again; for counting see ``counting``.

Every change of quantity or place is a movement in the ledger; the lot's own row says what they add up to.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy.orm import Session

from stash.db.models import Lot, LotMeasure
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, InvalidInput
from stash.kernel.codes import grouped
from stash.kernel.ends import lot_end, outside_end, place_end
from stash.kernel.tables import CHECKED
from stash.services.codes import new_code
from stash.services.handling import (
    Done,
    done,
    lot_row,
    lot_values,
    place_code,
    place_name,
    whole_number,
)
from stash.services.loans import on_loan
from stash.services.matched import after
from stash.services.reservations import hand_over, refuse_promised

LEAVES = {"sold": "sold", "given": "given away", "scrapped": "scrapped", "lost": "lost", "lent": "lent"}
"""``{word of the ledger: in a sentence}``: how parts leave."""
TO = " to "
"""Stands in the history between how parts left and who has them."""
COMES = {"received": "received", "found": "found", "lent": "came back from loan"}
"""``{word of the ledger: in a sentence}``: how more parts of a lot come in."""


def move(
    store: Store,
    code: str,
    place: str,
    *,
    who: str,
    quantity: int | None = None,
    anyway: bool = False,
    version: int | None = None,
) -> Done:
    """Put a lot, or some of it, into another place.

    Args:
        store: The database.
        code: The lot.
        place: The place's code, "" for not put away.
        who: Who does it.
        quantity: How many; None for all. Fewer than all become a lot of their own with a new code.
        anyway: Part them although too few stay for the builds they are promised to.
        version: The version the form was made from.

    Raises:
        NotFound: No such lot or place.
        Conflict: More than there are, promised, or the lot was changed in the meantime.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        lot = lot_row(work.session, code, version)
        target = place_code(work.session, place)
        count = whole_number(lot.quantity if quantity is None else quantity, lot.quantity)
        where, here = place_name(work.session, target), place_end(target)
        if count < lot.quantity:
            refuse_promised(work.session, catalogue, lot, count, anyway=anyway)
            part = _split_off(work, lot, count, target)
            split = after(work.session, catalogue, [(part.code, here)])
            said = f"{count} of {grouped(lot.code)} now in {where} as {grouped(part.code)}.{split}"
            return done(work, said, part.code)
        if target == lot.place:
            return done(work, f"{grouped(lot.code)} is already in {where}.")
        work.move([(lot.code, count, place_end(lot.place), here)])
        lot.place = target
        work.session.flush()
        return done(work, f"{grouped(lot.code)} now in {where}.{after(work.session, catalogue, [(lot.code, here)])}")

    return store.write(who, "moved", act)


def split(
    store: Store,
    code: str,
    quantity: int,
    *,
    who: str,
    place: str | None = None,
    anyway: bool = False,
    version: int | None = None,
) -> Done:
    """Make some of a lot a lot of their own.

    Args:
        store: The database.
        code: The lot.
        quantity: How many go into the new lot; some must stay.
        who: Who does it.
        place: The new lot's place; None for the same.
        anyway: Part them although too few stay for the builds they are promised to.
        version: The version the form was made from; a form sent twice then parts them once.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        lot = lot_row(work.session, code, version)
        if whole_number(quantity, lot.quantity) == lot.quantity:
            raise InvalidInput("Nothing would stay in the old lot", "Give fewer, or move the whole lot.")
        refuse_promised(work.session, catalogue, lot, quantity, anyway=anyway)
        target = lot.place if place is None else place_code(work.session, place)
        part = _split_off(work, lot, quantity, target)
        apart = after(work.session, catalogue, [(part.code, place_end(target))])
        return done(
            work,
            f"{quantity} of {grouped(lot.code)} {'is' if quantity == 1 else 'are'} now {grouped(part.code)}.{apart}",
            part.code,
        )

    return store.write(who, "split", act)


def merge(store: Store, into: str, others: Sequence[str], *, who: str) -> Done:
    """Put equal lots together; the others keep their codes with nothing in them, and builds get the one that is left.

    Raises:
        InvalidInput: They are not the same kind, design, condition and measures.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        keeper = lot_row(work.session, into)
        emptied: list[Lot] = []
        said = ""
        for code in dict.fromkeys(others):
            other = lot_row(work.session, code)
            if other.code != keeper.code:
                _merge_one(work, keeper, other)
                said += hand_over(work.session, other, keeper)
                emptied.append(other)
        work.session.flush()
        said += after(work.session, catalogue, [(other.code, place_end(keeper.place)) for other in emptied])
        return done(work, f"{grouped(keeper.code)} now holds {keeper.quantity}.{said}")

    return store.write(who, "merged", act)


def let_go(
    store: Store,
    code: str,
    quantity: int,
    how: str,
    *,
    who: str,
    to: str = "",
    anyway: bool = False,
    version: int | None = None,
) -> Done:
    """Take parts out of the stash: sold, given, scrapped, lost or lent.

    Args:
        store: The database.
        code: The lot.
        quantity: How many.
        how: One of ``LEAVES``.
        who: Who does it.
        to: Who has them now, or any other word for the history; "" for none.
        anyway: Take them although they are promised to a build.
        version: The version the form was made from.
    """
    if how not in LEAVES:
        raise InvalidInput(f"{how!r} is no way to let parts go", "Use one of: " + ", ".join(LEAVES) + ".")
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        lot = lot_row(work.session, code, version)
        count = whole_number(quantity, lot.quantity)
        refuse_promised(work.session, catalogue, lot, count, anyway=anyway)
        work.move([(lot.code, count, place_end(lot.place), outside_end(how))])
        lot.quantity -= count
        work.session.flush()
        apart = after(work.session, catalogue, [(lot.code, None)])
        return done(work, f"{count} of {grouped(lot.code)} {LEAVES[how]}, {lot.quantity} left.{apart}")

    return store.write(who, f"{LEAVES[how]}{TO}{to.strip()}" if to.strip() else LEAVES[how], act)


def add_more(store: Store, code: str, quantity: int, how: str, *, who: str, version: int | None = None) -> Done:
    """Put more parts into a lot: received, found, or back from loan.

    Raises:
        Conflict: More come back than were lent, or the lot was changed since it had ``version``.
    """
    if how not in COMES:
        raise InvalidInput(f"{how!r} is no way parts come in", "Use one of: " + ", ".join(COMES) + ".")

    def act(work: Work) -> Done:
        lot = lot_row(work.session, code, version)
        count = whole_number(quantity)
        if how == "lent" and count > (out := on_loan(work.session, lot.code).get(lot.code, 0)):
            raise Conflict(f"Only {out} of {grouped(lot.code)} are lent, not {count}", "Enter the rest as found.")
        work.move([(lot.code, count, outside_end(how), place_end(lot.place))])
        lot.about = lot.about if lot.quantity else None
        lot.quantity += count
        return done(work, f"{count} more in {grouped(lot.code)}, {lot.quantity} in all.")

    return store.write(who, COMES[how], act)


def _split_off(work: Work, lot: Lot, count: int, place: str | None) -> Lot:
    """Make a new lot of some parts of another, with everything that is known of them."""
    session = work.session
    part = copy_of(session, lot, new_code(session), count, place)
    work.move(
        [
            (lot.code, count, place_end(lot.place), lot_end(part.code)),
            (part.code, count, lot_end(lot.code), place_end(place)),
        ]
    )
    lot.quantity -= count
    return part


def copy_of(session: Session, lot: Lot, code: str, count: int, place: str | None) -> Lot:
    """Add a lot's row like another, with its measures; the caller enters the movements."""
    part = Lot(
        code=code,
        kind=lot.kind,
        design=lot.design,
        quantity=count,
        condition=lot.condition,
        checked=lot.checked,
        place=place,
        number_seen=lot.number_seen,
        from_machine=lot.from_machine,
        from_position=lot.from_position,
        acquired_on=lot.acquired_on,
        note=lot.note,
    )
    session.add(part)
    for measure, value in lot_values(session, lot.code).items():
        session.add(LotMeasure(lot=code, measure=measure, value=value))
    session.flush()
    return part


def _merge_one(work: Work, keeper: Lot, other: Lot) -> None:
    session = work.session
    if _sort(session, keeper) != _sort(session, other):
        raise InvalidInput(
            f"Lots {grouped(keeper.code)} and {grouped(other.code)} are not the same",
            "Only lots of one kind, design, condition and equal measures go together; unidentified ones by number too.",
        )
    if other.quantity:
        work.move(
            [
                (other.code, other.quantity, place_end(other.place), lot_end(keeper.code)),
                (keeper.code, other.quantity, lot_end(other.code), place_end(keeper.place)),
            ]
        )
        keeper.about = (keeper.about if keeper.quantity else None) or other.about
        keeper.checked = _less_checked(keeper, other) if keeper.quantity else other.checked
        keeper.quantity += other.quantity
        other.quantity = 0


def _sort(session: Session, lot: Lot) -> tuple[object, ...]:
    """What makes parts of two lots the same; where nobody knows the design, the number on them tells too."""
    number = "" if lot.design else lot.number_seen or ""
    return (lot.kind, lot.design, lot.condition, number, lot_values(session, lot.code))


def _less_checked(one: Lot, other: Lot) -> str | None:
    """How far all parts of two lots were checked."""
    return min(one.checked, other.checked, key=lambda each: CHECKED.index(each) + 1 if each else 0)
