"""Opening the stash: the one door for screens and commands."""

from __future__ import annotations

from stash.db.engines import database_url, sqlite_file
from stash.db.store import Store, open_store
from stash.errors import NotFound

__all__ = ["Store", "open_stash"]


def open_stash(db: str | None = None, *, make: bool = True) -> Store:
    """Open a database, upgrading it where needed.

    Args:
        db: A file path, ``sqlite:///FILE`` or ``postgresql://...``; None for the user's own file.
        make: Make the file where there is none. Without it a file that was named must be there, so that a slip in
            its name is told instead of answered from an empty stash; the user's own file is made all the same.

    Returns:
        The store; close it when done.

    Raises:
        InvalidInput: The address can't be read.
        NotFound: The file is not there and is not to be made.
        StorageError: It can't be opened, or belongs to another program or a newer version.
    """
    file = sqlite_file(database_url(db)) if db and not make else None
    if file is not None and not file.exists():
        raise NotFound(f"There is no database {file}", "Check its name; `stash load` and `stash serve` make a new one.")
    return open_store(db)
