"""Proving a live database: that the ledger adds up, codes are single, photos are whole, references resolve."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select, text
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.orm import Session

from stash.db.findable import drifted
from stash.db.models import CODE_TYPES, ROWS, Code, Lot, Movement, Photo, Place
from stash.db.store import Store
from stash.kernel.ends import parse_end
from stash.ledger.balance import Entry, contradictions


@dataclass(frozen=True, slots=True)
class Verified:
    """The result.

    Args:
        problems: One sentence for each thing wrong; none when all is well.
        rows: How many rows were looked at.
        movements: How many movements.
        photos: How many photos.
    """

    problems: tuple[str, ...]
    rows: int
    movements: int
    photos: int

    @property
    def ok(self) -> bool:
        """Nothing is wrong."""
        return not self.problems

    def as_dict(self) -> dict[str, Any]:
        """The result as plain data."""
        return {
            "ok": self.ok,
            "problems": list(self.problems),
            "rows": self.rows,
            "movements": self.movements,
            "photos": self.photos,
        }


def verify(store: Store) -> Verified:
    """Look at the whole database as it is at one moment; nothing is changed.

    Args:
        store: The database.
    """
    with store.reading() as session:
        entries = [
            Entry(row.lot, row.quantity, parse_end(row.source), parse_end(row.target))
            for row in session.execute(select(Movement).order_by(Movement.id)).scalars()
        ]
        lots = {row.code: (row.quantity, row.place or "") for row in session.execute(select(Lot)).scalars()}
        problems = [
            *_engine(session),
            *contradictions(entries, lots),
            *_nowhere(session, entries),
            *_codes(session),
            *_findable(store, session),
        ]
        photos: dict[str, str] = {}
        for row in session.execute(select(Photo).order_by(Photo.id.desc())).scalars():
            photos[row.sha256] = row.code or row.design or ""
        rows = sum(len(session.execute(select(row.version)).all()) for row in ROWS.values())
    problems += _photos(store, photos)
    return Verified(tuple(problems), rows, len(entries), len(photos))


def _findable(store: Store, session: Session) -> Iterator[str]:
    """What the search box looks through, beside what it should be."""
    wrong = drifted(session.connection())
    if wrong:
        said = ", ".join(f"{type_} {key}" for type_, key in wrong[:5])
        yield f"The search box has {len(wrong)} texts that are not what they should be ({said})"
    if store.indexed(session) and session.get_bind().dialect.name == "sqlite" and not _index_is_whole(session):
        yield "The index of the search box differs from its texts"


def _index_is_whole(session: Session) -> bool:
    """Let FTS5 compare its index with the texts. Source: SQLite, FTS5 extension, 6.5 integrity-check."""
    try:
        session.execute(text("INSERT INTO findable_trigrams(findable_trigrams, rank) VALUES ('integrity-check', 1)"))
    except OperationalError:
        return True  # somebody is writing, or the file may only be read: it can't be asked now, which is no damage
    except DatabaseError:
        return False
    return True


def _engine(session: Session) -> Iterator[str]:
    """What SQLite itself finds wrong; a PostgreSQL server checks its constraints as it writes."""
    if session.get_bind().dialect.name != "sqlite":
        return
    for (said,) in session.execute(text("PRAGMA integrity_check")):
        if said != "ok":
            yield f"the file is damaged: {said}"
    for row in session.execute(text("PRAGMA foreign_key_check")):
        yield f"a row of {row[0]} refers to a row of {row[2]} that is not there"


def _nowhere(session: Session, entries: list[Entry]) -> Iterator[str]:
    places = set(session.execute(select(Place.code)).scalars())
    for end in sorted({end for entry in entries for end in (entry.source, entry.target) if end.type == "place"}):
        if end.name and end.name not in places:
            yield f"movements name the place {end.name}, which is gone"


def _codes(session: Session) -> Iterator[str]:
    known = {row.code: row.type for row in session.execute(select(Code)).scalars()}
    used: dict[str, str] = {}
    for table, word in CODE_TYPES.items():
        sql = ROWS[table].__table__
        used |= dict.fromkeys(session.execute(select(sql.c.code)).scalars(), word)
    for code in sorted({*known, *used}):
        if known.get(code) != used.get(code):
            yield f"code {code} is noted as {known.get(code, 'nothing')} and is on {used.get(code, 'nothing')}"


def _photos(store: Store, photos: Mapping[str, str]) -> Iterator[str]:
    """What is wrong with the files of photos, ``{SHA-256: a thing it is of}``."""
    for digest, name in sorted(photos.items()):
        file = store.photos / digest
        if not file.is_file():
            yield f"the photo {digest[:12]}… of {name} is gone"
        elif hashlib.sha256(file.read_bytes()).hexdigest() != digest:
            yield f"the photo {digest[:12]}… of {name} is damaged"
    if store.photos.is_dir():
        for extra in sorted(path.name for path in store.photos.iterdir() if path.is_file()):
            if extra.split(".")[0] not in photos and not extra.startswith("."):
                yield f"the file {extra} in the photo folder belongs to nothing and can be deleted"
