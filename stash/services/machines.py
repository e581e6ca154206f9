"""Working on machines: fit, take off, swap, mark, strip a donor, put it back as it was.

What comes off goes into a lot of its own, tagged with the machine and position it came from.
"""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from stash.db.models import Lot, Movement
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, InvalidInput, NotFound
from stash.kernel.codes import grouped
from stash.kernel.ends import End, machine_end, place_end
from stash.kernel.tables import CONDITIONS, FITTED_STATES
from stash.services.at_position import (
    Off,
    carried_out,
    danger_of,
    displace,
    put_in,
    refuse_other_kind,
    set_position,
    spot_of,
    state_at,
)
from stash.services.handling import (
    Done,
    done,
    lot_row,
    machine_row,
    place_name,
)
from stash.services.matched import after
from stash.services.reservations import refuse_promised
from stash.services.titles import counted


def fit(
    store: Store,
    machine: str,
    position: str,
    lot: str,
    *,
    who: str,
    off: Off | None = None,
    anyway: bool = False,
    acknowledged: bool = False,
    version: int | None = None,
) -> Done:
    """Fit loose parts to a position; what was there goes into a lot of its own.

    Args:
        store: The database.
        machine: The machine's code.
        position: Position name.
        lot: The lot's code; as many as the position takes are used.
        who: Who does it.
        off: Where the displaced part goes.
        anyway: Take the part although it is promised to another build.
        acknowledged: The person was told of the danger (a limit above the rated speed) and fits it all the same.
        version: The lot's version the form was made from.

    Raises:
        InvalidInput: The model has no such position, or it takes another kind.
        Conflict: Too few, promised elsewhere, or dangerous and not acknowledged.
    """
    catalogue, loose = store.catalogue(), store.stock().lots

    def act(work: Work) -> Done:
        session = work.session
        owner = machine_row(session, machine)
        source = lot_row(session, lot, version)
        spot = spot_of(catalogue, owner, position)
        refuse_other_kind(catalogue, spot, source)
        if source.quantity < spot.quantity:
            raise Conflict(
                f"The {spot.name} takes {spot.quantity}, lot {grouped(source.code)} holds {source.quantity}",
                "Take another lot, or merge equal lots first.",
            )
        refuse_promised(session, catalogue, source, spot.quantity, owner.code, anyway=anyway)
        warning = danger_of(catalogue, owner, spot, loose.get(source.code))
        if warning and not acknowledged:
            raise Conflict(warning, "It stays blocked until you say that you have read this and take it on yourself.")
        old = displace(work, catalogue, owner, spot, off or Off())
        work.move([(source.code, spot.quantity, place_end(source.place), machine_end(owner.code, spot.name))])
        source.quantity -= spot.quantity
        note = f"Fitted although: {warning}" if warning else None
        put_in(session, owner, spot, source, note)
        carried_out(session, owner, spot, source)
        told = f"{grouped(source.code)} fitted at the {spot.name} of {grouped(owner.code)}."
        if old is not None:
            told += f" What was there is now {grouped(old.code)}, {place_name(session, old.place)}."
        told += after(session, catalogue, [(source.code, machine_end(owner.code, spot.name)), *_lying(old)])
        return done(work, told, *([old.code] if old else []))

    return store.write(who, "fitted", act)


def take_off(store: Store, machine: str, position: str, *, who: str, off: Off | None = None) -> Done:
    """Take a part off a machine into a lot of its own; the position is missing after that.

    Raises:
        Conflict: There is nothing to take off.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        owner = machine_row(work.session, machine)
        spot = spot_of(catalogue, owner, position)
        old = displace(work, catalogue, owner, spot, off or Off())
        if old is None:
            raise Conflict(f"Nothing is fitted at the {spot.name}", "Mark it as present first if it is there.")
        set_position(work.session, owner, spot, "missing")
        told = f"The {spot.name} of {grouped(owner.code)} is now {grouped(old.code)}, "
        told += f"{place_name(work.session, old.place)}.{after(work.session, catalogue, _lying(old))}"
        return done(work, told, old.code)

    return store.write(who, "taken off", act)


def strip(store: Store, machine: str, places: Mapping[str, Off], *, who: str) -> Done:
    """Strip chosen positions of a donor in one go, each into its own lot.

    Args:
        store: The database.
        machine: The donor's code.
        places: ``{position: where its part goes}``.
        who: Who does it.

    Returns:
        What was done, with the new codes in the order given; a donor with nothing left becomes ``stripped``.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        owner = machine_row(work.session, machine)
        lots: list[Lot] = []
        for position, off in places.items():
            spot = spot_of(catalogue, owner, position)
            old = displace(work, catalogue, owner, spot, off)
            if old is None:
                raise Conflict(f"Nothing is fitted at the {spot.name}", "Leave it out; nothing was stripped.")
            set_position(work.session, owner, spot, "missing")
            lots.append(old)
        if not lots:
            raise InvalidInput("No position was chosen", "Choose what comes off.")
        if owner.state == "donor" and all(
            state_at(work.session, owner, name) == "missing" for name in catalogue.positions[owner.model]
        ):
            owner.state = "stripped"
        told = f"{counted(len(lots), 'part')} off {grouped(owner.code)}.{after(work.session, catalogue, _lying(*lots))}"
        return done(work, told, *(lot.code for lot in lots))

    return store.write(who, "stripped", act)


