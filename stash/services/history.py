"""The history of a lot, a place, a machine or a day, and undoing what was done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, func, or_, select, union_all
from sqlalchemy.orm import Session

from stash.db.models import ROWS, Batch, Change, Movement
from stash.db.prefixes import begins
from stash.db.rows import SEPARATOR, image
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, NotFound
from stash.kernel.cells import Fault, read_cell
from stash.kernel.ends import parse_end, place_end
from stash.kernel.tables import TABLE_BY_NAME
from stash.ledger.balance import Entry
from stash.ledger.undo import RowChange, RowKey, plan_undo
from stash.services.handling import Done
from stash.services.in_the_way import in_the_way
from stash.services.photo_rows import refuse_photographed
from stash.services.reservations import refuse_taken_back

Condition = ColumnElement[bool]


@dataclass(frozen=True, slots=True)
class Line:
    """One batch of the history.

    Args:
        batch: Its id.
        at: When, UTC.
        who: Who.
        why: Why.
        entries: Its first movements, those of what was asked for before others.
        moved: How many movements it has.
        rows: Which rows it changed: (table, identity), without the lots' own.
        undoes: The batch it undid, None if none.
        undone_by: The batch that undid it, None if none.
    """

    batch: int
    at: dt.datetime
    who: str
    why: str
    entries: tuple[Entry, ...]
    moved: int
    rows: tuple[RowKey, ...]
    undoes: int | None
    undone_by: int | None


def history(
    store: Store,
    *,
    lot: str = "",
    place: str = "",
    machine: str = "",
    day: dt.date | None = None,
    before: int | None = None,
    limit: int = 50,
) -> tuple[Line, ...]:
    """Return what happened, newest first.

    Args:
        store: The database.
        lot: Only batches that moved or changed this lot.
        place: Only batches that moved something into or out of this place.
        machine: Only batches that touched this machine.
        day: Only batches of this day, UTC.
        before: Only batches before this one, for turning pages.
        limit: At most so many.
    """
    conditions: list[Condition] = []
    asked: list[Condition] = []
    if lot:
        asked.append(Movement.lot == lot)
        conditions.append(or_(_moved(asked[-1]), _changed("lots", lot)))
    if place:
        end = str(place_end(place))
        asked.append(or_(Movement.source == end, Movement.target == end))
        conditions.append(or_(_moved(asked[-1]), _changed("places", place)))
    if machine:
        start = f"machine:{machine}:"
        ends = (Movement.source, Movement.target)
        asked.append(or_(*(begins(each, start) for each in ends)))
        conditions.append(or_(_moved(asked[-1]), _changed("machines", machine), _changed("fitted", machine, part=True)))
    if day is not None:
        begin = dt.datetime.combine(day, dt.time(), dt.UTC)
        conditions.append(and_(Batch.at >= begin, Batch.at < begin + dt.timedelta(days=1)))
    if before is not None:
        conditions.append(Batch.id < before)
    with store.reading() as session:
        query = select(Batch).where(*conditions).order_by(Batch.id.desc()).limit(limit)
        return _lines(session, session.execute(query).scalars().all(), asked)


def undo(store: Store, batch: int, *, who: str) -> Done:
    """Undo a batch: its movements the other way, its rows as they were. An undo can itself be undone.

    Raises:
        NotFound: There is no such batch.
        Conflict: It was undone already, something it left was changed since, or a build was promised what it would take
            away; names what stands in the way.
    """
    catalogue = store.catalogue()

    def act(work: Work) -> Done:
        session = work.session
        row = session.get(Batch, batch)
        if row is None:
            raise NotFound(f"There is no entry {batch} in the history", "Look at the history again.")
        by = session.execute(select(Batch.id).where(Batch.undoes == batch)).scalars().first()
        if by is not None:
            raise Conflict(f"Entry {batch} was undone already by entry {by}", "Undo that one to have it again.")
        entries = [_entry(each) for each in _movements(session, [batch])]
        changes = [
            RowChange((change.table, change.identity), _plain(change.before), _plain(change.after))
            for change in session.execute(select(Change).where(Change.batch == batch).order_by(Change.id)).scalars()
        ]
        rows = {change.key: _current(session, change.key) for change in changes}
        plan = plan_undo(
            entries, changes, {key: _plain(image(key[0], now)) if now else None for key, now in rows.items()}
        )
        if plan.blocked:
            raise Conflict(
                f"Entry {batch} can't be undone: {in_the_way(session, batch, plan.blocked)}",
                "Undo that first, the newest before the older.",
            )
        work.move([(entry.lot, entry.quantity, entry.source, entry.target) for entry in plan.entries])
        _put_rows(work, plan.rows, rows)
        refuse_taken_back(session, catalogue, plan.entries)
        return Done(work.batch, f"Undone: {row.why}.")

    return store.write(who, f"undo of {batch}", act, undoes=batch)


def _moved(condition: Condition) -> Condition:
    return Batch.id.in_(select(Movement.batch).where(condition))


def _changed(table: str, identity: str, *, part: bool = False) -> Condition:
    start = begins(Change.identity, identity + SEPARATOR)
    return Batch.id.in_(
        select(Change.batch).where(Change.table == table, start if part else Change.identity == identity)
    )


def _movements(session: Session, batches: Iterable[int]) -> list[Movement]:
    query = select(Movement).where(Movement.batch.in_(list(batches))).order_by(Movement.id)
    return list(session.execute(query).scalars())


def _entry(row: Any) -> Entry:
    return Entry(row.lot, row.quantity, parse_end(row.source), parse_end(row.target))


_MOST_ROWS = 20
"""How many movements and changed rows a line of the history names; a load may have thousands."""


def _lines(session: Session, batches: Iterable[Batch], asked: Sequence[Condition]) -> tuple[Line, ...]:
    found = list(batches)
    ids = [row.id for row in found]
    entries: dict[int, list[Entry]] = {key: [] for key in ids}
    columns = (Movement.batch, Movement.id, Movement.lot, Movement.quantity, Movement.source, Movement.target)
    movements = {row.id: row for row in _first_of_each(session, ids, columns, *asked, asked=True)} if asked else {}
    movements |= {row.id: row for row in _first_of_each(session, ids, columns) if row.id not in movements}
    for row in movements.values():
        if len(entries[row.batch]) < _MOST_ROWS:
            entries[row.batch].append(_entry(row))
    counts = select(Movement.batch, func.count()).where(Movement.batch.in_(ids)).group_by(Movement.batch)
    moved: dict[int, int] = dict(session.execute(counts).all())
    rows: dict[int, list[RowKey]] = {key: [] for key in ids}
    shown = Change.table.not_in(("lots", "lot_measures"))
    for each in _first_of_each(session, ids, (Change.batch, Change.id, Change.table, Change.identity), shown):
        rows[each.batch].append((each.table, each.identity))
    undone = {row.undoes: row.id for row in session.execute(select(Batch).where(Batch.undoes.in_(ids))).scalars()}
    return tuple(
        Line(
            row.id,
            row.at,
            row.who,
            row.why,
            tuple(entries[row.id]),
            moved.get(row.id, 0),
            tuple(dict.fromkeys(rows[row.id])),
            row.undoes,
            undone.get(row.id),
        )
        for row in found
    )


def _first_of_each(
    session: Session, batches: Sequence[int], columns: tuple[Any, ...], *conditions: Condition, asked: bool = False
) -> Iterable[Any]:
    """The first rows of each batch, the batch and the id being the first columns.

    One limited search for each batch in one statement: numbering the rows would read all of a large load's. Where
    something is asked, that finds fewer rows than the batch does, so the batch's own index is kept out of it.
    """
    batch, key = columns[:2]
    batch = batch + 0 if asked else batch
    firsts = [
        select(select(*columns).where(batch == each, *conditions).order_by(key).limit(_MOST_ROWS).subquery())
        for each in batches
    ]
    return session.execute(union_all(*firsts)).all() if firsts else ()


def _plain(cells: Mapping[str, Any] | None) -> dict[str, Any] | None:
    return None if cells is None else {name: value for name, value in cells.items() if name != "version"}


def _current(session: Session, key: RowKey) -> dict[str, Any] | None:
    """Read a row as it is now, ``{column: value}``."""
    table, sql = TABLE_BY_NAME[key[0]], ROWS[key[0]].__table__
    cells = dict(zip(table.identity, key[1].split(SEPARATOR), strict=True))
    conditions = []
    for name, text in cells.items():
        value = read_cell(table.column(name), text) if text else None
        conditions.append(sql.c[name].is_(None) if value is None else sql.c[name] == value)
    row = session.execute(select(sql).where(*conditions)).mappings().first()
    return dict(row) if row is not None else None


def _put_rows(
    work: Work,
    wanted: Mapping[RowKey, Mapping[str, Any] | None],
    current: Mapping[RowKey, dict[str, Any] | None],
) -> None:
    """Write rows back.

    A lot that came with the batch keeps its code and its kind and holds nothing; places its movements name stay too.
    """
    empty = [now for key, now in current.items() if key[0] == "lots" and wanted[key] is None and now is not None]
    kept = {("kinds", lot["kind"]) for lot in empty}
    for lot in empty:
        place = lot["place"]
        while place is not None and ("places", place) not in kept:
            kept.add(("places", place))
            place = (current.get(("places", place)) or {}).get("inside")
    gone = {key for key, cells in wanted.items() if cells is None and key[0] != "lots"} - kept
    for key, cells in wanted.items():
        table, now = key[0], current[key]
        if cells is None and table == "lots" and now is not None:
            work.update(table, [(now, {**_without(now, gone), "quantity": 0})])
        elif cells is None and key in kept:
            continue
        elif cells is None and now is not None:
            refuse_photographed(work.session, table, now)
            work.delete(table, [now])
        elif cells is not None:
            values = _values(table, cells)
            if now is None:
                work.insert(table, [values])
            else:
                work.update(table, [(now, {**now, **values})])


def _without(lot: Mapping[str, Any], gone: Collection[RowKey]) -> dict[str, Any]:
    """Return a lot that names none of the rows that go."""
    named = {column.name: column.ref for column in TABLE_BY_NAME["lots"].columns if column.ref and not column.required}
    return {name: None if (named.get(name, ""), value) in gone else value for name, value in lot.items()}


def _values(table: str, cells: Mapping[str, Any]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for column in TABLE_BY_NAME[table].columns:
        text = cells.get(column.name, "")
        value = read_cell(column, str(text)) if text else None
        if isinstance(value, Fault):
            raise Conflict(f"{table} {column.name} held {text!r}, which is no longer allowed", "Mend it by hand.")
        values[column.name] = value
    return values
