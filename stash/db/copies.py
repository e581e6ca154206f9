"""Dated copies of a SQLite file, made before whatever changes much at once: a migration, a load.

They lie in a folder beside the file, named after the moment (UTC) and the reason, and are thinned as new ones come: the
last ten stay, and of every month the last. A PostgreSQL server keeps its own backups; nothing is copied there.
"""

from __future__ import annotations

import datetime as dt
import re
import sqlite3
from collections.abc import Iterable
from contextlib import closing, suppress
from pathlib import Path

from stash.errors import StorageError

KEPT = 10
"""How many of the newest copies stay. Source: project decision."""
_NAME = re.compile(r"(\d{6})\d{2}-\d{6}(?:\.\d+)?-before-[\w-]+\.sqlite\Z")


def copies_folder(file: Path) -> Path:
    """Return the folder in which a file's copies lie; it need not exist yet."""
    return file.with_name(f"{file.name}.copies")


def copies(file: Path) -> tuple[Path, ...]:
    """Return a file's copies, oldest first."""
    folder = copies_folder(file)
    names = (path.name for path in folder.iterdir()) if folder.is_dir() else ()
    return tuple(folder / name for name in sorted(names) if _NAME.match(name))


def keep_copy(file: Path, why: str, *, now: dt.datetime) -> Path:
    """Copy a database file as it was last written, others may be using it; then thin the copies.

    Args:
        file: The SQLite file.
        why: What comes next, a word for the copy's name.
        now: The moment.

    Returns:
        The copy.

    Raises:
        StorageError: The disk would not do it; nothing was changed.
    """
    folder, moment = copies_folder(file), now.astimezone(dt.UTC).strftime("%Y%m%d-%H%M%S.%f")
    copy, half = folder / f"{moment}-before-{why}.sqlite", folder / f".{moment}.half"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        address = f"{file.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as source, closing(sqlite3.connect(half)) as target:
            source.backup(target)
        half.replace(copy)
        for old in thinned(each.name for each in copies(file)):
            (folder / old).unlink(missing_ok=True)
    except (OSError, sqlite3.Error) as error:
        with suppress(OSError):
            half.unlink()
        raise StorageError(
            f"No copy could be kept in {folder} ({error}), so nothing was changed",
            "Make room there or let it be written to, then try again.",
        ) from error
    return copy


def thinned(names: Iterable[str]) -> tuple[str, ...]:
    """Return which copies may go: all but the last ten, and but the last of each month.

    Args:
        names: Their names, in any order; what is not named like a copy is left alone.
    """
    dated = sorted(name for name in names if _NAME.match(name))
    last_of_month = {name[:6]: name for name in dated}
    return tuple(name for name in dated[:-KEPT] if last_of_month[name[:6]] != name)