def mark(
    store: Store, machine: str, position: str, state: str, *, who: str, design: str = "", condition: str = ""
) -> Done:
    """Note what was seen at a position: present (which design, how good), missing, faulty or unknown.

    Raises:
        InvalidInput: An unknown state, design, or a design of another kind.
    """
    catalogue = store.catalogue()
    if state not in FITTED_STATES:
        raise InvalidInput(f"{state!r} is no state of a position", "Use one of: " + ", ".join(FITTED_STATES) + ".")
    if condition and condition not in CONDITIONS:
        raise InvalidInput(f"{condition!r} is no condition", "Use one of: " + ", ".join(CONDITIONS) + ".")

    def act(work: Work) -> Done:
        owner = machine_row(work.session, machine)
        spot = spot_of(catalogue, owner, position)
        if design and (design not in catalogue.design or catalogue.design[design].kind != spot.kind):
            raise InvalidInput(f"{design!r} is no design of kind {spot.kind}", "Choose one from the list.")
        set_position(work.session, owner, spot, state, design or None, condition or None)
        return done(work, f"The {spot.name} of {grouped(owner.code)} is noted as {state}.")

    return store.write(who, f"noted as {state}", act)


def swap(store: Store, machine: str, position: str, other: str, other_position: str, *, who: str) -> Done:
    """Exchange what two machines carry at two positions of one kind.

    Raises:
        InvalidInput: The positions take different kinds or quantities.
        Conflict: One of them carries nothing.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        session = work.session
        one, two = machine_row(session, machine), machine_row(session, other)
        here, there = spot_of(catalogue, one, position), spot_of(catalogue, two, other_position)
        if (here.kind, here.quantity) != (there.kind, there.quantity):
            raise InvalidInput(f"A {here.kind} does not go where a {there.kind} goes", "Choose positions of one kind.")
        mine = displace(work, catalogue, one, here, Off())
        theirs = displace(work, catalogue, two, there, Off())
        if mine is None or theirs is None:
            raise Conflict("One of the two carries nothing there", "Fit the one part instead.")
        for lot, owner, spot in ((mine, two, there), (theirs, one, here)):
            work.move([(lot.code, spot.quantity, place_end(None), machine_end(owner.code, spot.name))])
            lot.quantity = 0
            put_in(session, owner, spot, lot, None)
        told = f"{grouped(one.code)} and {grouped(two.code)} have exchanged their {here.name}."
        ends = [(mine.code, machine_end(two.code, there.name)), (theirs.code, machine_end(one.code, here.name))]
        return done(work, told + after(session, catalogue, ends))

    return store.write(who, "swapped", act)


def put_back(store: Store, machine: str, *, who: str, place: str = "", anyway: bool = False) -> Done:
    """Put a machine back as it was: fit its removed originals where they still exist.

    Args:
        store: The database.
        machine: The machine's code.
        who: Who does it.
        place: Where the parts go that are on it now.
        anyway: Take originals although they are promised to another build.

    Raises:
        NotFound: None of its originals is in the stash.
        Conflict: One of them is promised to another build.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        session = work.session
        owner = machine_row(session, machine)
        originals = originals_of(session, owner.code)
        codes: list[str] = []
        back = 0
        for position, lot in originals.items():
            spot = spot_of(catalogue, owner, position)
            if lot.quantity < spot.quantity:
                continue
            back += 1
            refuse_promised(session, catalogue, lot, spot.quantity, owner.code, anyway=anyway)
            old = displace(work, catalogue, owner, spot, Off(place))
            work.move([(lot.code, spot.quantity, place_end(lot.place), machine_end(owner.code, spot.name))])
            lot.quantity -= spot.quantity
            put_in(session, owner, spot, lot, None)
            carried_out(session, owner, spot, lot)
            codes += [old.code] if old else []
        if not back:
            raise NotFound(
                f"None of the removed originals of {grouped(owner.code)} is in the stash",
                "They may have been sold or fitted elsewhere; its history tells.",
            )
        return done(work, f"{counted(back, 'original')} back on {grouped(owner.code)}.", *codes)

    return store.write(who, "put back as it was", act)


def _lying(*lots: Lot | None) -> list[tuple[str, End | None]]:
    return [(lot.code, place_end(lot.place)) for lot in lots if lot is not None]


def originals_of(session: Session, machine: str) -> dict[str, Lot]:
    """Return ``{position: lot}`` of the first part that came off each position and still lies loose."""
    came_off = select(func.min(Movement.id)).where(Movement.lot == Lot.code).scalar_subquery()
    query = (
        select(Lot)
        .where(Lot.from_machine == machine, Lot.from_position.is_not(None), Lot.quantity > 0)
        .order_by(came_off, Lot.code)
    )
    found: dict[str, Lot] = {}
    for lot in session.execute(query).scalars():
        found.setdefault(str(lot.from_position), lot)
    return found
