"""Rows of the tables as forms and lists show them: cells as text, a page at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, RowMapping, Select, String, and_, cast, func, or_, select, true
from sqlalchemy import Table as SqlTable

from stash.db.models import ROWS
from stash.db.rows import identity_cells, image
from stash.db.store import Store
from stash.errors import InvalidInput, NotFound
from stash.kernel.cells import Fault, Value, read_cell
from stash.kernel.codes import grouped
from stash.kernel.tables import TABLE_BY_NAME, Cell, Table
from stash.services.find import thing
from stash.services.rule_words import rule_gist
from stash.services.titles import model_title

PAGE_SIZE = 50
_SEARCHED = frozenset({Cell.TEXT, Cell.SLUG, Cell.SPOT, Cell.CODE, Cell.CHOICE, Cell.LIST})


@dataclass(frozen=True, slots=True)
class RowView:
    """One row.

    Args:
        table: Its table.
        identity: The texts of its identity cells, in the table's order.
        cells: ``{column: text}``, every column present.
        version: How often it was written.
    """

    table: str
    identity: tuple[str, ...]
    cells: Mapping[str, str]
    version: int


@dataclass(frozen=True, slots=True)
class RowPage:
    """One page of rows.

    Args:
        rows: In order of identity.
        total: How many there are on all pages.
        number: Which page, from 1.
        last: How many pages, at least 1.
    """

    rows: tuple[RowView, ...]
    total: int
    number: int
    last: int


def rows(
    store: Store,
    table: str,
    where: Mapping[str, str] | None = None,
    *,
    words: str = "",
    number: int = 1,
    size: int = PAGE_SIZE,
) -> RowPage:
    """Read a page of a table's rows.

    Args:
        store: The database.
        table: Its name.
        where: ``{column: text}`` that must be equal; "" means an empty cell.
        words: Each word must stand in some text cell, in any case.
        number: Which page, from 1; beyond the last means the last.
        size: Rows on a page.

    Raises:
        NotFound: No such table.
        InvalidInput: A value of ``where`` that its column can't hold.
    """
    described, sql = _table(table)
    condition = and_(true(), *_equal(described, sql, where or {}), *_worded(described, sql, words))
    with store.reading() as session:
        total = session.execute(select(func.count()).select_from(sql).where(condition)).scalar_one()
        last = max(1, -(-total // size))
        at = min(max(1, number), last)
        ordered = _ordered(described, sql, select(sql).where(condition))
        found = session.execute(ordered.limit(size).offset((at - 1) * size)).mappings().all()
    return RowPage(tuple(_view(described, row) for row in found), total, at, last)


def row(store: Store, table: str, identity: Sequence[str]) -> RowView:
    """Read one row by the texts of its identity cells.

    Raises:
        NotFound: No such table or row.
    """
    described, sql = _table(table)
    if len(identity) != len(described.identity):
        raise NotFound(f"No row of {table} goes by that name", "Look in the list.")
    named = dict(zip(described.identity, identity, strict=True))
    try:
        condition = and_(*_equal(described, sql, named))
    except InvalidInput:
        raise NotFound(f"No row of {table} goes by {' '.join(identity)!r}", "Look in the list.") from None
    with store.reading() as session:
        found = session.execute(select(sql).where(condition)).mappings().first()
    if found is None:
        raise NotFound(f"No row of {table} goes by {' '.join(identity).strip()!r}", "It may have been deleted.")
    return _view(described, found)


def counts(store: Store, tables: Sequence[str]) -> dict[str, int]:
    """Count the rows of some tables.

    Returns:
        ``{table: rows}`` in the order given.
    """
    with store.reading() as session:
        return {
            name: session.execute(select(func.count()).select_from(_table(name)[1])).scalar_one() for name in tables
        }


def options(
    store: Store, table: str, where: Mapping[str, str] | None = None, *, words: str = "", most: int = 200
) -> list[tuple[str, str]]:
    """Offer the rows of a table to choose from.

    Args:
        store: The database.
        table: Its name; its identity's last cell is what gets chosen.
        where: ``{column: text}`` that must be equal.
        words: Each word must stand in some text cell.
        most: How many at most.

    Returns:
        ``(key, what people read)``, in order of what people read; at most one more than ``most``, which tells
        that there are more.
    """
    described, _ = _table(table)
    page = rows(store, table, where, words=words, size=most + 1)
    keys = "key" if "key" in described.names else described.identity[0]
    say = _by_name(store) if table in _NAMED else _said
    said = {each.cells[keys]: say(table, each.cells) for each in page.rows}
    return sorted(said.items(), key=lambda pair: (pair[1].casefold(), pair[0]))


def _said(table: str, cells: Mapping[str, str]) -> str:
    """What people read for a row."""
    name = cells.get("name") or cells.get("number") or cells.get("key") or ""
    if table == "places":
        return f"{name} ({grouped(cells['code'])})"
    if table in {"designs", "measures"} and cells["key"] != name:
        return f"{name} ({cells['key']})"
    return name


_NAMED = frozenset({"machines", "lots", "models", "rules"})
"""Tables whose rows are called by what other tables say of them."""


def _by_name(store: Store) -> Callable[[str, Mapping[str, str]], str]:
    catalogue, stock = store.catalogue(), store.stock()

    def said(table: str, cells: Mapping[str, str]) -> str:
        if table == "models":
            return model_title(catalogue, cells["key"])
        if table == "rules":
            rule = catalogue.rulebook.rule(cells["key"])
            return rule_gist(catalogue, rule) if rule else cells["key"]
        known = thing(catalogue, stock, cells["code"])
        serial = f", No. {cells['serial']}" if cells.get("serial") else ""
        return f"{known.title if known else ''}{serial} ({grouped(cells['code'])})"

    return said


def _table(name: str) -> tuple[Table, SqlTable]:
    if name not in TABLE_BY_NAME:
        raise NotFound(f"There is no table {name!r}", "The tables are: " + ", ".join(TABLE_BY_NAME) + ".")
    sql = ROWS[name].__table__
    assert isinstance(sql, SqlTable)  # noqa: S101 - mapped classes here are whole tables
    return TABLE_BY_NAME[name], sql


def _equal(described: Table, sql: SqlTable, where: Mapping[str, str]) -> list[ColumnElement[bool]]:
    conditions: list[ColumnElement[bool]] = []
    for name, text in where.items():
        column = described.column(name)
        value: Value | Fault = read_cell(column, text) if text.strip() else None
        if isinstance(value, Fault):
            raise InvalidInput(f"{text!r} {value.problem}", value.hint)
        conditions.append(sql.c[name].is_(None) if value is None else sql.c[name] == value)
    return conditions


def _worded(described: Table, sql: SqlTable, words: str) -> list[ColumnElement[bool]]:
    columns = [sql.c[column.name] for column in described.columns if column.cell in _SEARCHED]
    return [
        or_(*(func.lower(cast(column, String)).contains(word, autoescape=True) for column in columns))
        for word in words.casefold().split()[:8]
    ]


def _ordered(described: Table, sql: SqlTable, query: Select[Any]) -> Select[Any]:
    return query.order_by(*(sql.c[name] for name in described.identity))


def _view(described: Table, found: RowMapping) -> RowView:
    values: dict[str, Any] = {str(name): value for name, value in found.items()}
    cells = image(described.name, values)
    version = cells.pop("version", 0)
    full = {name: str(cells.get(name, "")) for name in described.names}
    return RowView(described.name, identity_cells(described, values), full, int(version))
