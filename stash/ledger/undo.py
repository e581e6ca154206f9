"""Undoing a batch: the same movements the other way, and every row as it was before.

An undo is a batch like any other, so it can itself be undone. It is refused where a later batch has touched what it
would put back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from stash.ledger.balance import Entry

RowKey = tuple[str, str]
"""(table, identity)."""


@dataclass(frozen=True, slots=True)
class RowChange:
    """One row before and after a batch; None = it did not exist."""

    key: RowKey
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class UndoPlan:
    """What an undo does.

    Args:
        entries: Movements to write, in order.
        rows: ``{row: cells to have, None to be gone}``.
        blocked: Rows that were changed since, in order; nothing may be done when there are any.
    """

    entries: tuple[Entry, ...]
    rows: Mapping[RowKey, Mapping[str, Any] | None]
    blocked: tuple[RowKey, ...]


def plan_undo(
    entries: Sequence[Entry], changes: Iterable[RowChange], current: Mapping[RowKey, Mapping[str, Any] | None]
) -> UndoPlan:
    """Plan the undoing of one batch.

    Args:
        entries: The batch's movements in the order they were written.
        changes: The batch's row changes in the order they were written.
        current: ``{row: cells now}``, None or missing = it does not exist; the row version is not among the cells.

    Returns:
        The plan; ``blocked`` names each row that no longer is what the batch left.
    """
    first: dict[RowKey, Mapping[str, Any] | None] = {}
    last: dict[RowKey, Mapping[str, Any] | None] = {}
    for change in changes:
        first.setdefault(change.key, change.before)
        last[change.key] = change.after
    blocked = tuple(sorted(key for key, after in last.items() if current.get(key) != after))
    back = tuple(Entry(entry.lot, entry.quantity, entry.target, entry.source) for entry in reversed(entries))
    return UndoPlan(back, first, blocked)
