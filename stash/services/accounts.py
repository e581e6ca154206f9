"""Accounts: who may sign in, and as what. Nobody is ever deleted, and one owner always stays."""

from __future__ import annotations

import datetime as dt
import unicodedata
from dataclasses import dataclass

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from stash.db.models import Account, SignIn
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, InvalidInput, NotFound
from stash.services.audit import note
from stash.services.passwords import digest

ROLES = ("owner", "helper", "guest")
"""From everything, to changing stock, to looking."""

LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Person:
    """An account as others see it.

    Args:
        id: Its number.
        name: The name that goes into the ledger.
        role: One of ``ROLES``.
        disabled: It may not sign in.
        made_at: When it was made, UTC.
        signed_in: In how many browsers it is signed in.
    """

    id: int
    name: str
    role: str
    disabled: bool
    made_at: dt.datetime
    signed_in: int = 0

    def as_dict(self) -> dict[str, object]:
        """The account as plain data."""
        return {
            "name": self.name,
            "role": self.role,
            "disabled": self.disabled,
            "made_at": self.made_at.isoformat(timespec="seconds"),
            "signed_in": self.signed_in,
        }


def accounts(store: Store) -> tuple[Person, ...]:
    """Return all accounts, by name."""
    now = dt.datetime.now(dt.UTC)
    with store.reading() as session:
        query = select(SignIn.account, func.count()).where(SignIn.until > now).group_by(SignIn.account)
        signed_in = {row[0]: row[1] for row in session.execute(query)}
        rows = session.execute(select(Account).order_by(Account.folded)).scalars().all()
    return tuple(person_of(row, signed_in.get(row.id, 0)) for row in rows)


def any_account(store: Store) -> bool:
    """Tell whether anybody has an account: from then on everybody signs in."""
    with store.reading() as session:
        return session.execute(select(Account.id).limit(1)).scalar() is not None


def any_owner(store: Store) -> bool:
    """Tell whether an owner may sign in."""
    with store.reading() as session:
        return _owners(session) > 0


def add(store: Store, name: str, role: str, password: str, *, who: str) -> Person:
    """Make an account; the first is an owner's.

    Raises:
        InvalidInput: The name, the role or the password is none.
        Conflict: The name is taken, or there is no owner yet and this is none.
    """
    plain, kept = _name(name), digest(password, name)
    role = _role(role)

    def act(work: Work) -> Person:
        session, now = work.session, dt.datetime.now(dt.UTC)
        if session.execute(select(Account.id).where(Account.folded == folded(plain))).scalar() is not None:
            raise Conflict(f"There is an account {plain} already", "Choose another name, or change that account.")
        if role != "owner" and not _owners(session):
            raise Conflict("The first account must be an owner's", "Add an owner first; helpers and guests follow.")
        row = Account(
            name=plain, folded=folded(plain), role=role, password=kept, disabled=False, made_at=now, changed_at=now
        )
        session.add(row)
        note(session, "account_added", who, f"{plain}, {role}")
        session.flush()
        return person_of(row)

    return store.write(who, "account", act)


def set_role(store: Store, name: str, role: str, *, who: str) -> Person:
    """Give an account another role; it holds from its next page on.

    Raises:
        NotFound: There is no such account.
        InvalidInput: There is no such role.
        Conflict: It is the last owner.
    """
    role = _role(role)

    def act(work: Work) -> Person:
        row = named(work.session, name)
        if row.role != role:
            _keep_an_owner(work.session, row)
            note(work.session, "role_changed", who, f"{row.name}, {row.role} to {role}")
            row.role, row.changed_at = role, dt.datetime.now(dt.UTC)
        return person_of(row)

    return store.write(who, "account", act)


def set_disabled(store: Store, name: str, *, disabled: bool, who: str) -> Person:
    """Shut an account out, wherever it is signed in, or let it in again.

    Raises:
        NotFound: There is no such account.
        Conflict: It is the last owner.
    """

    def act(work: Work) -> Person:
        session = work.session
        row = named(session, name)
        if row.disabled != disabled:
            if disabled:
                _keep_an_owner(session, row)
                session.execute(delete(SignIn).where(SignIn.account == row.id))
            row.disabled, row.changed_at = disabled, dt.datetime.now(dt.UTC)
            note(session, "account_disabled" if disabled else "account_enabled", who, row.name)
        return person_of(row)

    return store.write(who, "account", act)


def set_password(store: Store, name: str, password: str, *, who: str) -> Person:
    """Give an account another password, and sign it out everywhere.

    Raises:
        NotFound: There is no such account.
        InvalidInput: The password is none.
    """
    kept = digest(password, name)

    def act(work: Work) -> Person:
        session = work.session
        row = named(session, name)
        row.password, row.changed_at = kept, dt.datetime.now(dt.UTC)
        session.execute(delete(SignIn).where(SignIn.account == row.id))
        note(session, "password_changed", who, row.name)
        return person_of(row)

    return store.write(who, "account", act)


def sign_out_everywhere(store: Store, name: str, *, who: str) -> int:
    """Sign an account out of every browser; returns of how many.

    Raises:
        NotFound: There is no such account.
    """

    def act(work: Work) -> int:
        row = named(work.session, name)
        gone = len(work.session.execute(delete(SignIn).where(SignIn.account == row.id).returning(SignIn.token)).all())
        note(work.session, "signed_out_everywhere", who, row.name)
        return gone

    return store.write(who, "account", act)


def named(session: Session, name: str) -> Account:
    """Return the account of a name, however it is written.

    Raises:
        NotFound: There is none.
    """
    row = session.execute(select(Account).where(Account.folded == folded(name))).scalar()
    if row is None:
        raise NotFound(f"There is no account {name!r}", "`stash accounts` and the accounts page list them.")
    return row


def folded(name: str) -> str:
    """A name as it is compared: in any case and with any spaces it is the same."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def person_of(row: Account, signed_in: int = 0) -> Person:
    """The account of a row."""
    return Person(row.id, row.name, row.role, row.disabled, row.made_at, signed_in)


def _owners(session: Session) -> int:
    query = select(func.count()).select_from(Account).where(Account.role == "owner", Account.disabled.is_(False))
    return session.execute(query).scalar_one()


def _keep_an_owner(session: Session, row: Account) -> None:
    if row.role == "owner" and not row.disabled and _owners(session) <= 1:
        raise Conflict(f"{row.name} is the last owner", "Make somebody else an owner first.")


def _name(name: str) -> str:
    plain = " ".join(unicodedata.normalize("NFKC", name).split())
    if not plain or len(plain) > LONGEST_NAME or not plain.isprintable():
        raise InvalidInput(f"{name!r} is no name for an account", f"Take 1 to {LONGEST_NAME} letters.")
    return plain


def _role(role: str) -> str:
    if role not in ROLES:
        raise InvalidInput(f"There is no role {role!r}", f"The roles are {', '.join(ROLES)}.")
    return role
