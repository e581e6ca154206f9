"""Uploaded files between looking at them and taking them in: kept for an hour, under a name nobody can guess."""

from __future__ import annotations

import os
import re
import secrets
import tempfile
import time
from pathlib import Path

from stash.errors import NotFound

_KEPT_S = 3600.0
_TICKET = re.compile(r"[A-Za-z0-9_-]{32}\Z")
_NAME = re.compile(r"[^\w. -]+")


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
    folder = _folder() / ticket
    files = list(folder.iterdir()) if _TICKET.match(ticket) and folder.is_dir() else []
    if not files:
        raise NotFound("The checked file is not kept any more", "Choose it again; it is kept for an hour.")
    return files[0].name, files[0].read_bytes()


def drop(ticket: str) -> None:
    """Forget a kept file."""
    if _TICKET.match(ticket):
        _remove(_folder() / ticket)


def plain(name: str) -> str:
    """Return a file name without any path in it."""
    last = re.split(r"[/\\]", name)[-1]
    return _NAME.sub("_", last).strip(". ")[-100:] or "upload"


def _folder() -> Path:
    owner = os.getuid() if hasattr(os, "getuid") else "user"
    folder = Path(tempfile.gettempdir()) / f"stash-uploads-{owner}"
    folder.mkdir(mode=0o700, exist_ok=True)
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
