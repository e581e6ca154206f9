"""Photos of machines, loose parts, designs and bins: added, told, put in order, removed.

A photo belongs to one thing and may be there only once; the same picture on two things is one file (``pictures``).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import func, select

from stash.db.models import Photo
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, InvalidInput
from stash.services import pictures
from stash.services.photo_rows import Shown, as_shown, find_thing, row_of, rows_of, what_of

__all__ = [
    "Added",
    "Shown",
    "add_photo",
    "first_photos",
    "is_named",
    "photo",
    "photos_of",
    "put",
    "remove_photo",
    "say",
    "thing",
]

MOST = 60
"""Photos of one thing. Source: project decision."""
LONGEST_CAPTION = 500
_MEDIA_TYPE = "image/jpeg"


@dataclass(frozen=True, slots=True)
class Added:
    """What came of adding a photo.

    Args:
        photo: It, or the one that was there already.
        fresh: Whether it was not there before.
    """

    photo: Shown
    fresh: bool


def add_photo(store: Store, what: str, name: str, data: bytes, *, who: str, caption: str = "") -> Added:
    """Add a photo to a thing: upright, no larger than needed, without its location and other notes of the camera.

    Sent twice it is added once, so a form may be sent again after a lost connection.

    Args:
        store: The database.
        what: ``machine``, ``lot``, ``place`` or ``design``.
        name: Its code in any spelling, or the design's key.
        data: A JPEG, PNG, WebP or HEIC file.
        who: Who does it.
        caption: What is to be seen; may be empty.

    Raises:
        NotFound: There is no such thing.
        InvalidInput: It is no photo, is damaged or too large, the caption is too long, or the thing has enough photos.
        StorageError: The disk or the database would not do it.
    """
    what, name = thing(store, what, name)
    said = _caption(caption)
    picture = pictures.make_ours(data)
    pictures.keep(store, picture)
    row = {
        "code" if what != "design" else "design": name,
        "sha256": picture.sha256,
        "media_type": _MEDIA_TYPE,
        "width": picture.width,
        "height": picture.height,
        "taken_on": picture.taken_on,
        "added_at": dt.datetime.now(dt.UTC),
        "added_by": who,
        "note": said,
    }

    def act(work: Work) -> Added:
        session = work.session
        find_thing(session, what, name)
        there = rows_of(session, what, name)
        known = next((each for each in there if each.sha256 == picture.sha256), None)
        if known is not None:
            return Added(as_shown(known, what), fresh=False)
        if len(there) >= MOST:
            raise InvalidInput(f"There are {MOST} photos of it already", "Remove one that tells nothing.")
        photo = Photo(ordinal=max((each.ordinal for each in there), default=0) + 1, **row)
        session.add(photo)
        session.flush()
        return Added(as_shown(photo, what), fresh=True)

    try:
        added = _written_once(store, who, act)
    except BaseException:
        pictures.forget_unnamed(store, (picture.sha256,))
        raise
    pictures.keep(store, picture)  # somebody may have removed the same picture elsewhere just before it was named here
    pictures.small_file(store, picture.sha256)
    return added


def _written_once(store: Store, who: str, act: Callable[[Work], Added]) -> Added:
    """Write; where another one added the very same photo in the same moment, find theirs."""
    try:
        return store.write(who, "added a photo", act)
    except Conflict:
        return store.write(who, "added a photo", act)


def thing(store: Store, what: str, name: str) -> tuple[str, str]:
    """Return a thing that may have photos as it is known: what it is, and its code or key.

    Raises:
        NotFound: There is no such thing.
    """
    with store.reading() as session:
        return find_thing(session, what, name)


def photos_of(store: Store, what: str, name: str) -> tuple[Shown, ...]:
    """Return the photos of a thing in their order; none where there is no such thing.

    Args:
        store: The database.
        what: ``machine``, ``lot``, ``place`` or ``design``.
        name: Its code, or the design's key.
    """
    with store.reading() as session:
        return tuple(as_shown(row, what) for row in rows_of(session, what, name))


def first_photos(store: Store) -> dict[str, str]:
    """Return ``{code: SHA-256 of its first photo}`` for everything with a code that has one."""
    with store.reading() as session:
        query = select(Photo.code, Photo.sha256).where(Photo.code.is_not(None))
        rows = session.execute(query.order_by(Photo.ordinal.desc(), Photo.id.desc())).all()
    return {code: digest for code, digest in rows if code is not None}


def photo(store: Store, number: int) -> Shown:
    """Return one photo.

    Raises:
        NotFound: There is none of that number.
    """
    with store.reading() as session:
        row = row_of(session, number)
        return as_shown(row, what_of(session, row))


def is_named(store: Store, digest: str) -> bool:
    """Tell whether any thing has the photo of this SHA-256."""
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(Photo).where(Photo.sha256 == digest)) != 0


def say(store: Store, number: int, caption: str, *, who: str, seen: str | None = None) -> None:
    """Say what a photo shows.

    Args:
        store: The database.
        number: The photo.
        caption: The words; empty for none.
        who: Who does it.
        seen: The words the form was made from; None to overwrite whatever is there.

    Raises:
        NotFound: The photo is gone.
        Conflict: Somebody else wrote something in the meantime.
        InvalidInput: It is too long.
    """
    said = _caption(caption)

    def act(work: Work) -> None:
        row = row_of(work.session, number)
        now = row.note or ""
        if seen is not None and now not in {" ".join(seen.split()), said or ""}:
            raise Conflict(
                f"Somebody else wrote “{now}” in the meantime",
                "Nothing was written; look at it again and put your words to theirs.",
            )
        row.note = said

    store.write(who, "captioned a photo", act)


def put(store: Store, number: int, where: str, *, who: str) -> None:
    """Put a photo in its order; the first one stands for the thing in lists.

    Args:
        store: The database.
        number: The photo.
        where: ``first``, ``earlier`` or ``later``.
        who: Who does it.

    Raises:
        NotFound: The photo is gone.
        InvalidInput: There is no such direction.
    """

    def act(work: Work) -> None:
        row = row_of(work.session, number)
        order = rows_of(work.session, what_of(work.session, row), row.code or row.design or "")
        at = order.index(row)
        to = {"first": 0, "earlier": max(at - 1, 0), "later": at + 1}.get(where)
        if to is None:
            raise InvalidInput(f"A photo is put first, earlier or later, not {where!r}", "Use the buttons.")
        order.insert(to, order.pop(at))
        for ordinal, each in enumerate(order, 1):
            each.ordinal = ordinal

    store.write(who, "put a photo in order", act)


def remove_photo(store: Store, number: int, *, who: str) -> Shown:
    """Remove a photo for good; its file goes too when it is of nothing else.

    Args:
        store: The database.
        number: The photo.
        who: Who does it.

    Returns:
        What it was.

    Raises:
        NotFound: It is gone already.
    """

    def act(work: Work) -> Shown:
        row = row_of(work.session, number)
        was = as_shown(row, what_of(work.session, row))
        work.session.delete(row)
        return was

    was = store.write(who, "removed a photo", act)
    pictures.forget_unnamed(store, (was.sha256,))
    return was


def _caption(text: str) -> str | None:
    """Return a caption in one line, None for none."""
    said = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    if len(said) > LONGEST_CAPTION:
        raise InvalidInput(f"The words have {len(said)} letters; at most {LONGEST_CAPTION} fit", "Say it shorter.")
    return said or None
