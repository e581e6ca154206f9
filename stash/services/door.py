"""The door: signing in and out, and making guessers wait.

A browser that is signed in holds a random token; the database holds its digest, so that whoever reads the database
can't use it. A try is counted before its password is looked at, so that many at once gain nothing.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import ipaddress
import secrets
from dataclasses import dataclass

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from stash.db.models import Account, Event, SignIn
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput
from stash.services.accounts import Person, folded, person_of
from stash.services.audit import note
from stash.services.passwords import again, matches, outdated

DAYS = 90
"""How long a browser stays signed in. Source: project decision; a phone at the bench is opened every week."""

WINDOW = dt.timedelta(minutes=15)
BY_ADDRESS, BY_ACCOUNT = 10, 20
"""Wrong passwords within the window after which an address, or an account, waits. Source: project decision; somebody
who guesses from one address leaves the account's owner, at another, room to come in."""

_BROWSER = 120
_TOKEN_BYTES = 32


class Wait(InvalidInput):
    """Too many wrong passwords from here, or for this account."""


@dataclass(frozen=True, slots=True)
class Entered:
    """Somebody who signed in, and the token their browser keeps."""

    person: Person
    token: str


def sign_in(store: Store, name: str, password: str, *, address: str, browser: str = "") -> Entered:
    """Let somebody in.

    Args:
        store: The database.
        name: The account's name.
        password: Its password.
        address: From where.
        browser: What the browser calls itself.

    Raises:
        Wait: Too many wrong passwords; nothing was looked at.
        InvalidInput: Name and password do not belong together.
    """
    knock, account, kept = _checked(store, name, password, address)
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    renewed = again(password) if outdated(kept) else kept

    def enter(work: Work) -> Person:
        session, now = work.session, dt.datetime.now(dt.UTC)
        row = session.get_one(Account, account)
        if row.disabled or row.password != kept:
            raise _wrong()
        row.password = renewed
        session.get_one(Event, knock).what = "sign_in"
        session.execute(delete(SignIn).where(SignIn.until <= now))
        until = now + dt.timedelta(days=DAYS)
        session.add(
            SignIn(
                token=_kept(token), account=account, at=now, until=until, address=address, browser=browser[:_BROWSER]
            )
        )
        return person_of(row)

    return Entered(store.write(name, "sign in", enter), token)


def sure(store: Store, name: str, password: str, *, address: str) -> None:
    """Make sure that it is still the same person, before something that matters.

    Raises:
        Wait: Too many wrong passwords.
        InvalidInput: It is not the account's password.
    """
    knock, _, _ = _checked(store, name, password, address)
    store.write(name, "sure", lambda work: work.session.execute(delete(Event).where(Event.id == knock)))


def look(store: Store, token: str | None) -> Person | None:
    """Return who holds a token, None when nobody does or they may not come in any more."""
    if not token:
        return None
    with store.reading() as session:
        query = (
            select(Account)
            .join(SignIn, SignIn.account == Account.id)
            .where(SignIn.token == _kept(token), SignIn.until > dt.datetime.now(dt.UTC), Account.disabled.is_(False))
        )
        row = session.execute(query).scalar()
        return None if row is None else person_of(row)


def sign_out(store: Store, token: str, *, who: str) -> None:
    """Forget a token."""

    def act(work: Work) -> None:
        work.session.execute(delete(SignIn).where(SignIn.token == _kept(token)))
        note(work.session, "sign_out", who)

    store.write(who, "sign out", act)


@dataclass(frozen=True, slots=True)
class Place:
    """Where somebody is signed in: since when, until when, from which address, with which browser, and whether here."""

    at: dt.datetime
    until: dt.datetime
    address: str
    browser: str
    here: bool


def places(store: Store, person: Person, token: str | None) -> tuple[Place, ...]:
    """Return where a person is signed in, newest first."""
    here = _kept(token or "")
    with store.reading() as session:
        query = select(SignIn).where(SignIn.account == person.id, SignIn.until > dt.datetime.now(dt.UTC))
        rows = session.execute(query.order_by(SignIn.at.desc())).scalars().all()
    return tuple(Place(row.at, row.until, row.address, row.browser, row.token == here) for row in rows)


def _checked(store: Store, name: str, password: str, address: str) -> tuple[int, int, str]:
    """Count a try, and return its event, the account and its digest when the password is right.

    Raises:
        Wait: Too many wrong passwords.
        InvalidInput: Name and password do not belong together.
    """
    known, near = folded(name), network(address)

    def knock(work: Work) -> tuple[int, int, str] | None:
        row = work.session.execute(select(Account).where(Account.folded == known)).scalar()
        whose = row.name if row else ""
        if _crowded(work.session, whose, near):
            return None
        event = note(work.session, "sign_in_failed", whose, address=near)
        work.session.flush()
        return event.id, row.id if row and not row.disabled else 0, row.password if row and not row.disabled else ""

    found = store.write(name, "knock", knock)
    if found is None:
        raise Wait("Too many wrong passwords", "Wait a quarter of an hour and try again.")
    if not matches(found[2] or None, password):
        raise _wrong()
    return found


def _crowded(session: Session, whose: str, near: str) -> bool:
    since = dt.datetime.now(dt.UTC) - WINDOW
    lately = select(func.count()).select_from(Event).where(Event.at > since)
    failed = lately.where(Event.what == "sign_in_failed")
    crowded = session.execute(failed.where(Event.address == near)).scalar_one() >= BY_ADDRESS or (
        bool(whose) and session.execute(failed.where(Event.who == whose)).scalar_one() >= BY_ACCOUNT
    )
    told = lately.where(Event.what == "sign_in_refused", Event.address == near)
    if crowded and not session.execute(told).scalar_one():
        note(session, "sign_in_refused", whose, address=near)
    return crowded


def network(address: str) -> str:
    """What counts as one address: an IPv4 address, or the IPv6 network one household has."""
    try:
        found = ipaddress.ip_address(address.split("%", maxsplit=1)[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address) and not found.is_loopback:
        mapped = found.ipv4_mapped
        return str(mapped or ipaddress.ip_network((found, 64), strict=False))
    return str(found)


def _wrong() -> InvalidInput:
    return InvalidInput(
        "This name and password do not belong together", "Mind capitals and the layout of the keyboard."
    )


def _kept(token: str) -> str:
    """What the database keeps of a token; it is long and random, so one round of SHA-256 is enough."""
    return hashlib.sha256(token.encode()).hexdigest()
