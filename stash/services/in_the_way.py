"""What stands in the way of undoing a batch, in words."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import CODE_TYPES, Batch, Change
from stash.db.rows import SEPARATOR
from stash.kernel.codes import grouped
from stash.ledger.undo import RowKey

_MOST_NAMED = 5


def in_the_way(session: Session, batch: int, blocked: Sequence[RowKey]) -> str:
    """Say which rows were changed since, by which entry; the first few of many.

    Args:
        session: The transaction.
        batch: What is to be undone.
        blocked: The rows, as ``ledger.undo.plan_undo`` names them.
    """
    said = [_changed(session, batch, key) for key in blocked[:_MOST_NAMED]]
    more = len(blocked) - len(said)
    return "; ".join([*said, f"and {more} more"] if more else said)


def _changed(session: Session, batch: int, key: RowKey) -> str:
    table, identity = key
    query = (
        select(Batch)
        .join(Change, Change.batch == Batch.id)
        .where(Change.table == table, Change.identity == identity, Batch.id > batch)
        .order_by(Batch.id.desc())
    )
    later = session.execute(query).scalars().first()
    cells = identity.split(SEPARATOR)
    word, of = CODE_TYPES.get(table), grouped(cells[0]) if table in CODE_TYPES else " ".join(cells)
    name = f"{word or table.replace('_', ' ')} {of}"
    return f"{name} was changed by entry {later.id} ({later.who}: {later.why})" if later else f"{name} was changed"
