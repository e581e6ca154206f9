"""Photos as files: made ours, kept under their SHA-256, served small, and gone when nothing names them.

A photo lies in the store's photo folder as a JPEG; the small ones lie in the folder ``small`` beside them, are made
when first asked for, and can be thrown away at any time.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
import re
import subprocess
import sys
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select

from stash.db.models import Photo
from stash.db.store import Store
from stash.errors import InvalidInput, StorageError
from stash.exchange.files import write_atomically

SMALL_PX = 360
"""The longer side of a small photo: sharp at the size of a thumb on a phone. Source: project decision."""
_SMALL_QUALITY = 78
_NAME = re.compile(r"[0-9a-f]{64}\Z")
_PATIENCE_S = 120
_TURN = threading.Lock()
"""One photo at a time is unpacked, however many come in: the largest that is taken needs 1.5 GB for a moment."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo made ours.

    Args:
        data: A JPEG without any note about where, when or by what it was taken.
        sha256: Its SHA-256, which is its name.
        width: In pixels.
        height: In pixels.
        taken_on: The day the camera noted, None for unknown.
    """

    data: bytes
    sha256: str
    width: int
    height: int
    taken_on: dt.date | None


def make_ours(data: bytes) -> Picture:
    """Make a photo from anywhere one of ours; it is unpacked in a process of its own.

    Args:
        data: A JPEG, PNG, WebP or HEIC file, told by its content; its name plays no part.

    Raises:
        InvalidInput: It is no such file, is damaged or too large.
    """
    from labels.photo import MAX_BYTES

    hint = "Send the photo again, or take a new one."
    if len(data) > MAX_BYTES:  # not worth a process
        raise InvalidInput(f"The photo has more than {MAX_BYTES // 1024**2} MB", "Send it smaller.")
    # -P: a folder called like one of ours where the server was started is not ours
    command = [sys.executable, "-P", "-m", "stash.services.picture_child"]
    try:
        with _TURN:
            done = subprocess.run(command, input=data, capture_output=True, timeout=_PATIENCE_S, check=False)  # noqa: S603 - our own program
    except subprocess.TimeoutExpired as error:
        raise InvalidInput("The photo takes far too long to unpack", hint) from error
    except OSError as error:
        raise StorageError(f"No process could be started for the photo ({error})", "Try again in a moment.") from error
    head, _, picture = done.stdout.partition(b"\n")
    if done.returncode or not head:
        raise InvalidInput("The photo can't be unpacked: it is damaged, or needs too much memory", hint)
    about = json.loads(head)
    if "message" in about:
        raise InvalidInput(about["message"].rstrip("."), about["hint"])
    taken_on = dt.date.fromisoformat(about["taken_on"]) if about["taken_on"] else None
    return Picture(picture, hashlib.sha256(picture).hexdigest(), about["width"], about["height"], taken_on)


def keep(store: Store, picture: Picture) -> None:
    """Put a photo into the photo folder where it is not there yet.

    Raises:
        StorageError: The disk would not do it.
    """
    file = store.photos / picture.sha256
    if file.is_file():
        return
    try:
        store.photos.mkdir(parents=True, exist_ok=True)
        write_atomically(file, picture.data)
    except OSError as error:
        raise StorageError(
            f"The photo can't be kept in {store.photos}: {error.strerror}", "Nothing was added."
        ) from error


def forget_unnamed(store: Store, digests: Iterable[str]) -> None:
    """Delete the files of photos that no row names any more.

    A file is set aside first and put back where somebody named it in the meantime; whoever adds a photo looks again
    after naming it (``keep``), so that between the two no photo is lost.
    """
    for digest in digests:
        file, aside = store.photos / digest, store.photos / f".gone-{digest}"
        if _named(store, digest) or not file.is_file():
            continue
        try:
            file.replace(aside)
            if _named(store, digest):
                aside.replace(file)
                continue
        except FileNotFoundError:  # somebody else is at it
            continue
        aside.unlink(missing_ok=True)
        _small_file(store, digest).unlink(missing_ok=True)


def large_file(store: Store, digest: str) -> Path | None:
    """Return where a photo lies; None when its file is gone."""
    file = store.photos / digest
    return file if _NAME.match(digest) and file.is_file() else None


def small_file(store: Store, digest: str) -> Path | None:
    """Return where a small one of a photo lies, made now if need be; None when the photo is gone or damaged."""
    file = large_file(store, digest)
    if file is None:
        return None
    small = _small_file(store, digest)
    if not small.is_file():
        made = _made_small(file)
        if made is None:
            return None
        small.parent.mkdir(exist_ok=True)
        write_atomically(small, made)
    return small


def small(store: Store, digest: str) -> bytes | None:
    """Return a small JPEG of a photo, None when the photo is gone or damaged."""
    file = small_file(store, digest)
    return file.read_bytes() if file is not None else None


def _made_small(file: Path) -> bytes | None:
    """Only our own JPEGs are unpacked here, in a fraction of their size (``thumbnail`` asks the decoder for it)."""
    from PIL import Image

    try:
        with Image.open(file, formats=("JPEG",)) as picture:
            picture.thumbnail((SMALL_PX, SMALL_PX))
            plain = picture.convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning):
        return None
    plain.info.clear()
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=_SMALL_QUALITY, optimize=True)
    return out.getvalue()


def _small_file(store: Store, digest: str) -> Path:
    return store.photos / "small" / f"{digest}.jpg"


def _named(store: Store, digest: str) -> bool:
    with store.reading() as session:
        return session.execute(select(Photo.id).where(Photo.sha256 == digest).limit(1)).first() is not None
