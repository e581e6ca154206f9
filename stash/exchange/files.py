"""Sets of tables on disk: one entrance for reading and one for writing, whatever the format.

Writing is all or nothing: a temporary sibling takes the name only when it is complete.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from stash.errors import Conflict, InvalidInput, NotFound, StorageError
from stash.exchange import csv_text
from stash.exchange.raw import CellTables, RawTables, refuse_large
from stash.kernel.tables import TABLES

FORMATS = (".zip", ".xlsx", ".ods")
"""File name endings that are read and written besides folders of CSV files."""
_NO_FOLDERS = frozenset((".csv", ".tsv", ".txt", ".json", ".xls", ".xlsm", ".pdf", ".sqlite", ".db", ".gz", ".7z"))
"""Endings of which nobody means a folder."""
_HINT = "Give a folder of CSV files, a .zip of them, an .xlsx or an .ods."


def read_tables(path: str | Path) -> RawTables:
    """Read a folder of CSV files, a zip of them, an .xlsx or an .ods.

    Args:
        path: The folder or file; a single .csv file is the table it is named after.

    Returns:
        The tables found, unchecked.

    Raises:
        NotFound: There is nothing there.
        InvalidInput: It can't be read as tables.
    """
    path = Path(path)
    try:
        if path.is_dir():
            return _read_folder(path)
        if not path.exists():
            raise NotFound(f"There is no {path}", _HINT)
        refuse_large(path.name, path.stat().st_size)
        data = path.read_bytes()
    except OSError as error:
        raise InvalidInput(f"{path} can't be read: {error.strerror}", _HINT) from error
    return read_bytes(path.name, data)


def read_bytes(name: str, data: bytes) -> RawTables:
    """Read an uploaded file: .zip, .xlsx, .ods or .csv, told by its name.

    Raises:
        InvalidInput: It can't be read as tables.
    """
    refuse_large(name, len(data))
    suffix = Path(name).suffix.lower()
    if suffix == ".csv":
        return {Path(name).stem.lower(): csv_text.parse(name, data)}
    if suffix == ".zip":
        from stash.exchange.zips import read_zip

        return read_zip(name, data)
    if suffix in {".xlsx", ".ods"}:
        from stash.exchange.workbooks import read_workbook

        return read_workbook(name, data)
    raise InvalidInput(f"{name} is not a kind of file that holds tables", _HINT)


def _read_folder(folder: Path) -> RawTables:
    tables: RawTables = {}
    for file in sorted(folder.iterdir()):
        if file.suffix.lower() != ".csv" or file.name.startswith(".") or not file.is_file():
            continue
        refuse_large(file.name, file.stat().st_size)
        tables[file.stem.lower()] = csv_text.parse(file.name, file.read_bytes())
    if not tables:
        raise InvalidInput(f"There are no CSV files in {folder}", "Each table is a file of its name, such as lots.csv.")
    return tables


def write_tables(path: str | Path, tables: CellTables) -> None:
    """Write tables to a folder of CSV files, or to a .zip, .xlsx or .ods, told by the path's ending.

    Args:
        path: The folder or file. A file there is replaced; a folder only if it is empty or an export of ours.
        tables: ``{table: rows of cell texts}``; tables left out are written with their header only.

    Raises:
        Conflict: A folder with other things in it is in the way.
        InvalidInput: The ending is of no known kind.
        StorageError: The disk would not do it; what was there is still there.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    try:
        if suffix in FORMATS and not path.is_dir():
            data = render_bytes(suffix, tables)
            path.parent.mkdir(parents=True, exist_ok=True)
            write_atomically(path, data)
        elif suffix in _NO_FOLDERS and not path.is_dir():
            raise InvalidInput(f"{path.name} is not a kind of file that holds tables", _HINT)
        else:
            _write_folder(path, tables)
    except OSError as error:
        raise StorageError(f"{path} can't be written: {error.strerror}", "Check the disk and your rights.") from error


def render_bytes(suffix: str, tables: CellTables) -> bytes:
    """Return the bytes of a .zip, .xlsx or .ods of the tables.

    Args:
        suffix: One of ``FORMATS``.
        tables: As for ``write_tables``.
    """
    return _renderers()[suffix](tables)


def _renderers() -> dict[str, Callable[[CellTables], bytes]]:
    from stash.exchange.write_ods import render_ods
    from stash.exchange.write_xlsx import render_xlsx
    from stash.exchange.zips import render_zip

    return {".zip": render_zip, ".xlsx": render_xlsx, ".ods": render_ods}


def write_atomically(path: Path, data: bytes) -> None:
    """Write a file so that at any moment the old or the new one is there, whole."""
    with written_atomically(path) as file:
        file.write(data)


@contextmanager
def written_atomically(path: Path) -> Iterator[BinaryIO]:
    """Open a file to be written piece by piece; at any moment the old or the new one is there, whole.

    Args:
        path: Its name.

    Yields:
        The new file, under another name until it is whole.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _write_folder(folder: Path, tables: CellTables) -> None:
    folder = folder.resolve()
    _refuse_other_folders(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    try:
        for table in TABLES:
            data = csv_text.render(table.names, tables.get(table.name, ()))
            (fresh / f"{table.name}.csv").write_bytes(data)
        fresh.chmod(0o755)
        if folder.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
            folder.replace(old)
            fresh.replace(folder)
            shutil.rmtree(old)
        else:
            fresh.replace(folder)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _refuse_other_folders(folder: Path) -> None:
    ours = {f"{table.name}.csv" for table in TABLES}
    if folder.exists() and not folder.is_dir():
        raise Conflict(f"{folder} is a file", "Give another name; nothing was written.")
    if folder.is_dir():
        strange = sorted(entry.name for entry in folder.iterdir() if entry.name not in ours or not entry.is_file())
        if strange:
            raise Conflict(
                f"{folder} holds something else ({strange[0]})", "Give an empty or a new folder; nothing was written."
            )
