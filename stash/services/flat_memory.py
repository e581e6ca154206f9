"""What is remembered of a flat sheet: its columns, the answers about it, and which lot each row became."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import insert, select, update
from sqlalchemy.orm import Session

from stash.db.models import Batch, Sheet, SheetRow
from stash.db.unit import Work
from stash.exchange.flat.vocabulary import plain

TELLING = ("number", "what", "kind", "design", "place", "size", "machine", "condition", "note")
"""The fields that may tell rows apart, the most telling first."""
_JOINT = "\x1f"


@dataclass(frozen=True, slots=True)
class Taken:
    """The lot a row became.

    Args:
        lot: Its code.
        wrote: ``{column: cell text}`` as it was last taken in; None where that was undone since.
        batch: The batch that wrote it.
    """

    lot: str
    wrote: Mapping[str, str] | None
    batch: int | None


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered of one sheet.

    Args:
        known: It was taken in before.
        columns: ``{column name: field}``.
        answers: ``{question: answer}``.
        rows: ``{key: the lot it became}``.
    """

    known: bool = False
    columns: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    rows: Mapping[str, Taken] = field(default_factory=dict)

    @property
    def by_lot(self) -> dict[str, Taken]:
        """``{lot: as it was last taken in}``."""
        return {taken.lot: taken for taken in sorted(self.rows.values(), key=lambda each: each.batch or 0)}


def remembered(session: Session, fingerprint: str) -> Memory:
    """Return what is remembered of the sheet with these headers."""
    sheet = session.get(Sheet, fingerprint)
    if sheet is None:
        return Memory()
    undone = _undone(session)
    rows = session.execute(
        select(SheetRow.key, SheetRow.lot, SheetRow.wrote, SheetRow.batch).where(SheetRow.sheet == fingerprint)
    )
    taken = {row.key: Taken(row.lot, None if row.batch in undone else row.wrote, row.batch) for row in rows}
    return Memory(True, sheet.columns, sheet.answers, taken)


def _undone(session: Session) -> frozenset[int]:
    """Return the batches whose effect is taken back: undone, and the undoing not undone itself."""
    pairs = session.execute(select(Batch.undoes, Batch.id).where(Batch.undoes.is_not(None)))
    by = {row.undoes: row.id for row in pairs}

    def is_undone(batch: int) -> bool:
        taken_back, later = False, by.get(batch)
        while later is not None:
            taken_back, later = not taken_back, by.get(later)
        return taken_back

    return frozenset(batch for batch in by if batch is not None and is_undone(batch))


def remember(
    work: Work,
    fingerprint: str,
    name: str,
    columns: Mapping[str, str],
    answers: Mapping[str, str],
    rows: Mapping[str, tuple[str, Mapping[str, str]]],
    before: Memory,
) -> None:
    """Write down what was taken in.

    Args:
        work: The unit of work, after the lots were written.
        fingerprint: The sheet's.
        name: The file's name.
        columns: ``{column name: field}``.
        answers: ``{question: answer}``.
        rows: ``{key: (lot, cells it was given)}``; keys of earlier versions that are not here stay.
        before: What was remembered.
    """
    connection = work.session.connection()
    values: dict[str, Any] = {"name": name, "columns": dict(columns), "answers": dict(answers)}
    if not before.known:
        connection.execute(insert(Sheet).values(fingerprint=fingerprint, taken_at=dt.datetime.now(dt.UTC), **values))
    elif (dict(before.columns), dict(before.answers)) != (values["columns"], values["answers"]) or work.changed:
        taken_at = dt.datetime.now(dt.UTC)
        connection.execute(update(Sheet).where(Sheet.fingerprint == fingerprint).values(taken_at=taken_at, **values))
    batch = work.batch if work.changed else None
    new, changed = [], []
    for key, (lot, wrote) in rows.items():
        known = before.rows.get(key)
        row = {"sheet": fingerprint, "key": key, "lot": lot, "wrote": dict(wrote), "batch": batch}
        if known is None:
            new.append(row)
        elif known.lot != lot or known.wrote != dict(wrote):
            changed.append(row)
    if new:
        connection.execute(insert(SheetRow), new)
    if changed:
        for row in changed:
            same = (SheetRow.sheet == fingerprint) & (SheetRow.key == row["key"])
            connection.execute(
                update(SheetRow).where(same).values(lot=row["lot"], wrote=row["wrote"], batch=row["batch"])
            )


def best_keys(rows: Sequence[Mapping[str, str]], fields: Iterable[str]) -> tuple[str, ...]:
    """Return the fewest fields that tell all rows apart, by adding the most telling until they do.

    Args:
        rows: ``{field: text}`` of each row.
        fields: The fields there are.

    Returns:
        Fields in the order of ``TELLING``; all of them where rows are alike in everything.
    """
    there = [name for name in TELLING if name in set(fields)]
    for count in range(1, len(there) + 1):
        seen = {_joined(row, there[:count]) for row in rows}
        if len(seen) == len(rows):
            return tuple(there[:count])
    return tuple(there)


def row_keys(rows: Sequence[Mapping[str, str]], fields: Sequence[str]) -> list[tuple[str, int]]:
    """Return each row's mark and how many rows before it read the same; that count is part of the mark."""
    seen: Counter[str] = Counter()
    keys = []
    for row in rows:
        joined = _joined(row, fields)
        seen[joined] += 1
        text = joined if seen[joined] == 1 else f"{joined}{_JOINT}{seen[joined]}"
        keys.append((hashlib.sha256(text.encode()).hexdigest()[:24], seen[joined] - 1))
    return keys


def _joined(row: Mapping[str, str], fields: Sequence[str]) -> str:
    return _JOINT.join(plain(row.get(name, "")) for name in fields)
