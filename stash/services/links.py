"""Links that show one thing to whoever has them, and nothing else: made, looked up, revoked."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from dataclasses import dataclass

from sqlalchemy import select

from stash.db.models import ShareLink
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput, NotFound
from stash.services.audit import note

SHOWN = {
    "family": "the interchange charts of a family",
    "gaps": "what is missing",
    "wanted": "the models that are wanted",
    "swap": "loose parts to swap",
}
"""``{what a link can show: in words}``."""

LONGEST_DAYS = 3650
_TOKEN_BYTES = 24
_NOTE = 120


@dataclass(frozen=True, slots=True)
class Link:
    """A link that was made.

    Args:
        id: Its number.
        what: A key of ``SHOWN``.
        target: The family; "" for a list.
        note: For whom or what for.
        made_by: Who made it.
        made_at: When, UTC.
        until: When it ends, None for never.
        revoked_at: When it was revoked, None if it was not.
        open: Whether it still shows something.
    """

    id: int
    what: str
    target: str
    note: str
    made_by: str
    made_at: dt.datetime
    until: dt.datetime | None
    revoked_at: dt.datetime | None
    open: bool


def make(store: Store, what: str, target: str, *, text: str, days: int | None, who: str) -> tuple[Link, str]:
    """Make a link.

    Args:
        store: The database.
        what: A key of ``SHOWN``.
        target: The family, where one is shown.
        text: For whom or what for.
        days: After how many days it ends, None for never.
        who: Who makes it.

    Returns:
        The link, and its token, which is not kept and can't be shown again.

    Raises:
        InvalidInput: There is no such thing to show, or the days make no sense.
    """
    if what not in SHOWN or (what == "family" and target not in {each.key for each in store.catalogue().families}):
        raise InvalidInput("There is nothing like that to show", "Choose a family or one of the lists.")
    if days is not None and not 1 <= days <= LONGEST_DAYS:
        raise InvalidInput(f"A link can't end after {days} days", f"Give 1 to {LONGEST_DAYS} days, or none.")
    token, now = secrets.token_urlsafe(_TOKEN_BYTES), dt.datetime.now(dt.UTC)

    def act(work: Work) -> Link:
        row = ShareLink(
            token=_kept(token),
            what=what,
            target=target if what == "family" else "",
            note=text.strip()[:_NOTE],
            made_by=who,
            made_at=now,
            until=None if days is None else now + dt.timedelta(days=days),
            revoked_at=None,
        )
        work.session.add(row)
        note(work.session, "link_made", who, _about(row))
        work.session.flush()
        return _link(row, now)

    return store.write(who, "link", act), token


def links(store: Store) -> tuple[Link, ...]:
    """Return all links, newest first."""
    now = dt.datetime.now(dt.UTC)
    with store.reading() as session:
        rows = session.execute(select(ShareLink).order_by(ShareLink.id.desc())).scalars().all()
    return tuple(_link(row, now) for row in rows)


def look(store: Store, token: str) -> Link:
    """Return what a token shows.

    Raises:
        NotFound: Nothing, or nothing any more; it is not told which.
    """
    now = dt.datetime.now(dt.UTC)
    with store.reading() as session:
        row = session.execute(select(ShareLink).where(ShareLink.token == _kept(token))).scalar()
    link = None if row is None else _link(row, now)
    if link is None or not link.open:
        raise NotFound("This link shows nothing, or nothing any more", "Ask whoever gave it to you for a new one.")
    return link


def revoke(store: Store, number: int, *, who: str) -> Link:
    """Make a link show nothing any more; safe to repeat.

    Raises:
        NotFound: There is no such link.
    """

    def act(work: Work) -> Link:
        row, now = work.session.get(ShareLink, number), dt.datetime.now(dt.UTC)
        if row is None:
            raise NotFound(f"There is no link {number}", "Look at the list again.")
        if row.revoked_at is None:
            row.revoked_at = now
            note(work.session, "link_revoked", who, _about(row))
        return _link(row, now)

    return store.write(who, "link", act)


def _link(row: ShareLink, now: dt.datetime) -> Link:
    is_open = row.revoked_at is None and (row.until is None or now < row.until)
    return Link(row.id, row.what, row.target, row.note, row.made_by, row.made_at, row.until, row.revoked_at, is_open)


def _about(row: ShareLink) -> str:
    return ", ".join(filter(None, (SHOWN[row.what], row.target, row.note)))


def _kept(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
