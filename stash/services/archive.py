"""Everything in one checksummed file, and back: tables, ledger, photos, and a manifest with SHA-256.

::

    manifest.json            what is in here: {member: SHA-256}, format, when, by which version
    tables/TABLE.csv         the tables, as an export writes them
    ledger/NAME.jsonl        batches, movements and row changes, printed labels, settings, photo records, flat sheets,
                             shelf sessions
    photos/SHA256            the photos

An archive is read in one transaction, so it may be made while others write. It is restored into an empty database of
either engine.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO

from sqlalchemy import Date, func, insert, select, text
from sqlalchemy.orm import Session
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from stash import __version__
from stash.db.models import CODE_TYPES, ROWS, Base, Batch, Moment, Photo
from stash.db.rows import RowValues
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, StorageError
from stash.exchange.files import read_bytes, render_bytes, write_atomically, written_atomically
from stash.kernel.tables import TABLES
from stash.services import archive_file
from stash.services.load_entries import Incoming
from stash.services.tables import examined, exported

FORMAT = 1
RECORDS = (
    "batches",
    "movements",
    "changes",
    "printed",
    "settings",
    "photos",
    "sheets",
    "sheet_rows",
    "shelf_adds",
    "events",
)
"""The program's own tables that travel along, in an order in which references point backwards.

