"""What will be true once the incoming rows are stored: stored rows with the incoming ones laid over them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from difflib import get_close_matches
from functools import cached_property
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import ROWS, Code
from stash.db.rows import identity_cells
from stash.errors import CellProblem
from stash.kernel.cells import Fault
from stash.kernel.numbers import canonical_number
from stash.kernel.tables import TABLE_BY_NAME, Cell
from stash.services.load_entries import Entry, Identity, Incoming, empty_value

RowDict = dict[str, Any]
_SUGGESTIONS = 50


class World:
    """The rows as they will be.

    Args:
        session: Where the stored rows are read, as needed.
        incoming: The incoming rows; merging gives each the stored row it changes.
    """

    def __init__(self, session: Session, incoming: Incoming) -> None:
        self.session = session
        self.incoming = incoming
        self._stored: dict[str, dict[Identity, RowDict]] = {}
        self._single: dict[tuple[str, Identity], RowDict | None] = {}
        self._sound: set[tuple[str, str]] = set()
        self._suggested = 0

    def stored(self, table: str) -> dict[Identity, RowDict]:
        """All stored rows of a table, with ``version`` (and ``id``)."""
        if table not in self._stored:
            rows = self.session.execute(select(*ROWS[table].__table__.columns)).mappings()
            description = TABLE_BY_NAME[table]
            self._stored[table] = {identity_cells(description, row): dict(row) for row in rows}
        return self._stored[table]

    def stored_row(self, table: str, identity: Identity) -> RowDict | None:
        """One stored row, or None."""
        if table in self._stored or not self.incoming.few:
            return self.stored(table).get(identity)
        if (table, identity) not in self._single:
            self._single[table, identity] = self._read_one(table, identity)
        return self._single[table, identity]

    def _read_one(self, table: str, identity: Identity) -> RowDict | None:
        description, sql = TABLE_BY_NAME[table], ROWS[table].__table__
        same = [
            sql.c[name] == cell
            for name, cell in zip(description.identity, identity, strict=True)
            if cell and description.column(name).cell is not Cell.YEAR
        ]
        rows = self.session.execute(select(*sql.columns).where(*same)).mappings()
        return next((dict(row) for row in rows if identity_cells(description, row) == identity), None)

    def get(self, table: str, identity: Identity) -> RowDict | None:
        """The row as it will be, or None."""
        entry = self.incoming.entries.get(table, {}).get(identity)
        return entry.row if entry is not None else self.stored_row(table, identity)

    def field(self, table: str, key: str | None, name: str) -> Any:
        """One value of the row with that single-column key; None when there is no such row."""
        row = self.get(table, (key,)) if key else None
        return row.get(name) if row else None

    def everything(self, table: str) -> Iterator[Entry]:
        """Every row of a table as it will be; those only stored have the number 0."""
        incoming = self.incoming.entries.get(table, {})
        yield from incoming.values()
        for identity, row in self.stored(table).items():
            if identity not in incoming:
                yield Entry(table, 0, {}, row, identity, old=row)

    def merge(self) -> list[CellProblem]:
        """Give every incoming row the cells it does not bring: the stored ones, or empty ones if it is new.

        Returns:
            What is missing in new rows.
        """
        problems = []
        for name, entries in self.incoming.entries.items():
            table = TABLE_BY_NAME[name]
            for entry in entries.values():
                entry.old = self.stored_row(name, entry.identity)
                for column in table.names:
                    if column in entry.row:
                        continue
                    value = empty_value(table, column) if entry.old is None else entry.old[column]
                    if isinstance(value, Fault):
                        problems.append(entry.problem(column, Fault("is missing", "A new row needs this column.")))
                        entry.faulty, value = True, None
                    entry.row[column] = value
        return problems

    @cached_property
    def code_types(self) -> dict[str, str]:
        """``{code: type}`` of the stored codes that matter here."""
        statement = select(Code.code, Code.type)
        if self.incoming.few:
            wanted = [key[0] for entries in self.incoming.entries.values() for key in entries]
            statement = statement.where(Code.code.in_(wanted))
        return dict(self.session.execute(statement).all())

    @cached_property
    def numbers_by_plain(self) -> dict[tuple[str, str], str]:
        """``{(maker, number without its dashes): the first such number}``; stored ones come first."""
        entries = sorted(self.everything("numbers"), key=lambda entry: (entry.old is None, entry.number))
        plain: dict[tuple[str, str], str] = {}
        for entry in entries:
            plain.setdefault((entry.row["maker"], canonical_number(entry.row["number"])), entry.row["number"])
        return plain

    def unknown(self, table: str, key: str) -> Fault:
        """Say that a key is unknown, with the nearest one known."""
        hint = f"Add it to {table}, or correct the cell."
        if self._suggested < _SUGGESTIONS:
            self._suggested += 1
            known = sorted({e.identity[0] for e in self.everything(table)})
            near = get_close_matches(key, known, 1)
            hint = f"Did you mean {near[0]}?" if near else hint
        return Fault(f"is not in {table}", hint)

    def circle(self, what: str, start: str, following: Callable[[str], str | None]) -> list[str] | None:
        """Follow a chain from a key until it ends.

        Args:
            what: What the keys are, so that chains that end are followed once only.
            start: Where to begin.
            following: The next key, or None.

        Returns:
            The circle from the start back to itself, or None when there is none through the start.
        """
        path, here = [start], following(start)
        seen = {start}
        while here is not None and (what, here) not in self._sound:
            if here in seen:
                return [*path, here] if here == start else None
            path.append(here)
            seen.add(here)
            here = following(here)
        self._sound.update((what, key) for key in path)
        return None

    def position_kind(self, model: str | None, position: str) -> str | None:
        """The kind a model's position takes; None when the model has no such position."""
        row = self.get("positions", ("", model or "", position))
        if row is None:
            generation = self.field("models", model, "generation")
            row = self.get("positions", (generation or "", "", position))
        return row["kind"] if row and row.get("quantity", 1) != 0 else None

    def position_names(self, model: str | None) -> list[str]:
        """The names of a model's positions, sorted."""
        generation = self.field("models", model, "generation")
        names = {
            entry.row["position"]
            for entry in self.everything("positions")
            if entry.row["model"] == model or (entry.row["model"] is None and entry.row["generation"] == generation)
        }
        return sorted(name for name in names if self.position_kind(model, name))
