"""Whole tables in and out: the one way rows come into the database from outside, and leave it.

A load is all or nothing: every fault of every cell is gathered, and with any fault nothing is written. Rows that are
stored and not in the file stay; cells of columns that are not in the file stay as well.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.copies import keep_copy
from stash.db.models import ROWS, Batch
from stash.db.rows import identity_cells
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import CellProblem, InvalidInput
from stash.exchange import RawTables, read_bytes, read_tables, write_tables
from stash.kernel.cells import write_cell
from stash.kernel.tables import TABLES, Table
from stash.services.load_checks import check_all
from stash.services.load_entries import Incoming, read_entries
from stash.services.load_world import World
from stash.services.load_writes import Counts, count, write
from stash.services.rows import RowView, delete_row, get_row, save_row

__all__ = [
    "Counts",
    "Exported",
    "LoadReport",
    "RowView",
    "delete_row",
    "export",
    "export_path",
    "get_row",
    "load",
    "load_bytes",
    "load_path",
    "save_row",
]

Exported = dict[str, list[list[str]]]
"""``{table: rows of cell texts}`` in the tables' order, rows sorted by identity, cells in the columns' order."""


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What a load did, or why it did nothing.

    Args:
        tables: ``{table: counts}`` for the tables that came; nothing but noughts when there are errors.
        errors: Every fault, in order of table and row.
        batch: The batch it was written as; None when nothing was written.
    """

    tables: dict[str, Counts] = field(default_factory=dict)
    errors: tuple[CellProblem, ...] = ()
    batch: int | None = None

    @property
    def ok(self) -> bool:
        """Whether there was no error."""
        return not self.errors

    def as_dict(self) -> dict[str, Any]:
        """The report as plain data for JSON."""
        return {
            "tables": {name: asdict(counts) for name, counts in self.tables.items()},
            "errors": [problem.as_dict() for problem in self.errors],
        }


def load(
    store: Store,
    tables: RawTables,
    who: str,
    *,
    why: str = "loaded tables",
    dry_run: bool = False,
    ledger: bool = True,
) -> LoadReport:
    """Load tables: check everything, then write what is new or different.

    Args:
        store: The database.
        tables: As read by ``stash.exchange``.
        who: Who loads them.
        why: What the history says.
        dry_run: Report what would be done, and write nothing.
        ledger: Enter movements for lots; not where the ledger itself comes along, as in an archive.

    Returns:
        What was done, or every error; with any error nothing was written.
    """

    def in_one(work: Work) -> LoadReport:
        incoming = read_entries(tables)
        report = _examine(work.session, incoming)
        if not report.ok:
            return report
        if ledger and any(counts.added or counts.changed for counts in report.tables.values()):
            copy_before_load(store, work)
        write(work, incoming, ledger=ledger)
        return LoadReport(report.tables, (), work.batch if work.changed else None)

    if not dry_run:
        return store.write(who, why, in_one)
    with store.reading() as session:
        return _examine(session, read_entries(tables))


def copy_before_load(store: Store, work: Work) -> None:
    """Keep a dated copy of a file that holds anything, before rows from outside are written into it.

    Raises:
        StorageError: No copy could be made.
    """
    if store.file is not None and work.session.scalar(select(Batch.id).limit(1)) is not None:
        keep_copy(store.file, "load", now=dt.datetime.now(dt.UTC))


def _examine(session: Session, incoming: Incoming) -> LoadReport:
    world = World(session, incoming)
    problems = list(incoming.problems)
    if not incoming.unreadable:
        problems += [*world.merge(), *check_all(world)]
    if problems:
        order = {table.name: position for position, table in enumerate(TABLES)}
        problems.sort(key=lambda problem: (order.get(problem.table, -1), problem.row))
        return LoadReport({name: Counts() for name in incoming.entries}, tuple(problems))
    return LoadReport({name: count(entries.values()) for name, entries in incoming.entries.items()})


def load_path(store: Store, path: str | Path, who: str, *, dry_run: bool = False) -> LoadReport:
    """Load a folder of CSV files, a zip of them, an .xlsx or an .ods.

    Args:
        store: The database.
        path: Where they are.
        who: Who loads them.
        dry_run: Report only.

    Returns:
        As for ``load``; a file that can't be read is an error without a table.

    Raises:
        NotFound: There is nothing at the path.
    """
    path = Path(path)
    try:
        tables = read_tables(path)
    except InvalidInput as error:
        return _unreadable(path.name, error)
    return load(store, tables, who, why=f"loaded {path.name}", dry_run=dry_run)


def load_bytes(store: Store, name: str, data: bytes, who: str, *, dry_run: bool = False) -> LoadReport:
    """Load an uploaded .zip, .xlsx, .ods or .csv, told by its name; as for ``load_path``."""
    try:
        tables = read_bytes(name, data)
    except InvalidInput as error:
        return _unreadable(name, error)
    return load(store, tables, who, why=f"loaded {name}", dry_run=dry_run)


def _unreadable(name: str, error: InvalidInput) -> LoadReport:
    return LoadReport({}, error.problems or (CellProblem("", 0, "", name, error.message, error.hint),))


def export(store: Store) -> Exported:
    """Return every row of every table as cell texts.

    Rows are sorted by their identity cells, so that the same rows always make the same files.
    """
    with store.reading() as session:
        return exported(session)


def exported(session: Session) -> Exported:
    """Return what ``export`` does, inside an open transaction."""
    return {table.name: _cells(session, table) for table in TABLES}


def examined(session: Session, tables: RawTables) -> Incoming:
    """Return rows ready to be written, inside an open transaction.

    Raises:
        InvalidInput: Any cell is wrong; carries every problem.
    """
    incoming = read_entries(tables)
    report = _examine(session, incoming)
    if not report.ok:
        raise InvalidInput(f"{len(report.errors)} cells are wrong", "Mend them and try again.", report.errors)
    return incoming


def _cells(session: Session, table: Table) -> list[list[str]]:
    sql = ROWS[table.name].__table__
    rows = session.execute(select(*(sql.c[name] for name in table.names))).mappings().all()
    ordered = sorted(rows, key=lambda row: identity_cells(table, row))
    return [[write_cell(column, row[column.name]) for column in table.columns] for row in ordered]


def export_path(store: Store, path: str | Path) -> None:
    """Write every table to a folder of CSV files, or to a .zip, .xlsx or .ods, told by the path's ending.

    Raises:
        Conflict: A folder with other things in it is in the way.
        InvalidInput: The ending is of no known kind.
        StorageError: The disk would not do it.
    """
    write_tables(path, export(store))