Who may come in stays behind: an archive goes to other disks and other hands, so it holds no digest of a
password, and where it is restored people get accounts anew. What they did travels."""
_ALWAYS = frozenset({"batches", "movements", "changes"})
"""What no archive can do without: the ledger itself. Other records were added in time, and old archives lack them."""


@dataclass(frozen=True, slots=True)
class Archived:
    """What an archive holds: rows in all tables, movements, photos, and its size in bytes."""

    rows: int
    movements: int
    photos: int
    size: int


def archive(store: Store, path: str | Path, *, now: dt.datetime) -> Archived:
    """Write everything into one zip; an existing file is replaced only by a whole new one.

    Args:
        store: The database; others may be using it.
        path: The zip to write.
        now: The moment, for the manifest.

    Raises:
        StorageError: The disk would not do it.
        Conflict: A photo's file is gone or damaged; says which.
    """
    with store.reading() as session:
        tables = exported(session)
        members = {f"tables/{name}": data for name, data in _table_members(tables)}
        counts = {}
        for name in RECORDS:
            lines = [json.dumps(_plain(row), ensure_ascii=False) for row in _records(session, name)]
            counts[name] = len(lines)
            members[f"ledger/{name}.jsonl"] = "".join(line + "\n" for line in lines).encode()
        photos = sorted(set(session.execute(select(Photo.sha256)).scalars()))
    path = Path(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with written_atomically(path) as file:
            _zip(file, members, store, photos, now)
            size = file.tell()
    except OSError as error:
        raise StorageError(f"{path} can't be written: {error.strerror}", "Check the disk and your rights.") from error
    return Archived(sum(len(rows) for rows in tables.values()), counts["movements"], len(photos), size)


def restore(store: Store, path: str | Path) -> Archived:
    """Fill an empty database from an archive, on either engine.

    Args:
        store: The database; nothing may be in it.
        path: The zip.

    Raises:
        NotFound: There is no such file.
        InvalidInput: It is not an archive, or a member is missing or damaged; says which. Nothing was written.
        Conflict: The database is not empty.
    """
    with archive_file.opened(Path(path)) as zipped:
        digests = archive_file.manifest(zipped, FORMAT)
        photos = archive_file.photos(digests)
        members = {name: archive_file.member(zipped, name, digests[name]) for name in digests if name not in photos}
        for name, digest in photos.items():  # one at a time: all of them may be more than fit into memory
            archive_file.member(zipped, name, digest)
        tables = read_bytes("tables.zip", _zipped_tables(members))
        records = {name: _read_records(members, name) for name in RECORDS}

        def act(work: Work) -> int:
            _refuse_filled(work.session)
            rows = _fill(work, examined(work.session, tables), records)
            for name, digest in photos.items():  # before the rows are there for good: rows never wait for their photos
                store.photos.mkdir(parents=True, exist_ok=True)
                write_atomically(store.photos / digest, archive_file.member(zipped, name, digest))
            return rows

        rows = store.write("restore", "restored an archive", act)
    return Archived(rows, len(records["movements"]), len(photos), Path(path).stat().st_size)


def _table_members(tables: Mapping[str, list[list[str]]]) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(BytesIO(render_bytes(".zip", tables))) as inner:
        for name in inner.namelist():
            yield name, inner.read(name)


def _zipped_tables(members: Mapping[str, bytes]) -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as inner:
        for name, content in members.items():
            if name.startswith("tables/"):
                inner.writestr(name.removeprefix("tables/"), content)
    return out.getvalue()


def _read_records(members: Mapping[str, bytes], name: str) -> list[dict[str, Any]]:
    """Return the rows of one of the program's own tables as it takes them.

    Raises:
        InvalidInput: A line is none of its rows; says which.
    """
    member, rows = f"ledger/{name}.jsonl", []
    for number, row in archive_file.lines(members, member, needed=name in _ALWAYS):
        try:
            rows.append(_typed(name, row))
        except (TypeError, ValueError) as error:
            raise archive_file.no_line(member, number, error) from error
    return rows


def _records(session: Session, name: str) -> Iterator[Mapping[str, Any]]:
    sql = Base.metadata.tables[name]
    order = [sql.c.id] if "id" in sql.c else list(sql.primary_key.columns)
    for row in session.execute(select(sql).order_by(*order)).mappings():
        yield dict(row)


def _plain(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: value.isoformat() if isinstance(value, dt.date | dt.datetime) else value for name, value in row.items()
    }


def _photo(store: Store, digest: str) -> bytes:
    file = store.photos / digest
    try:
        content = file.read_bytes()
    except OSError as error:
        raise Conflict(f"The photo {digest[:12]}… is gone from {store.photos}", "Put it back or remove it.") from error
    if hashlib.sha256(content).hexdigest() != digest:
        raise Conflict(f"The photo {digest[:12]}… is damaged", "Remove it, or put it back from a backup.")
    return content


def _zip(file: BinaryIO, members: Mapping[str, bytes], store: Store, photos: list[str], now: dt.datetime) -> None:
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in members.items()}
    digests |= {f"photos/{digest}": digest for digest in photos}
    manifest = {"format": FORMAT, "made": now.isoformat(), "version": __version__, "members": digests}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr("manifest.json", json.dumps(manifest, indent=1))
        for name, content in members.items():
            zipped.writestr(name, content)
        for digest in photos:
            zipped.writestr(f"photos/{digest}", _photo(store, digest), compress_type=zipfile.ZIP_STORED)


def _refuse_filled(session: Session) -> None:
    filled = [name for name, row in ROWS.items() if session.execute(select(func.count()).select_from(row)).scalar_one()]
    if filled or session.execute(select(func.count()).select_from(Batch)).scalar_one():
        raise Conflict(
            "The database is not empty" + (f" (it has {', '.join(filled[:3])})" if filled else ""),
            "Restore into a new one: give another file or address with --db.",
        )


def _fill(work: Work, incoming: Incoming, records: Mapping[str, list[dict[str, Any]]]) -> int:
    """Write every row as it was; the archived ledger tells how they came to be."""
    connection = work.session.connection()
    rows = 0
    for table in TABLES:
        values: list[RowValues] = [dict(entry.row) for entry in incoming.entries.get(table.name, {}).values()]
        if values and table.name in CODE_TYPES:
            codes = [{"code": row["code"], "type": CODE_TYPES[table.name]} for row in values]
            connection.execute(insert(Base.metadata.tables["codes"]), codes)
        if values:
            connection.execute(insert(Base.metadata.tables[table.name]), values)
        rows += len(values)
    for name in RECORDS:
        if records[name]:
            connection.execute(insert(Base.metadata.tables[name]), records[name])
    if connection.dialect.name == "postgresql":
        for name in RECORDS:
            if "id" in Base.metadata.tables[name].c:
                connection.execute(
                    text(f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), (SELECT max(id) FROM {name}))")  # noqa: S608
                )
    work.touch("catalogue", "stock")
    return rows


def _typed(name: str, row: Mapping[str, Any]) -> dict[str, Any]:
    read = {Moment: dt.datetime.fromisoformat, Date: dt.date.fromisoformat}
    typed: dict[str, Any] = {}
    for column in Base.metadata.tables[name].columns:
        default = column.default.arg if isinstance(column.default, ScalarElementColumnDefault) else None
        value, reader = row.get(column.name, default), read.get(type(column.type))
        typed[column.name] = reader(value) if reader is not None and value is not None else value
    return typed
