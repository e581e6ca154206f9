"""Rows about who may come in: accounts, where they are signed in, shared links, and what happened at the door.

None of these is a table people load or export; passwords and tokens are kept as digests only.
"""

from __future__ import annotations

import datetime as dt

from sqlalchemy import CheckConstraint, Index
from sqlalchemy.orm import Mapped, mapped_column

from stash.db.base import Base, refers


class Account(Base):
    """A person who may sign in; never deleted, so that the history keeps its names.

    ``folded`` is the name as it is compared; ``password`` is an argon2 digest with its salt and costs.
    """

    __tablename__ = "accounts"
    __table_args__ = (CheckConstraint("role IN ('owner', 'helper', 'guest')", name="role"),)
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    folded: Mapped[str] = mapped_column(unique=True)
    role: Mapped[str]
    password: Mapped[str]
    disabled: Mapped[bool] = mapped_column(default=False)
    made_at: Mapped[dt.datetime]
    changed_at: Mapped[dt.datetime]


class SignIn(Base):
    """One browser that is signed in: the digest of what its cookie holds."""

    __tablename__ = "sign_ins"
    __table_args__ = (Index(None, "account"),)
    token: Mapped[str] = mapped_column(primary_key=True)
    account: Mapped[int] = refers("accounts.id")
    at: Mapped[dt.datetime]
    until: Mapped[dt.datetime]
    address: Mapped[str]
    browser: Mapped[str]


class ShareLink(Base):
    """A link that shows one thing to whoever has it: ``what`` it shows and, for a family, which."""

    __tablename__ = "share_links"
    id: Mapped[int] = mapped_column(primary_key=True)
    token: Mapped[str] = mapped_column(unique=True)
    what: Mapped[str]
    target: Mapped[str]
    note: Mapped[str]
    made_by: Mapped[str]
    made_at: Mapped[dt.datetime]
    until: Mapped[dt.datetime | None]
    revoked_at: Mapped[dt.datetime | None]


class Event(Base):
    """Something that happened at the door, or was changed about it; ``what`` is a word of ``services.audit``."""

    __tablename__ = "events"
    __table_args__ = (Index(None, "at"), Index("ix_events_knocks", "what", "at"))
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[dt.datetime]
    what: Mapped[str]
    who: Mapped[str]
    address: Mapped[str]
    about: Mapped[str]
