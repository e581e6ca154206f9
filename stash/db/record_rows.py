"""Rows the program keeps for itself: codes, the ledger, what was changed, photos, settings, sheets, shelf sessions."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, CheckConstraint, Index, Integer
from sqlalchemy.orm import Mapped, mapped_column

from stash.db.base import Base, refers

CODE_TYPES = {"places": "place", "machines": "machine", "lots": "lot"}
"""``{table: what a code of it is called}``."""


class Code(Base):
    """One code given out: the single namespace of places, machines and lots."""

    __tablename__ = "codes"
    __table_args__ = (CheckConstraint("type IN ('place', 'machine', 'lot')", name="type"),)
    code: Mapped[str] = mapped_column(primary_key=True)
    type: Mapped[str]


class Batch(Base):
    """One act of writing: everything in it was done together and is undone together.

    ``address`` is the network address it was asked from, or "command line"; None where nobody noted it.
    """

    __tablename__ = "batches"
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[dt.datetime]
    who: Mapped[str]
    why: Mapped[str]
    undoes: Mapped[int | None] = refers("batches.id")
    address: Mapped[str | None]


class Movement(Base):
    """One entry of the ledger: so many of a lot went from here to there.

    ``source`` and ``target`` are end texts, see ``stash.kernel.ends``.
    """

    __tablename__ = "movements"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("source <> target", name="goes_somewhere"),
        Index(None, "batch"),
        Index(None, "lot"),
        Index(None, "source"),
        Index(None, "target"),
    )
    id: Mapped[int] = mapped_column(primary_key=True)
    batch: Mapped[int] = refers("batches.id")
    lot: Mapped[str] = refers("lots.code")
    quantity: Mapped[int]
    source: Mapped[str]
    target: Mapped[str]


class Change(Base):
    """A row of one of the tables before and after a batch; one of the two is empty for a new or deleted row.

    ``identity`` is the row's identity cells joined by U+001F, which no cell can hold; ``before`` and ``after``
    are ``{column: cell text}`` without the empty cells, and the row's ``version`` as a number.
    """

    __tablename__ = "changes"
    __table_args__ = (Index(None, "batch"), Index("ix_changes_row", "table", "identity"))
    id: Mapped[int] = mapped_column(primary_key=True)
    batch: Mapped[int] = refers("batches.id")
    table: Mapped[str]
    identity: Mapped[str]
    before: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    after: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))


class Revision(Base):
    """How often a group of tables was written; a snapshot made at that count is still true."""

    __tablename__ = "revisions"
    name: Mapped[str] = mapped_column(primary_key=True)
    counter: Mapped[int] = mapped_column(default=0, server_default="0")


class Photo(Base):
    """A photo of a place, machine, lot or design; the file lies in the store's photo folder under its SHA-256."""

    __tablename__ = "photos"
    __table_args__ = (
        CheckConstraint("(code IS NULL) <> (design IS NULL)", name="of_one_thing"),
        Index(None, "code"),
        Index(None, "sha256"),
        Index(None, "code", "sha256", unique=True),
        Index(None, "design", "sha256", unique=True),
    )
    id: Mapped[int] = mapped_column(primary_key=True)
    code: Mapped[str | None] = refers("codes.code")
    design: Mapped[str | None] = refers("designs.key")
    ordinal: Mapped[int] = mapped_column(default=0, server_default="0")
    sha256: Mapped[str]
    media_type: Mapped[str]
    width: Mapped[int]
    height: Mapped[int]
    taken_on: Mapped[dt.date | None]
    added_at: Mapped[dt.datetime]
    added_by: Mapped[str | None]
    note: Mapped[str | None]


class Printed(Base):
    """When a code's label was last printed, and a digest of what it said.

    The code need not be in use yet: blank labels are printed first and stuck on later.
    """

    __tablename__ = "printed"
    code: Mapped[str] = mapped_column(primary_key=True)
    printed_at: Mapped[dt.datetime]
    digest: Mapped[str]


class Setting(Base):
    """One setting of this database."""

    __tablename__ = "settings"
    key: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str]


class Sheet(Base):
    """A flat sheet taken in before, told by its headers: what its columns are and what was answered about it.

    ``columns`` is ``{plain header: field}``, ``answers`` is ``{question: answer}``.
    """

    __tablename__ = "sheets"
    fingerprint: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    columns: Mapped[dict[str, Any]] = mapped_column(JSON(none_as_null=True))
    answers: Mapped[dict[str, Any]] = mapped_column(JSON(none_as_null=True))
    taken_at: Mapped[dt.datetime]


class SheetRow(Base):
    """Which lot a row of a flat sheet became, and what the row said when it was last taken in.

    ``key`` is a digest of the row's telling cells; ``wrote`` is ``{column: cell text}`` of the lot, so that a later
    sheet's own changes can be told from what was done in the workshop since; ``batch`` is where that was written.
    """

    __tablename__ = "sheet_rows"
    __table_args__ = (Index(None, "lot"),)
    sheet: Mapped[str] = refers("sheets.fingerprint", key=True)
    key: Mapped[str] = mapped_column(primary_key=True)
    lot: Mapped[str]
    wrote: Mapped[dict[str, Any]] = mapped_column(JSON(none_as_null=True))
    batch: Mapped[int | None] = refers("batches.id")


class ShelfAdd(Base):
    """One part put on the shelf in a shelf session, known by the token its form carried, so that it is booked once.

    ``sitting`` is the shelf session; ``digest`` tells whether a form that comes again says the same. ``lot`` and
    ``batch`` are empty where a part was taken back before it came: what comes late is then not booked.
    """

    __tablename__ = "shelf_adds"
    __table_args__ = (Index(None, "sitting"), Index(None, "batch"))
    token: Mapped[str] = mapped_column(primary_key=True)
    sitting: Mapped[str]
    digest: Mapped[str]
    lot: Mapped[str | None]
    batch: Mapped[int | None] = refers("batches.id")


class Findable(Base):
    """What the search box looks through: one folded text for each machine, place, model, design and lot.

    Made from other rows by ``stash.db.findable`` in the transaction that changes them; never written by hand.
    """

    __tablename__ = "findable"
    __table_args__ = (Index("ix_findable_type_key", "type", "key", unique=True),)
    id: Mapped[int] = mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=False)
    type: Mapped[str]
    key: Mapped[str]
    text: Mapped[str]
