"""Uploaded files between looking at them and taking them in: kept for an hour, under a name nobody can guess."""

from __future__ import annotations

import json
import os
import re
import secrets
import stat
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stash.errors import NotFound, StorageError

_KEPT_S = 3600.0
_TICKET = re.compile(r"[A-Za-z0-9_-]{32}\Z")
_NAME = re.compile(r"[^\w. -]+")
_SAID = ".said"
"""What was said about a file; no file is kept under a name with a dot in front."""


def keep(name: str, data: bytes) -> str:
    """Keep a file.

    Args:
        name: What it was called.
        data: Its bytes.

    Returns:
        A ticket to fetch it with.
    """
    folder = _folder()
    _sweep(folder)
    ticket = secrets.token_urlsafe(24)
    (folder / ticket).mkdir(mode=0o700)
    (folder / ticket / plain(name)).write_bytes(data)
    return ticket


def fetch(ticket: str) -> tuple[str, bytes]:
    """Return the name and bytes of a kept file.

    Raises:
        NotFound: It is not kept any more.
    """
    file = _kept(ticket)
    return file.name, file.read_bytes()


def note(ticket: str, said: Mapping[str, Any]) -> None:
    """Keep what was said about a kept file beside it, instead of what was said before; its hour begins again.

    Raises:
        NotFound: It is not kept any more.
    """
    folder = _kept(ticket).parent
    fresh = folder / f"{_SAID}-{secrets.token_hex(4)}"
    fresh.write_text(json.dumps(said), encoding="utf-8")
    fresh.replace(folder / _SAID)


def noted(ticket: str) -> dict[str, Any]:
    """Return what was said about a kept file, nothing where nobody said anything.

    Raises:
        NotFound: It is not kept any more.
    """
    beside = _kept(ticket).with_name(_SAID)
    said: dict[str, Any] = json.loads(beside.read_text(encoding="utf-8")) if beside.is_file() else {}
    return said


def drop(ticket: str) -> None:
    """Forget a kept file."""
    if _TICKET.match(ticket):
        _remove(_folder() / ticket)


def _kept(ticket: str) -> Path:
    folder = _folder() / ticket
    found = folder.iterdir() if _TICKET.match(ticket) and folder.is_dir() else ()
    files = [file for file in found if not file.name.startswith(".")]
    if not files:
        raise NotFound("The checked file is not kept any more", "Choose it again; it is kept for an hour.")
    return files[0]


def plain(name: str) -> str:
    """Return a file name without any path in it."""
    last = re.split(r"[/\\]", name)[-1]
    return _NAME.sub("_", last).strip(". ")[-100:] or "upload"


def _folder() -> Path:
    owner = os.getuid() if hasattr(os, "getuid") else "user"
    folder = Path(tempfile.gettempdir()) / f"stash-uploads-{owner}"
    folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    if stat.S_ISLNK(found.st_mode) or (
        hasattr(os, "getuid") and (found.st_uid != os.getuid() or found.st_mode & 0o077)
    ):
        raise StorageError(
            f"The folder {folder} belongs to somebody else, or others may look into it",
            "Remove it, or name another one for passing files in the environment variable TMPDIR.",
        )
    return folder


def _sweep(folder: Path) -> None:
    for each in folder.iterdir():
        try:
            if time.time() - each.stat().st_mtime > _KEPT_S:
                _remove(each)
        except OSError:
            continue


def _remove(folder: Path) -> None:
    if folder.is_dir():
        for file in folder.iterdir():
            file.unlink(missing_ok=True)
        folder.rmdir()
