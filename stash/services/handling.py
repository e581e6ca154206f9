"""What every handling of parts shares: finding the row, and telling a stale form what happened meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Batch, Change, Lot, LotMeasure, Machine, Place, Row
from stash.db.unit import Work
from stash.errors import Conflict, InvalidInput, NotFound
from stash.kernel.codes import grouped, require_code

AnyRow = TypeVar("AnyRow", bound=Row)


@dataclass(frozen=True, slots=True)
class Done:
    """What a handling did.

    Args:
        batch: Its batch in the history, None when nothing had to change.
        said: One sentence for the person.
        codes: Codes of lots that are new and want a label.
    """

    batch: int | None
    said: str
    codes: tuple[str, ...] = ()


def done(work: Work, said: str, *codes: str) -> Done:
    """Tell what was done, after everything was written."""
    work.session.flush()
    return Done(work.batch if work.changed else None, said, codes)


def lot_row(session: Session, code: str, version: int | None = None) -> Lot:
    """Return a lot's row.

    Args:
        session: The transaction.
        code: Its code, as typed.
        version: The version the person's form was made from, None when there was no form.

    Raises:
        NotFound: No lot has the code.
        Conflict: The lot was changed since; says by whom and how.
    """
    row = _row(session, Lot, code, "lot")
    fresh(session, "lots", row.code, row, version)
    return row


def machine_row(session: Session, code: str, version: int | None = None) -> Machine:
    """Return a machine's row; see ``lot_row``."""
    row = _row(session, Machine, code, "machine")
    fresh(session, "machines", row.code, row, version)
    return row


def place_code(session: Session, code: str) -> str | None:
    """Return the code of an existing place; None for "" (not put away yet).

    Raises:
        NotFound: No place has the code.
    """
    return _row(session, Place, code, "place").code if code.strip() else None


def place_name(session: Session, code: str | None) -> str:
    """Return what people call a place."""
    row = session.get(Place, code) if code else None
    return row.name if row else "not put away"


def fresh(session: Session, table: str, identity: str, row: Row, version: int | None) -> None:
    """Refuse a form that was made from an older version of a row.

    Raises:
        Conflict: Says who changed what since.
    """
    if version is None or row.version == version:
        return
    since = session.execute(
        select(Batch, Change)
        .join(Change, Change.batch == Batch.id)
        .where(Change.table == table, Change.identity == identity)
        .order_by(Change.id)
    ).all()
    said = [
        f"{batch.who}, {batch.at:%Y-%m-%d %H:%M}: {batch.why}"
        for batch, change in since
        if (change.after or {}).get("version", 0) > version
    ]
    raise Conflict(
        f"{grouped(identity) if table in {'lots', 'machines'} else identity} was changed in the meantime"
        + (f" ({'; '.join(said)})" if said else ""),
        "Nothing was written. Look at it as it is now and do it again if it is still right.",
    )


def whole_number(quantity: int, most: int | None = None) -> int:
    """Check a quantity.

    Raises:
        InvalidInput: It is less than one.
        Conflict: It is more than there are.
    """
    if quantity < 1:
        raise InvalidInput(f"{quantity} is no quantity to handle", "Give 1 or more.")
    if most is not None and quantity > most:
        raise Conflict(f"There are only {most}, not {quantity}", "Take fewer, or count the lot first.")
    return quantity


def lot_values(session: Session, lot: str) -> dict[str, str]:
    """Return ``{measure: value text}`` measured on a lot."""
    rows = session.execute(select(LotMeasure).where(LotMeasure.lot == lot)).scalars()
    return {row.measure: row.value for row in rows}


def _row(session: Session, row_type: type[AnyRow], code: str, word: str) -> AnyRow:
    row = session.get(row_type, str(require_code(code)))
    if row is None:
        raise NotFound(f"No {word} has the code {grouped(str(require_code(code)))}", "Scan it again, or look for it.")
    return row
