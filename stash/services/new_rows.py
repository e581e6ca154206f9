"""Entering a new thing with the rows that belong to it, in one step and with every check of a load."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from sqlalchemy import select

from stash.db.models import ROWS
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import CellProblem, InvalidInput
from stash.exchange import RawTable, RawTables
from stash.kernel.tables import TABLE_BY_NAME
from stash.services.load_writes import write
from stash.services.tables import examined

_LONGEST_KEY = 60


def free_key(words: str, taken: Collection[str]) -> str:
    """Return a key made of some words, with a number behind where it is taken; "" when nothing is left of them.

    Args:
        words: A name, such as "turned carburettor, 18".
        taken: Keys that are used.
    """
    stem = re.sub(r"[\W_]+", "-", words.casefold()).strip("-")[:_LONGEST_KEY].strip("-")
    candidates = (stem, *(f"{stem}-{number}" for number in range(2, len(taken) + 3)))
    return next(key for key in candidates if key not in taken) if stem else ""


def with_key(store: Store, table: str, cells: Mapping[str, str]) -> dict[str, str]:
    """Return a new row's cells with a key made of the name, where they have a name and no key.

    Args:
        store: The database.
        table: Its table.
        cells: ``{column: cell text}``.
    """
    if "key" not in TABLE_BY_NAME[table].names or cells.get("key", "").strip() or not cells.get("name", "").strip():
        return dict(cells)
    sql = ROWS[table].__table__
    with store.reading() as session:
        taken = set(session.scalars(select(sql.c["key"])))
    return {**cells, "key": free_key(cells["name"], taken)}


def raw(rows: Sequence[Mapping[str, str]]) -> RawTable:
    """Return rows of equal columns as a table to be read."""
    return RawTable(tuple(rows[0]), [(number, list(row.values())) for number, row in enumerate(rows, 1)])


def enter_new(work: Work, tables: RawTables, first: str) -> str:
    """Enter a new row with the rows that belong to it, in an open transaction.

    Args:
        work: The transaction.
        tables: The rows; those of ``first`` hold the new one alone.
        first: The table of the new row.

    Returns:
        The new row's key.

    Raises:
        InvalidInput: A cell is wrong, or the key is taken; carries every problem.
    """
    incoming = examined(work.session, tables)
    entry = next(iter(incoming.entries[first].values()))
    if entry.old is not None:
        column = TABLE_BY_NAME[first].identity[0]
        hint = "There is one already; give it another key, or leave it empty and one is found."
        problem = CellProblem(first, 1, column, entry.identity[0], "is taken", hint)
        raise InvalidInput(str(problem), hint, (problem,))
    write(work, incoming)
    return entry.identity[0]
