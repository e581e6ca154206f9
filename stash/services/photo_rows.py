"""The rows of photos, and the things they are of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from stash.db.models import CODE_TYPES, Code, Design, Photo
from stash.errors import Conflict, NotFound
from stash.kernel.codes import parse_code

KINDS_OF_THING = ("machine", "lot", "place", "design")
"""What may have photos; the words are those of an address."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A photo as it is shown.

    Args:
        id: Its number.
        what: Whether it is of a machine, lot, place or design.
        name: The code, or the key of the design.
        sha256: Names its file, see ``pictures``.
        width: In pixels.
        height: In pixels.
        caption: What its owner says of it, "" for nothing.
        taken_on: The day the camera noted.
        added_at: When it came.
        added_by: Who brought it, "" for not known.
    """

    id: int
    what: str
    name: str
    sha256: str
    width: int
    height: int
    caption: str
    taken_on: dt.date | None
    added_at: dt.datetime
    added_by: str


def find_thing(session: Session, what: str, name: str) -> tuple[str, str]:
    """Return a thing as it is known: what it is, and its code or key.

    Raises:
        NotFound: There is no such thing, or it is of a sort without photos.
    """
    if what not in KINDS_OF_THING:
        raise NotFound(f"A {what} has no photos", "Machines, loose parts, designs and bins have.")
    if what == "design":
        if session.get(Design, name) is None:
            raise NotFound(f"No design goes by {name!r}", "It may have been renamed; look in the list of designs.")
        return what, name
    parsed = parse_code(name)
    known = session.get(Code, str(parsed)) if parsed else None
    if known is None or known.type != what:
        raise NotFound(f"No {what} has the code {name}", "Scan its label again.")
    return what, known.code


def rows_of(session: Session, what: str, name: str) -> list[Photo]:
    """Return the rows of a thing's photos in their order."""
    own: ColumnElement[bool] = Photo.design == name if what == "design" else Photo.code == name
    return list(session.execute(select(Photo).where(own).order_by(Photo.ordinal, Photo.id)).scalars())


def row_of(session: Session, number: int) -> Photo:
    """Return the row of one photo.

    Raises:
        NotFound: There is none.
    """
    row = session.get(Photo, number)
    if row is None:
        raise NotFound("This photo is not there any more", "Somebody may have removed it.")
    return row


def what_of(session: Session, row: Photo) -> str:
    """Return whether a photo is of a machine, lot, place or design."""
    known = session.get(Code, row.code) if row.code is not None else None
    return known.type if known is not None else "design"


def as_shown(row: Photo, what: str) -> Shown:
    """Return a row as it is shown."""
    return Shown(
        row.id,
        what,
        row.code or row.design or "",
        row.sha256,
        row.width,
        row.height,
        row.note or "",
        row.taken_on,
        row.added_at,
        row.added_by or "",
    )


def refuse_photographed(session: Session, table: str, row: Mapping[str, Any]) -> None:
    """Keep a row that has photos.

    Raises:
        Conflict: It has.
    """
    owner, column = (Photo.design, "key") if table == "designs" else (Photo.code, "code")
    if table not in {"designs", *CODE_TYPES}:
        return
    if session.execute(select(Photo.id).where(owner == row[column]).limit(1)).first() is not None:
        raise Conflict(f"{row[column]} has photos", "Remove its photos first.")
