"""The unit of work: one transaction of writing that remembers what it changed.

Rows may be written through the session (``work.session.add``, attributes, ``work.session.delete``) or, for
many at once, through ``insert``, ``update`` and ``delete`` here. Either way every row's image before and after
goes into ``changes`` under one batch, codes are entered in the one namespace, and the revision counters move.
Statements executed past these ways are not remembered: don't.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from contextvars import ContextVar
from typing import Any

from sqlalchemy import Table as SqlTable
from sqlalchemy import and_, bindparam, delete, event, insert, inspect, update
from sqlalchemy.orm import Session

from stash.db import findable
from stash.db.models import CODE_TYPES, ROWS, Batch, Change, Code, Movement, Revision, Row
from stash.db.references import referrers
from stash.db.rows import identity_text, image, revision_name
from stash.kernel.ends import End

ORIGIN: ContextVar[str | None] = ContextVar("origin", default=None)
"""From where what this thread writes was asked for: a network address, or "command line"."""

Followers = dict[tuple[str, str], tuple[dict[str, Any], dict[str, Any]]]
"""``{(table, identity text before): (row before, row after)}``."""


class Work:
    """One transaction of writing.

    Args:
        session: The open session.
        who: Who does it.
        why: Why, in a few words for the history.
        undoes: The batch this one undoes, or None.
    """

    def __init__(self, session: Session, who: str, why: str, undoes: int | None = None) -> None:
        self.session = session
        self.who = who
        self.why = why
        self.undoes = undoes
        self._batch: int | None = None
        self._touched: set[str] = set()
        self._stale: findable.Stale = {}
        self._unseen = False
        event.listen(session, "before_flush", self._before_flush)

    @property
    def batch(self) -> int:
        """The id of this act in ``batches``, entered on first use: an act that changes nothing leaves no trace."""
        if self._batch is None:
            row = {"at": dt.datetime.now(dt.UTC), "who": self.who, "why": self.why, "undoes": self.undoes}
            row["address"] = ORIGIN.get()
            entered = self.session.connection().execute(insert(Batch).values(row).returning(Batch.id))
            self._batch = int(entered.scalar_one())
        return self._batch

    @property
    def changed(self) -> bool:
        """Whether anything was written so far."""
        return self._batch is not None

    def insert(self, table: str, rows: Sequence[Mapping[str, Any]]) -> None:
        """Insert rows of a table.

        Args:
            table: Its name.
            rows: ``{column: value}``, every column present.
        """
        if not rows:
            return
        connection = self.session.connection()
        if table in CODE_TYPES:
            connection.execute(insert(Code), [{"code": row["code"], "type": CODE_TYPES[table]} for row in rows])
        connection.execute(insert(_sql(table)), [{**row, "version": 1} for row in rows])
        self._remember(table, ((None, {**row, "version": 1}) for row in rows))

    def update(self, table: str, pairs: Sequence[tuple[Mapping[str, Any], Mapping[str, Any]]]) -> None:
        """Change rows of a table.

        Args:
            table: Its name.
            pairs: Each row before (as read, with ``version`` and ``id`` where the table has one) and after;
                the identity stays.
        """
        if not pairs:
            return
        sql = _sql(table)
        keys = list(sql.primary_key.columns)
        columns = [column.name for column in sql.columns if not column.primary_key]
        statement = (
            update(sql)
            .where(and_(*(column == bindparam(f"k_{column.name}") for column in keys)))
            .values({name: bindparam(f"v_{name}") for name in columns})
        )
        after = [{**new, "version": old["version"] + 1} for old, new in pairs]
        parameters = [
            {f"k_{column.name}": old[column.name] for column in keys} | {f"v_{name}": new[name] for name in columns}
            for (old, _), new in zip(pairs, after, strict=True)
        ]
        self.session.connection().execute(statement, parameters)
        self._remember(table, zip((old for old, _ in pairs), after, strict=True))

    def delete(self, table: str, rows: Sequence[Mapping[str, Any]]) -> None:
        """Delete rows of a table.

        Args:
            table: Its name.
            rows: The rows as read, with ``id`` where the table has one.
        """
        if not rows:
            return
        sql, connection = _sql(table), self.session.connection()
        keys = list(sql.primary_key.columns)
        statement = delete(sql).where(and_(*(column == bindparam(f"k_{column.name}") for column in keys)))
        connection.execute(statement, [{f"k_{column.name}": row[column.name] for column in keys} for row in rows])
        if table in CODE_TYPES:
            connection.execute(delete(Code).where(Code.code == bindparam("gone")), [{"gone": r["code"]} for r in rows])
        self._remember(table, ((row, None) for row in rows))

    def rename(self, table: str, row: Mapping[str, Any], identity: Mapping[str, Any]) -> None:
        """Give a row another identity; the rows that refer to it follow, and are remembered too.

        Args:
            table: Its name; not one with codes, which stay for ever.
            row: The row as read.
            identity: ``{identity column: new value}``.
        """
        sql, connection = _sql(table), self.session.connection()
        followers: Followers = {}
        self._follow(table, row, identity, followers)
        statement = update(sql).where(*(column == row[column.name] for column in sql.primary_key.columns))
        connection.execute(statement.values(**identity, version=row["version"] + 1))
        self._remember(table, [(row, {**row, **identity, "version": row["version"] + 1})])
        for (follower, _), pair in followers.items():
            self._remember(follower, [pair])

    def _follow(self, table: str, row: Mapping[str, Any], identity: Mapping[str, Any], followers: Followers) -> None:
        """Gather what a rename does to the rows that refer to a row, and to those that refer to them."""
        for found in referrers(self.session, table, row):
            following = {here: identity[there] for here, there in found.ends.items() if there in identity}
            for old in found.rows:
                pair = followers.setdefault((found.table, identity_text(found.table, old)), (old, dict(old)))
                if following.items() <= pair[1].items():
                    continue
                pair[1].update(following)
                self._follow(found.table, old, following, followers)

    def move(self, movements: Iterable[tuple[str, int, End, End]]) -> None:
        """Enter movements in the ledger; the lots' own rows are changed by the caller.

        Args:
            movements: (lot code, quantity, from, to), in order.
        """
        rows = [
            {"lot": lot, "quantity": quantity, "source": str(source), "target": str(target)}
            for lot, quantity, source, target in movements
        ]
        if rows:
            batch = self.batch
            self.session.connection().execute(insert(Movement), [{**row, "batch": batch} for row in rows])
            self._touched.add("stock")

    def finish(self) -> None:
        """Flush, move the revision counters of what was touched, and make anew what the search box looks through."""
        self.session.flush()
        if self._unseen:
            findable.rebuild(self.session.connection())
        elif self._stale:
            findable.refresh(self.session.connection(), self._stale)
        for name in sorted(self._touched):
            self.session.connection().execute(
                update(Revision).where(Revision.name == name).values(counter=Revision.counter + 1)
            )

    def touch(self, *names: str) -> None:
        """Say that ``catalogue`` or ``stock`` changed in a way not seen here."""
        self._touched.update(names)
        self._unseen = True

    def _remember(self, table: str, pairs: Iterable[tuple[Mapping[str, Any] | None, Mapping[str, Any] | None]]) -> None:
        batch = self.batch
        pairs = list(pairs)
        if table in findable.OF:
            written = (row[findable.OF[table]] for pair in pairs for row in pair if row is not None)
            self._stale.setdefault(table, set()).update(key for key in written if key)
        rows = [
            {
                "batch": batch,
                "table": table,
                "identity": identity_text(table, after or before or {}),
                "before": before and image(table, before),
                "after": after and image(table, after),
            }
            for before, after in pairs
        ]
        self.session.connection().execute(insert(Change), rows)
        self._touched.add(revision_name(table))

    def _before_flush(self, session: Session, _context: Any, _instances: Any) -> None:
        """Remember what is about to be flushed."""
        seen: dict[str, list[tuple[dict[str, Any] | None, dict[str, Any] | None]]] = {}
        for row in session.new:
            if isinstance(row, Row):
                _give_defaults(row)
                seen.setdefault(row.__tablename__, []).append((None, {**_values(row), "version": 1}))
        for row in session.dirty:
            if isinstance(row, Row) and session.is_modified(row):
                after = {**_values(row), "version": row.version + 1}
                seen.setdefault(row.__tablename__, []).append((_values_before(row), after))
        for row in session.deleted:
            if isinstance(row, Row):
                seen.setdefault(row.__tablename__, []).append((_values_before(row), None))
        for table, pairs in seen.items():
            if table in CODE_TYPES:
                self._enter_codes(table, pairs)
            self._remember(table, pairs)

    def _enter_codes(
        self, table: str, pairs: Sequence[tuple[Mapping[str, Any] | None, Mapping[str, Any] | None]]
    ) -> None:
        connection = self.session.connection()
        for before, after in pairs:
            if before is None and after is not None:
                connection.execute(insert(Code).values(code=after["code"], type=CODE_TYPES[table]))
            elif after is None and before is not None:
                connection.execute(delete(Code).where(Code.code == before["code"]))


def _sql(table: str) -> SqlTable:
    sql = ROWS[table].__table__
    assert isinstance(sql, SqlTable)  # noqa: S101 - mapped classes here are whole tables
    return sql


def _columns(row: Row) -> list[str]:
    return [column.name for column in row.__table__.columns if column.name != "id"]


def _values(row: Row) -> dict[str, Any]:
    return {name: getattr(row, name) for name in _columns(row)}


def _values_before(row: Row) -> dict[str, Any]:
    attributes = inspect(row).attrs
    values = {}
    for name in _columns(row):
        old = attributes[name].history.deleted
        values[name] = old[0] if old else getattr(row, name)
    return values


def _give_defaults(row: Row) -> None:
    """Fill what the database would fill, so that the image is whole."""
    for column in row.__table__.columns:
        if getattr(row, column.name) is None and column.default is not None and column.default.is_scalar:
            setattr(row, column.name, column.default.arg)
