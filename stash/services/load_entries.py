"""First step of a load: headers and cells, each looked at alone; every fault is gathered, none stops the others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from stash.errors import CellProblem
from stash.exchange import RawTable, RawTables
from stash.kernel.cells import Fault, Value, read_cell, write_cell
from stash.kernel.tables import TABLE_BY_NAME, TABLES, Table

Identity = tuple[str, ...]
"""The texts of a row's identity cells."""


@dataclass(slots=True, eq=False)
class Entry:
    """One incoming row.

    Args:
        table: Its table's name.
        number: Its row number, 1 for the first row below the header; 0 for a row that is already stored.
        cells: ``{column: text}`` as written.
        row: ``{column: value}``; once merged, every column of the table is there.
        identity: Which row it is.
        faulty: A cell of it could not be read; what depends on it is not looked at.
        old: The stored row it changes (with ``version``), None for a new one.
    """

    table: str
    number: int
    cells: dict[str, str]
    row: dict[str, Any]
    identity: Identity
    faulty: bool = False
    old: dict[str, Any] | None = None

    @property
    def changes(self) -> bool:
        """Whether it differs from the stored row it names."""
        return self.old is not None and any(self.old[name] != value for name, value in self.row.items())

    def problem(self, column: str, fault: Fault) -> CellProblem:
        """Say where a fault is."""
        value = self.cells.get(column, "")
        if not self.number:
            value = value or " ".join(self.identity).strip()
        return CellProblem(self.table, self.number, column, value, fault.problem, fault.hint)


@dataclass(slots=True)
class Incoming:
    """Everything that comes in.

    Args:
        entries: ``{table: {identity: entry}}`` in the order of the tables.
        problems: What was wrong with headers and cells.
        unreadable: The rows of some table can't be told apart, so whatever names them can't be judged.
    """

    entries: dict[str, dict[Identity, Entry]] = field(default_factory=dict)
    problems: list[CellProblem] = field(default_factory=list)
    unreadable: bool = False

    @property
    def few(self) -> bool:
        """Few enough rows to look up what they need one by one."""
        return sum(len(rows) for rows in self.entries.values()) <= 20  # noqa: PLR2004 - a form, not a file


def read_entries(tables: RawTables) -> Incoming:
    """Read every cell of every table.

    Args:
        tables: As they came in.

    Returns:
        The rows that can be told apart, and all that is wrong.
    """
    incoming = Incoming()
    for name in tables:
        if name not in TABLE_BY_NAME:
            near = get_close_matches(name, TABLE_BY_NAME, 1)
            hint = f"Did you mean {near[0]}?" if near else "The tables are: " + ", ".join(TABLE_BY_NAME) + "."
            incoming.problems.append(CellProblem(name, 0, "", "", "is not a table of ours", hint))
    for table in TABLES:
        if table.name in tables:
            _read_table(table, tables[table.name], incoming)
    return incoming


def _read_table(table: Table, raw: RawTable, incoming: Incoming) -> None:
    rows: dict[Identity, Entry] = {}
    incoming.entries[table.name] = rows
    incoming.problems.extend(_header_problems(table, raw))
    if not set(raw.header).issuperset(name for name in table.identity if table.column(name).required):
        incoming.unreadable = True
        return
    for number, cells in raw.rows:
        entry = _read_row(table, raw.header, number, cells, incoming.problems)
        if entry is None:
            continue
        twin = rows.setdefault(entry.identity, entry)
        if twin is not entry:
            fault = Fault(
                f"is the same row as row {twin.number}", "Each row may stand there once; remove or merge one."
            )
            incoming.problems.append(entry.problem(table.identity[0], fault))


def _header_problems(table: Table, raw: RawTable) -> Iterator[CellProblem]:
    seen: set[str] = set()
    if not raw.header:
        yield CellProblem(table.name, 0, "", "", "has no header", "The first row names the columns: " + _columns(table))
        return
    for position, name in enumerate(raw.header, 1):
        if not name:
            yield CellProblem(
                table.name, 0, "", "", f"has a column without a name (column {position})", "Name or remove it."
            )
        elif name in seen:
            yield CellProblem(table.name, 0, name, "", "is there twice", "Keep one of the two columns.")
        elif name not in table.names:
            near = get_close_matches(name, table.names, 1)
            hint = f"Did you mean {near[0]}?" if near else "The columns are: " + _columns(table)
            yield CellProblem(table.name, 0, name, "", "is not a column of this table", hint)
        seen.add(name)
    for name in table.identity:
        if name not in seen and table.column(name).required:
            hint = "It tells the rows apart; the columns are: " + _columns(table)
            yield CellProblem(table.name, 0, name, "", "is missing", hint)


def _columns(table: Table) -> str:
    return ", ".join(table.names) + "."


def _read_row(
    table: Table, header: tuple[str, ...], number: int, cells: list[str], problems: list[CellProblem]
) -> Entry | None:
    """Read one row; None when its identity can't be read."""
    entry = Entry(table.name, number, dict(zip(header, cells, strict=False)), {}, ())
    before = len(problems)
    for name in table.names:
        if name not in header:
            continue
        column = table.column(name)
        value = read_cell(column, entry.cells.get(name, ""))
        if isinstance(value, Fault):
            problems.append(entry.problem(name, value))
            entry.row[name] = None
        else:
            entry.row[name] = value
    if any(cell.strip() for cell in cells[len(header) :]):
        fault = Fault("has more cells than the header has columns", "Look for a comma or quote too many.")
        problems.append(entry.problem("", fault))
    entry.faulty = len(problems) > before
    for name in table.identity:
        if name not in entry.row:
            entry.row[name] = None
        if entry.row[name] is None and (table.column(name).required or entry.cells.get(name, "").strip()):
            return None
    entry.identity = tuple(write_cell(table.column(name), entry.row[name]) for name in table.identity)
    return entry


def empty_value(table: Table, name: str) -> Value | Fault:
    """What a new row has in a column nobody gave."""
    return read_cell(table.column(name), "")
