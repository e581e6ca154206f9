"""One position of one machine: what is there, taking it off, putting something in.

Used inside an open transaction by everything that works on machines.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Fitted, FittedMeasure, Lot, LotMeasure, Machine
from stash.db.unit import Work
from stash.errors import InvalidInput
from stash.fit import facts
from stash.fit.catalogue import Catalogue, Position
from stash.fit.checks import check_machine
from stash.fit.mates import stock_designs
from stash.kernel.codes import grouped
from stash.kernel.ends import machine_end, place_end
from stash.services.codes import new_code
from stash.services.handling import lot_values, place_code
from stash.services.reservations import promised


@dataclass(frozen=True, slots=True)
class Off:
    """Where a part that comes off goes, and what it is.

    Args:
        place: Place code, "" for not put away yet.
        condition: Its condition; "" for as recorded, else unknown.
        design: Its design as seen in the hand; "" for as recorded or assumed.
    """

    place: str = ""
    condition: str = ""
    design: str = ""


def spot_of(catalogue: Catalogue, machine: Machine, position: str) -> Position:
    """Return a position of a machine's model.

    Raises:
        InvalidInput: It has none of that name; says which it has.
    """
    spot = catalogue.positions[machine.model].get(position)
    if spot is None:
        names = ", ".join(catalogue.positions[machine.model])
        raise InvalidInput(f"A {machine.model} has no {position!r}", f"Its positions are: {names}.")
    return spot


def refuse_other_kind(catalogue: Catalogue, spot: Position, lot: Lot) -> None:
    """Refuse a lot of another kind than the position takes.

    Raises:
        InvalidInput: It is of another kind.
    """
    if lot.kind != spot.kind:
        wanted, given = catalogue.kind[spot.kind].name, catalogue.kind[lot.kind].name
        raise InvalidInput(
            f"The {spot.name} takes a {wanted}, lot {grouped(lot.code)} holds {given}", "Check the code."
        )


def danger_of(catalogue: Catalogue, machine: Machine, spot: Position, lot: facts.Lot | None) -> str:
    """Say what would be dangerous with the part in place, "" when nothing is."""
    if lot is None:
        return ""
    fitted = {spot.name: facts.Fitted("present", lot.design, values=lot.values)}
    planned = facts.Machine(machine.code, machine.model, machine.year, machine.state, fitted)
    stops = [found for found in check_machine(catalogue, planned) if found.level == "stop"]
    return "; ".join(f"{found.position}: {found.text}. {found.do}" for found in stops)


def displace(work: Work, catalogue: Catalogue, machine: Machine, spot: Position, off: Off) -> Lot | None:
    """Move what is at a position into a new lot; None when nothing is there."""
    session = work.session
    row = session.get(Fitted, (machine.code, spot.name))
    if row is not None and row.state == "missing":
        return None
    stock = stock_designs(catalogue, machine.model, spot.name, machine.year)
    assumed = row is None and not off.design
    recorded = row.design if row is not None else (stock[0] if len(stock) == 1 else None)
    condition = off.condition or (row.condition if row and row.condition else "unknown")
    if row is not None and row.state == "faulty" and not off.condition:
        condition = "needs_work"
    lot = Lot(
        code=new_code(session),
        kind=spot.kind,
        design=off.design or recorded,
        quantity=spot.quantity,
        condition=condition,
        place=place_code(session, off.place),
        from_machine=machine.code,
        from_position=spot.name,
        note="Assumed stock when it came off: check which one it is." if assumed else (row.note if row else None),
    )
    session.add(lot)
    for measured in measured_on(session, machine.code, spot.name):
        session.add(LotMeasure(lot=lot.code, measure=measured.measure, value=measured.value))
    session.flush()
    work.move([(lot.code, spot.quantity, machine_end(machine.code, spot.name), place_end(lot.place))])
    return lot


def carried_out(session: Session, machine: Machine, spot: Position, lot: Lot) -> None:
    """Forget the decision that this lot goes here: it is there now."""
    for build, part in promised(session, lot.code):
        if build.machine == machine.code and part.position == spot.name:
            session.delete(part)
    session.flush()


def put_in(session: Session, machine: Machine, spot: Position, lot: Lot, note: str | None) -> None:
    """Note that a lot's part is fitted at a position now, with what was measured on it."""
    set_position(session, machine, spot, "present", lot.design, lot.condition, note)
    for measure, value in lot_values(session, lot.code).items():
        session.add(FittedMeasure(machine=machine.code, position=spot.name, measure=measure, value=value))
    session.flush()


def set_position(
    session: Session,
    machine: Machine,
    spot: Position,
    state: str,
    design: str | None = None,
    condition: str | None = None,
    note: str | None = None,
) -> None:
    """Write what a position carries; what was measured on the part before goes with it."""
    for measured in measured_on(session, machine.code, spot.name):
        session.delete(measured)
    session.flush()
    row = session.get(Fitted, (machine.code, spot.name))
    if row is None:
        row = Fitted(machine=machine.code, position=spot.name, state=state)
        session.add(row)
    row.state, row.design, row.condition, row.note = state, design, condition, note
    session.flush()


def measured_on(session: Session, machine: str, position: str) -> list[FittedMeasure]:
    """Return what was measured on the part at a position."""
    query = select(FittedMeasure).where(FittedMeasure.machine == machine, FittedMeasure.position == position)
    return list(session.execute(query).scalars())


def state_at(session: Session, machine: Machine, position: str) -> str:
    """Return the noted state of a position; what nobody noted is assumed present."""
    row = session.get(Fitted, (machine.code, position))
    return row.state if row else "present"
