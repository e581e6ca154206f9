"""One row at a time, as forms change it: the same checks as a load, and a stale form is told what changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from stash.db.models import CODE_TYPES, Batch, Change, Movement
from stash.db.prefixes import begins
from stash.db.references import referrers
from stash.db.rows import SEPARATOR, identity_cells, image
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import CellProblem, Conflict, InvalidInput, NotFound
from stash.exchange import RawTable
from stash.kernel.cells import Fault, list_items, read_cell, write_cell
from stash.kernel.tables import TABLE_BY_NAME, Table
from stash.services.load_checks import check_all
from stash.services.load_entries import Identity, Incoming, read_entries
from stash.services.load_world import RowDict, World
from stash.services.load_writes import write
from stash.services.photo_rows import refuse_photographed

DETAILS: Mapping[str, tuple[str, ...]] = {
    "designs": ("design_measures",),
    "machines": ("fitted",),
    "fitted": ("fitted_measures",),
    "lots": ("lot_measures",),
    "builds": ("build_parts",),
}
"""``{table: tables whose rows are part of its rows}`` and go with them."""

LEDGER_COLUMNS = ("quantity", "place")
"""What only movements change about a lot."""


@dataclass(frozen=True, slots=True)
class RowView:
    """One stored row.

    Args:
        cells: ``{column: cell text}``, every column.
        version: Counts its edits; hand it back to ``save_row``.
    """

    cells: dict[str, str]
    version: int

    def identity(self, table: str) -> dict[str, str]:
        """The cells that tell which row it is."""
        return {name: self.cells[name] for name in TABLE_BY_NAME[table].identity}


def get_row(store: Store, table: str, identity: Mapping[str, str]) -> RowView:
    """Read one row.

    Args:
        store: The database.
        table: Its table.
        identity: ``{identity column: cell text}``; a column left out is empty.

    Raises:
        NotFound: There is no such row.
    """
    with store.reading() as session:
        return _view(_table(table), _stored(session, table, identity))


def save_row(
    store: Store,
    table: str,
    cells: Mapping[str, str],
    identity: Mapping[str, str] | None,
    version: int | None,
    who: str,
) -> RowView:
    """Add or change one row.

    Args:
        store: The database.
        table: Its table.
        cells: ``{column: cell text}``; of a stored row, columns left out stay as they are.
        identity: Which row is changed; None for a new one. ``cells`` may give it another key: what refers to
            it follows.
        version: The version the form was made from; None to overwrite whatever is there.
        who: Who does it.

    Returns:
        The row as it is now.

    Raises:
        InvalidInput: A cell is wrong; ``problems`` says which, with row 1.
        NotFound: The row to change is not there any more.
        Conflict: Somebody else changed it since; the message says what.
    """
    described = _table(table)

    def in_one(work: Work) -> RowView:
        row = dict(cells)
        if identity is not None:
            old = _stored(work.session, table, identity)
            _refuse_stale(work.session, described, old, version)
            for name in described.identity:
                row.setdefault(name, write_cell(described.column(name), old[name]))
            _refuse_ledger_edits(described, old, row)
            _rename(work, described, old, row)
        return _save(work, described, row, new=identity is None)

    return store.write(who, f"{'added to' if identity is None else 'changed in'} {table}", in_one)


def _save(work: Work, table: Table, row: Mapping[str, str], *, new: bool) -> RowView:
    incoming = _one(table, row)
    world = World(work.session, incoming)
    problems = [*incoming.problems, *world.merge()]
    entry = next(iter(incoming.entries[table.name].values()), None)
    if new and entry is not None and entry.old is not None:
        fault = Fault("is taken", "There is already such a row; give it another key, or change that row.")
        problems.append(entry.problem(table.identity[0], fault))
    _refuse([*problems, *check_all(world)])
    assert entry is not None  # noqa: S101 - a row without an identity has a problem
    write(work, incoming)
    work.session.flush()
    return _view(table, _find(work.session, table, entry.identity) or {})


def _one(table: Table, row: Mapping[str, str]) -> Incoming:
    return read_entries({table.name: RawTable(tuple(row), [(1, list(row.values()))])})


def _refuse(problems: list[CellProblem]) -> None:
    if problems:
        raise InvalidInput(str(problems[0]), problems[0].hint, tuple(problems))


def _refuse_stale(session: Session, table: Table, row: RowDict, version: int | None) -> None:
    if version is None or version == row["version"]:
        return
    identity = SEPARATOR.join(identity_cells(table, row))
    changes = session.execute(
        select(Change.after, Batch.who)
        .join(Batch, Batch.id == Change.batch)
        .where(Change.table == table.name, Change.identity == identity)
        .order_by(Change.id)
    ).all()
    seen: dict[str, Any] = next((after for after, _ in changes if after and after.get("version") == version), {})
    now = image(table.name, row)
    told = [
        f"{name}: {seen.get(name, 'empty')} → {now.get(name, 'empty')}"
        for name in table.names
        if seen and seen.get(name) != now.get(name)
    ]
    by = f" by {changes[-1][1]}" if changes else ""
    raise Conflict(
        f"This row was changed{by} in the meantime" + (f" ({'; '.join(told)})" if told else ""),
        "Nothing was written and nothing is lost: look at it again, then save.",
    )


def _refuse_ledger_edits(table: Table, old: RowDict, row: Mapping[str, str]) -> None:
    if table.name != "lots":
        return
    for name in LEDGER_COLUMNS:
        text = write_cell(table.column(name), old[name])
        if name in row and row[name].strip() != text:
            hint = "Count, move, split or scrap it instead, so that the ledger knows."
            raise InvalidInput(
                f"The {name} of a lot is not edited",
                hint,
                (CellProblem("lots", 1, name, row[name], "is what the ledger adds up to", hint),),
            )


def _rename(work: Work, table: Table, old: RowDict, row: Mapping[str, str]) -> None:
    """Give the row its new identity first, so that the rest is an ordinary change."""
    entry = next(iter(_one(table, row).entries[table.name].values()), None)
    if entry is None or entry.identity == identity_cells(table, old):
        return
    if table.name in CODE_TYPES:
        _refuse([entry.problem("code", Fault("can't be changed", "Labels carry it; a code stays for ever."))])
    if _find(work.session, table, entry.identity) is not None:
        _refuse([entry.problem(table.identity[0], Fault("is taken", "There is already such a row."))])
    if table.name in {"designs", "kinds"}:
        _rename_companions(work, old["key"], entry.row["key"])
    work.rename(table.name, old, {name: entry.row[name] for name in table.identity})
    _refuse(check_all(World(work.session, Incoming()), frozenset((table.name,))))


def _rename_companions(work: Work, old: str, new: str) -> None:
    pairs = []
    for row in World(work.session, Incoming()).stored("rules").values():
        items = list_items(row["companions"])
        renamed = [[new if key == old else key for key in item] for item in items]
        if any(old in item for item in items):
            pairs.append((row, {**row, "companions": ";".join("|".join(item) for item in renamed)}))
    work.update("rules", pairs)


def delete_row(store: Store, table: str, identity: Mapping[str, str], version: int | None, who: str) -> None:
    """Delete one row, with the rows that are part of it (a design's measures, a machine's fitted parts).

    Args:
        store: The database.
        table: Its table.
        identity: ``{identity column: cell text}``.
        version: The version it was seen at; None for whatever is there.
        who: Who does it.

    Raises:
        NotFound: There is no such row.
        Conflict: Something still refers to it, or somebody else changed it since.
    """
    described = _table(table)

    def in_one(work: Work) -> None:
        row = _stored(work.session, table, identity)
        _refuse_stale(work.session, described, row, version)
        _refuse_remembered(work.session, table, row)
        _delete_details(work, table, row)
        users = _users(work.session, table, row)
        if not users:
            work.delete(table, [row])
            left = check_all(World(work.session, Incoming()), frozenset((table,)))
            users = [f"{problem.table} {problem.value}".strip() for problem in left]
        if users:
            more = f" and {len(users) - 5} more" if len(users) > 5 else ""  # noqa: PLR2004 - enough to start with
            raise Conflict(
                f"{' '.join(identity_cells(described, row)).strip()} is still needed by {', '.join(users[:5])}{more}",
                "Nothing was deleted; change or delete those first.",
            )

    store.write(who, f"deleted from {table}", in_one)


def _refuse_remembered(session: Session, table: str, row: RowDict) -> None:
    """What the ledger or a photo knows is kept."""
    if table in CODE_TYPES:
        _refuse_booked(session, table, row["code"])
    refuse_photographed(session, table, row)


def _refuse_booked(session: Session, table: str, code: str) -> None:
    ends = Movement.lot == code
    if table == "machines":
        text = f"machine:{code}:"
        ends = begins(Movement.source, text) | begins(Movement.target, text)
    instead = {"lots": "Count it to nothing instead.", "machines": "Set its state to gone instead."}
    if table in instead and session.scalar(select(func.count()).select_from(Movement).where(ends)):
        raise Conflict(f"{code} is in the ledger", instead[table])


def _users(session: Session, table: str, row: RowDict) -> list[str]:
    """The other rows that name this one, as readable texts."""
    own = identity_cells(TABLE_BY_NAME[table], row)
    users = {
        (found.table, identity_cells(TABLE_BY_NAME[found.table], user)): None
        for found in referrers(session, table, row)
        for user in found.rows
    }
    return [f"{name} {' '.join(filter(None, cells))}" for name, cells in users if (name, cells) != (table, own)]


def _delete_details(work: Work, table: str, row: RowDict) -> None:
    """Delete the rows that are part of a row, and first what is part of those."""
    for found in referrers(work.session, table, row):
        if found.table in DETAILS.get(table, ()):
            for part in found.rows:
                _delete_details(work, found.table, part)
            work.delete(found.table, found.rows)


def _table(name: str) -> Table:
    if name not in TABLE_BY_NAME:
        raise NotFound(f"There is no table {name}", "The tables are: " + ", ".join(TABLE_BY_NAME) + ".")
    return TABLE_BY_NAME[name]


def _stored(session: Session, name: str, identity: Mapping[str, str]) -> RowDict:
    table = _table(name)
    read = ((column, read_cell(table.column(column), identity.get(column, ""))) for column in table.identity)
    cells = tuple("" if isinstance(value, Fault) else write_cell(table.column(column), value) for column, value in read)
    row = _find(session, table, cells)
    if row is None:
        shown = " ".join(cell for cell in identity.values() if cell)
        raise NotFound(f"There is no {shown} in {name}", "It may have been deleted or renamed in the meantime.")
    return row


def _find(session: Session, table: Table, identity: Identity) -> RowDict | None:
    return World(session, Incoming()).stored_row(table.name, identity)


def _view(table: Table, row: Mapping[str, Any]) -> RowView:
    return RowView({column.name: write_cell(column, row[column.name]) for column in table.columns}, row["version"])
