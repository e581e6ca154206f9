"""Archives of CSV files, and a zip opened without trusting what it says of itself."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import PurePosixPath

from stash.errors import InvalidInput
from stash.exchange import csv_text
from stash.exchange.raw import LARGEST_UNPACKED, MOST_ENTRIES, CellTables, RawTables, refuse_large
from stash.kernel.tables import TABLES

_FIXED = (1980, 1, 1, 0, 0, 0)
"""The date of every entry, so that the same tables make the same bytes; the earliest a zip can say."""


@contextmanager
def opened(name: str, data: bytes) -> Iterator[zipfile.ZipFile]:
    """Open a zip after looking at its list of entries.

    Args:
        name: What to call it in errors.
        data: Its bytes.

    Raises:
        InvalidInput: It is damaged, encrypted, unpacks to too much, or has an entry that points outside.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _look_over(name, archive)
            yield archive
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError, ValueError, OSError) as error:
        raise InvalidInput(f"{name} is damaged ({error})", "Make it again, or send it in one piece.") from None


def _look_over(name: str, archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    if len(entries) > MOST_ENTRIES:
        raise InvalidInput(f"{name} has too many entries", f"At most {MOST_ENTRIES} are read.")
    refuse_large(f"What {name} unpacks to", sum(entry.file_size for entry in entries), LARGEST_UNPACKED)
    seen: set[str] = set()
    for entry in entries:
        if not entry.filename:
            raise InvalidInput(f"{name} holds an entry without a name", "Make it again, or send it in one piece.")
        path = PurePosixPath(entry.filename.replace("\\", "/"))
        if path.is_absolute() or ".." in path.parts or ":" in entry.filename or "\0" in entry.filename:
            raise InvalidInput(
                f"{name} holds an entry that points outside of it ({entry.filename!r})", "Don't trust this file."
            )
        if entry.filename in seen:
            raise InvalidInput(f"{name} holds {entry.filename!r} twice", "Keep one of the two.")
        seen.add(entry.filename)
        if entry.flag_bits & 0x1:  # encrypted, PKWARE APPNOTE 4.4.4
            raise InvalidInput(f"{name} is locked with a password", "Save it without a password.")


def read_zip(name: str, data: bytes) -> RawTables:
    """Read a zip of CSV files, at its top or all in one folder.

    Raises:
        InvalidInput: It can't be opened, holds no CSV files, or a table twice.
    """
    tables: RawTables = {}
    with opened(name, data) as archive:
        for entry in archive.infolist():
            path = PurePosixPath(entry.filename)
            hidden = any(part.startswith((".", "__")) for part in path.parts)
            if entry.is_dir() or hidden or path.suffix.lower() != ".csv":
                continue
            table = path.stem.lower()
            if table in tables:
                raise InvalidInput(f"{name} holds {path.name} twice", "Keep one of the two.")
            tables[table] = csv_text.parse(path.name, archive.read(entry))
    if not tables:
        raise InvalidInput(f"There are no CSV files in {name}", "Each table is a file of its name, such as lots.csv.")
    return tables


def render_zip(tables: CellTables) -> bytes:
    """Return a zip of one CSV file per table; the same tables make the same bytes."""
    files = {f"{table.name}.csv": csv_text.render(table.names, tables.get(table.name, ())) for table in TABLES}
    return pack(files)


def pack(files: dict[str, bytes]) -> bytes:
    """Return a zip of files with a fixed date, compressed."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            entry = zipfile.ZipInfo(name, _FIXED)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, data)
    return out.getvalue()
