"""What is lent: how many of which lot, to whom, since when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from stash.db.models import Batch, Movement
from stash.db.store import Store
from stash.kernel.ends import outside_end

_LENT = str(outside_end("lent"))


@dataclass(frozen=True, slots=True)
class Loan:
    """Parts of one lot that are out.

    Args:
        lot: Its code.
        quantity: How many.
        said: What the history says of the last time some went out, such as ``lent to Ada``.
        since: When that was.
    """

    lot: str
    quantity: int
    said: str
    since: dt.datetime


def on_loan(session: Session, lot: str = "") -> dict[str, int]:
    """Return ``{lot: how many are lent}``, of one lot or of all."""
    query = select(Movement.lot, Movement.quantity, Movement.target).where(
        or_(Movement.source == _LENT, Movement.target == _LENT)
    )
    found: dict[str, int] = {}
    for code, quantity, target in session.execute(query.where(Movement.lot == lot) if lot else query):
        found[code] = found.get(code, 0) + (quantity if target == _LENT else -quantity)
    return {code: quantity for code, quantity in found.items() if quantity > 0}


def loans(store: Store, lot: str = "") -> tuple[Loan, ...]:
    """Return what is out, longest first, of one lot or of all."""
    with store.reading() as session:
        out = on_loan(session, lot)
        last = select(func.max(Movement.batch)).where(Movement.target == _LENT, Movement.lot.in_(out))
        query = (
            select(Movement.lot, Batch.why, Batch.at)
            .join(Batch, Batch.id == Movement.batch)
            .where(Batch.id.in_(last.group_by(Movement.lot)), Movement.target == _LENT, Movement.lot.in_(out))
            .order_by(Batch.at, Movement.lot)
        )
        return tuple(Loan(code, out[code], why, at) for code, why, at in session.execute(query))
