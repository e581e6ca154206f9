"""Opening the stash: the one door for screens and commands."""

from __future__ import annotations

from stash.db.store import Store, open_store


def open_stash(db: str | None = None) -> Store:
    """Open a database, making or upgrading it where needed.

    Args:
        db: A file path, ``sqlite:///FILE`` or ``postgresql://...``; None for the user's own file.

    Returns:
        The store; close it when done.

    Raises:
        InvalidInput: The address can't be read.
        StorageError: It can't be opened, or belongs to another program or a newer version.
    """
    return open_store(db)
