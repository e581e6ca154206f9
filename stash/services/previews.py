"""What may be looked at before it is saved: a row as it would be, what it says, and what it changes."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from types import SimpleNamespace

from stash.db.store import Store
from stash.errors import CellProblem, InvalidInput
from stash.exchange import RawTable
from stash.services import rows
from stash.services.effects import Effect
from stash.services.tables import examined


@dataclass(frozen=True, slots=True)
class Preview:
    """A row that is not saved yet, or not taken away yet.

    Args:
        table: Its table.
        cells: ``{column: cell text}`` as it would be saved.
        kinds: The kinds of part it is about.
        sentence: What it says.
        effect: What it changes.
        seal: Tells this row with this effect from any other; hand it back when it is saved.
    """

    table: str
    cells: Mapping[str, str]
    kinds: tuple[str, ...]
    sentence: str
    effect: Effect
    seal: str


def seal(cells: Mapping[str, str], effect: Effect) -> str:
    """Return what tells a row with its effect from any other."""
    said = repr((sorted(cells.items()), effect.changes, [(each.machine.code, each.after) for each in effect.own]))
    return hashlib.sha256(said.encode()).hexdigest()[:20]


def checked_row(store: Store, table: str, cells: Mapping[str, str]) -> SimpleNamespace:
    """Read a row with every check of a load, and write nothing.

    Returns:
        The row's values by column.

    Raises:
        InvalidInput: A cell is wrong; carries every problem.
    """
    raw = RawTable(tuple(cells), [(1, list(cells.values()))])
    with store.reading() as session:
        incoming = examined(session, {table: raw})
    return SimpleNamespace(**next(iter(incoming.entries[table].values())).row)


def save(store: Store, shown: Preview, key: str, version: int | None, who: str) -> str:
    """Save a row as it was shown.

    Args:
        store: The database.
        shown: The row with its effect.
        key: The row it changes; "" for a new one.
        version: The version the form was made from.
        who: Who says it.

    Returns:
        The row's key.

    Raises:
        InvalidInput: A cell is wrong.
        Conflict: Somebody else changed the row since.
    """
    return rows.save_row(store, shown.table, shown.cells, {"key": key} if key else None, version, who).cells["key"]


def wrong(table: str, column: str, value: str, problem: str, hint: str) -> InvalidInput:
    """Return the error of one cell."""
    return InvalidInput(f"{column}: {problem}", hint, (CellProblem(table, 1, column, value, problem, hint),))
