"""Files that nobody but their owner may read: the key that seals sessions, and keys of certificates."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from platformdirs import user_data_path

from stash.errors import StorageError

_SEAL_BYTES = 32


def folder() -> Path:
    """Where a user's own files lie, beside their database."""
    return user_data_path("stash", appauthor=False)


def seal(file: Path | None = None) -> bytes:
    """The key that seals sessions, made once for this user and kept, so that open forms survive a restart.

    Raises:
        StorageError: It can't be read or made.
    """
    file = file or folder() / "session.key"
    try:
        kept = file.read_bytes() if file.exists() else b""
        if len(kept) != _SEAL_BYTES:
            kept = secrets.token_bytes(_SEAL_BYTES)
            write_private(file, kept)
        file.chmod(0o600)
    except OSError as error:
        raise StorageError(f"{file} can't be used: {error.strerror}", "Check its rights and the disk.") from error
    return kept


def write_private(file: Path, data: bytes) -> None:
    """Write a file that only its owner may read, whole or not at all; it is never readable by others in between."""
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    beside = file.with_name(f".{file.name}.{secrets.token_hex(4)}")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        beside.replace(file)
    finally:
        beside.unlink(missing_ok=True)
