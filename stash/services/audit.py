"""What happened and from where: changes of the collection, and what went on at the door, newest first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from stash.db.models import Batch, Change, Event, Movement
from stash.db.rows import SEPARATOR
from stash.db.store import Store
from stash.db.unit import ORIGIN

COMMAND_LINE = "command line"
"""Where what is done without a browser comes from."""

WORDS = {
    "sign_in": "signed in",
    "sign_in_failed": "gave a wrong password",
    "sign_in_refused": "was made to wait after too many wrong passwords",
    "sign_out": "signed out",
    "signed_out_everywhere": "signed out everywhere",
    "password_changed": "password changed",
    "account_added": "account added",
    "account_disabled": "account disabled",
    "account_enabled": "account enabled",
    "role_changed": "role changed",
    "link_made": "link made",
    "link_revoked": "link revoked",
}
"""``{what: how people read it}`` for every sort of event."""

GROUPS = {
    "changes": (),
    "sign_ins": ("sign_in", "sign_out", "signed_out_everywhere"),
    "failures": ("sign_in_failed", "sign_in_refused"),
    "accounts": ("password_changed", "account_added", "account_disabled", "account_enabled", "role_changed"),
    "links": ("link_made", "link_revoked"),
}
"""``{what one can ask for: the sorts of events}``; ``changes`` are the batches of the ledger."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line.

    Args:
        at: When, UTC.
        who: Whose name; "" where it is not known.
        address: From where; "" where it was not noted.
        said: What happened, in words.
        about: To what; may be empty.
        what: The sort of event, or ``change``.
        batch: The entry of the ledger, None for an event.
        rows: (table, how many of its rows it changed, the identity where it is one), by table.
        movements: How many movements it made.
    """

    at: dt.datetime
    who: str
    address: str
    said: str
    about: str
    what: str
    batch: int | None = None
    rows: tuple[tuple[str, int, str], ...] = ()
    movements: int = 0


def coming_from(address: str | None) -> None:
    """Say from where what this thread writes from now on is asked for."""
    ORIGIN.set(address)


def origin() -> str:
    """From where this thread was asked; "" where nobody said."""
    return ORIGIN.get() or ""


def note(session: Session, what: str, who: str, about: str = "", *, address: str | None = None) -> Event:
    """Enter an event in a transaction that is being written.

    Args:
        session: Its session.
        what: A key of ``WORDS``.
        who: Whose doing it was, or whose account was tried.
        about: To what.
        address: From where, None for where this thread was asked from.
    """
    at = dt.datetime.now(dt.UTC)
    event = Event(at=at, what=what, who=who, address=origin() if address is None else address, about=about)
    session.add(event)
    return event


def audit(
    store: Store, *, group: str = "", who: str = "", before: dt.datetime | None = None, limit: int = 60
) -> tuple[Entry, ...]:
    """Return what happened, newest first.

    Args:
        store: The database.
        group: A key of ``GROUPS``; "" for everything.
        who: Only this name's; "" for everybody's.
        before: Only what happened before, for turning pages.
        limit: At most so many.
    """
    with store.reading() as session:
        found = [] if group in GROUPS and group != "changes" else _changes(session, who, before, limit)
        if group != "changes":
            found += _events(session, GROUPS.get(group, tuple(WORDS)), who, before, limit)
    return tuple(sorted(found, key=lambda entry: entry.at, reverse=True)[:limit])


def _changes(session: Session, who: str, before: dt.datetime | None, limit: int) -> list[Entry]:
    query = select(Batch).order_by(Batch.id.desc()).limit(limit)
    if who:
        query = query.where(Batch.who == who)
    if before is not None:
        query = query.where(Batch.at < before)
    batches = session.execute(query).scalars().all()
    rows, movements = _rows(session, batches), _movements(session, batches)
    return [
        Entry(
            batch.at,
            batch.who,
            batch.address or "",
            batch.why,
            "",
            "change",
            batch.id,
            tuple(rows.get(batch.id, ())),
            movements.get(batch.id, 0),
        )
        for batch in batches
    ]


def _rows(session: Session, batches: Sequence[Batch]) -> dict[int, list[tuple[str, int, str]]]:
    """``{batch: (table, how many rows, the identity where it is one)}``."""
    query = (
        select(Change.batch, Change.table, func.count(), func.min(Change.identity))
        .where(Change.batch.in_([batch.id for batch in batches]))
        .group_by(Change.batch, Change.table)
        .order_by(Change.batch, Change.table)
    )
    found: dict[int, list[tuple[str, int, str]]] = {}
    for batch, table, count, identity in session.execute(query):
        found.setdefault(batch, []).append((table, count, identity.replace(SEPARATOR, " ") if count == 1 else ""))
    return found


def _movements(session: Session, batches: Sequence[Batch]) -> dict[int, int]:
    """``{batch: how many movements}``."""
    query = select(Movement.batch, func.count()).where(Movement.batch.in_([batch.id for batch in batches]))
    return {row[0]: row[1] for row in session.execute(query.group_by(Movement.batch))}


def _events(session: Session, sorts: Sequence[str], who: str, before: dt.datetime | None, limit: int) -> list[Entry]:
    query = select(Event).where(Event.what.in_(sorts)).order_by(Event.at.desc(), Event.id.desc()).limit(limit)
    if who:
        query = query.where(Event.who == who)
    if before is not None:
        query = query.where(Event.at < before)
    return [
        Entry(event.at, event.who, event.address, WORDS[event.what], event.about, event.what)
        for event in session.execute(query).scalars()
    ]
