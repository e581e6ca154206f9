"""Accounts, signing in, waiting after wrong passwords, links, and what is noted of them."""

import datetime as dt
import stat
import zipfile
from concurrent.futures import ThreadPoolExecutor

import argon2
import pytest
from sqlalchemy import select, update

from stash.db.models import Account, Event, ShareLink, SignIn
from stash.db.store import open_store
from stash.errors import Conflict, InvalidInput, NotFound, StashError
from stash.services import accounts, audit, door, links, passwords
from stash.services.archive import archive, restore
from tests.services.workshop import furnish

WORD = "sleeve boot gasket"
HERE = "192.0.2.7"


@pytest.fixture(autouse=True)
def quick_digests(monkeypatch):
    monkeypatch.setattr(passwords, "HASHER", argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    monkeypatch.setattr(passwords, "_made", [])
    audit.coming_from(None)


@pytest.fixture
def club(store):
    accounts.add(store, "Ruth", "owner", WORD, who="owner")
    accounts.add(store, "Ben", "helper", WORD, who="Ruth")
    return store


def came_in(store, name="Ruth", word=WORD, address=HERE):
    return door.sign_in(store, name, word, address=address, browser="a phone")


def test_a_password_lets_in_whoever_writes_the_name_in_any_case(club):
    entered = came_in(club, "  rUTH ")
    assert entered.person.name == "Ruth"
    assert door.look(club, entered.token).role == "owner"
    assert door.look(club, entered.token + "x") is None
    assert door.look(club, None) is None


@pytest.mark.parametrize(("name", "word"), [("Ruth", "sleeve boot"), ("Nobody", WORD), ("", ""), ("Ruth", WORD + " ")])
def test_anything_else_lets_nobody_in_and_says_no_more(club, name, word):
    with pytest.raises(InvalidInput, match="do not belong together"):
        came_in(club, name, word)


def test_neither_passwords_nor_tokens_are_kept(club):
    entered = came_in(club)
    link, token = links.make(club, "gaps", "", text="for Ben", days=None, who="Ruth")
    with club.reading() as session:
        digests = session.execute(select(Account.password)).scalars().all()
        kept = [*session.execute(select(SignIn.token)).scalars(), *session.execute(select(ShareLink.token)).scalars()]
    assert all(each.startswith("$argon2id$") for each in digests)
    assert len(set(digests)) == 2
    assert entered.token not in kept
    assert token not in kept
    assert link.open


def test_whoever_guesses_from_one_address_waits_and_others_do_not(club):
    for _ in range(door.BY_ADDRESS):
        with pytest.raises(InvalidInput):
            came_in(club, word="a wrong guess")
    with pytest.raises(door.Wait):
        came_in(club)
    with pytest.raises(door.Wait):
        came_in(club, "Ben")
    assert came_in(club, address="192.0.2.8")


def test_an_account_that_is_tried_from_many_addresses_waits_too(club):
    for number in range(door.BY_ACCOUNT):
        with pytest.raises(InvalidInput):
            came_in(club, word="a wrong guess", address=f"198.51.100.{number}")
    with pytest.raises(door.Wait):
        came_in(club)
    assert came_in(club, "Ben")


def test_a_household_with_many_addresses_of_the_new_kind_counts_as_one(club):
    for number in range(door.BY_ADDRESS):
        with pytest.raises(InvalidInput):
            came_in(club, word="a wrong guess", address=f"2001:db8:7:7::{number:x}")
    with pytest.raises(door.Wait):
        came_in(club, address="2001:db8:7:7:ffff::1")
    assert came_in(club, address="::ffff:192.0.2.9")


def test_waiting_ends(club):
    for _ in range(door.BY_ADDRESS):
        with pytest.raises(InvalidInput):
            came_in(club, word="a wrong guess")
    with club.writing("test", "time passes") as work:
        work.session.execute(update(Event).values(at=_earlier()))
    assert came_in(club)


def _earlier():
    return dt.datetime.now(dt.UTC) - door.WINDOW - dt.timedelta(seconds=1)


def test_many_guesses_at_once_gain_nothing(club):
    def guess(_):
        try:
            came_in(club, word="a wrong guess")
        except StashError as error:
            return type(error)

    with ThreadPoolExecutor(6) as pool:
        told = list(pool.map(guess, range(30)))
    assert told.count(InvalidInput) <= door.BY_ADDRESS
    assert None not in told


def test_being_signed_in_ends_with_the_account_the_password_and_the_time(club):
    first, second = came_in(club, "Ben"), came_in(club, "Ben")
    assert len(door.places(club, first.person, first.token)) == 2
    door.sign_out(club, second.token, who="Ben")
    assert door.look(club, second.token) is None
    assert door.look(club, first.token)
    assert accounts.sign_out_everywhere(club, "Ben", who="Ben") == 1
    assert door.look(club, first.token) is None
    third = came_in(club, "Ben")
    accounts.set_password(club, "Ben", WORD + " two", who="Ruth")
    assert door.look(club, third.token) is None
    fourth = came_in(club, "Ben", WORD + " two")
    accounts.set_disabled(club, "Ben", disabled=True, who="Ruth")
    assert door.look(club, fourth.token) is None
    with pytest.raises(InvalidInput):
        came_in(club, "Ben", WORD + " two")
    accounts.set_disabled(club, "Ben", disabled=False, who="Ruth")
    assert door.look(club, fourth.token) is None
    fifth = came_in(club, "Ben", WORD + " two")
    with club.writing("test", "time passes") as work:
        work.session.execute(update(SignIn).values(until=_earlier()))
    assert door.look(club, fifth.token) is None
    assert door.places(club, fifth.person, fifth.token) == ()


def test_a_role_holds_from_the_next_page_on(club):
    entered = came_in(club, "Ben")
    accounts.set_role(club, "Ben", "guest", who="Ruth")
    assert door.look(club, entered.token).role == "guest"


def test_a_digest_of_other_costs_is_made_anew_when_its_password_comes(club, monkeypatch):
    monkeypatch.setattr(passwords, "HASHER", argon2.PasswordHasher(time_cost=2, memory_cost=16, parallelism=1))
    came_in(club)
    with club.reading() as session:
        kept = session.execute(select(Account.password).where(Account.folded == "ruth")).scalar_one()
    assert not passwords.outdated(kept)
    assert came_in(club)


def test_one_owner_always_stays(club):
    for change in (
        lambda: accounts.set_role(club, "Ruth", "guest", who="Ruth"),
        lambda: accounts.set_disabled(club, "Ruth", disabled=True, who="Ruth"),
    ):
        with pytest.raises(Conflict, match="last owner"):
            change()
    accounts.set_role(club, "Ben", "owner", who="Ruth")
    assert accounts.set_role(club, "Ruth", "guest", who="Ben").role == "guest"


def test_the_first_account_is_an_owners(store):
    with pytest.raises(Conflict, match="first account"):
        accounts.add(store, "Ben", "helper", WORD, who="owner")
    assert not accounts.any_account(store)
    accounts.add(store, "Ruth", "owner", WORD, who="owner")
    assert accounts.any_owner(store)


@pytest.mark.parametrize(
    ("name", "role", "word"),
    [
        ("", "owner", WORD),
        ("x" * 61, "owner", WORD),
        ("a\x07b", "owner", WORD),
        ("Ann", "king", WORD),
        ("Ann", "owner", "short"),
        ("Ann", "owner", "x" * 201),
        ("Ann", "owner", "aaaaaaaaaaaa"),
        ("Annabel Lee", "owner", "annabel lee"),
    ],
)
def test_what_is_no_account_is_refused(store, name, role, word):
    with pytest.raises(InvalidInput):
        accounts.add(store, name, role, word, who="owner")
    assert accounts.accounts(store) == ()


def test_a_name_is_had_once_however_it_is_written(club):
    with pytest.raises(Conflict, match="already"):
        accounts.add(club, "\uff32UTH ", "guest", WORD, who="Ruth")
    with pytest.raises(NotFound):
        accounts.set_role(club, "Ada", "guest", who="Ruth")


def test_a_link_shows_until_it_ends_or_is_revoked(club):
    furnish(club)
    link, token = links.make(club, "family", "a", text="the wall chart", days=7, who="Ruth")
    assert links.look(club, token).target == "a"
    with pytest.raises(NotFound):
        links.look(club, token[:-1] + ("A" if token[-1] != "A" else "B"))
    links.revoke(club, link.id, who="Ruth")
    links.revoke(club, link.id, who="Ruth")
    with pytest.raises(NotFound):
        links.look(club, token)
    _, other = links.make(club, "swap", "", text="", days=1, who="Ruth")
    with club.writing("test", "time passes") as work:
        work.session.execute(update(ShareLink).values(until=_earlier()))
    with pytest.raises(NotFound):
        links.look(club, other)
    assert [each.open for each in links.links(club)] == [False, False]
    with pytest.raises(NotFound):
        links.revoke(club, 999, who="Ruth")


@pytest.mark.parametrize(("what", "target", "days"), [("house", "", None), ("family", "zz", None), ("gaps", "", 0)])
def test_a_link_to_nothing_is_refused(club, what, target, days):
    with pytest.raises(InvalidInput):
        links.make(club, what, target, text="", days=days, who="Ruth")


def test_everything_is_noted_with_who_and_from_where(club):
    audit.coming_from(HERE)
    try:
        furnish(club)
        with pytest.raises(InvalidInput):
            came_in(club, word="my other secret")
        with pytest.raises(InvalidInput):
            came_in(club, "typed my secret here", "")
        entered = came_in(club)
        door.sign_out(club, entered.token, who="Ruth")
        link, _ = links.make(club, "gaps", "", text="for the club", days=None, who="Ruth")
        links.revoke(club, link.id, who="Ruth")
    finally:
        audit.coming_from(None)
    entries = audit.audit(club)
    said = [(entry.what, entry.who, entry.address) for entry in entries]
    assert [each for each in said if each[0] != "change"] == [
        ("link_revoked", "Ruth", HERE),
        ("link_made", "Ruth", HERE),
        ("sign_out", "Ruth", HERE),
        ("sign_in", "Ruth", HERE),
        ("sign_in_failed", "", HERE),
        ("sign_in_failed", "Ruth", HERE),
        ("account_added", "Ruth", ""),
        ("account_added", "owner", ""),
    ]
    changes = audit.audit(club, group="changes")
    assert changes
    assert all(entry.address == HERE and entry.rows for entry in changes)
    assert {entry.what for entry in audit.audit(club, group="failures")} == {"sign_in_failed"}
    assert {entry.who for entry in audit.audit(club, who="Ruth")} == {"Ruth"}
    older = audit.audit(club, before=entries[2].at)
    assert older == entries[3:]
    assert not any("secret" in entry.about + entry.who for entry in entries)


def test_being_sure_again_counts_wrong_answers_and_leaves_no_trace_of_right_ones(club):
    door.sure(club, "Ruth", WORD, address=HERE)
    assert not audit.audit(club, group="failures")
    for _ in range(door.BY_ADDRESS):
        with pytest.raises(InvalidInput):
            door.sure(club, "Ruth", "a wrong guess", address=HERE)
    with pytest.raises(door.Wait):
        door.sure(club, "Ruth", WORD, address=HERE)


def test_an_archive_holds_what_was_done_and_nobody_who_may_come_in(two_stores, tmp_path):
    here, there = two_stores
    accounts.add(here, "Ruth", "owner", WORD, who="owner")
    came_in(here)
    links.make(here, "gaps", "", text="", days=None, who="Ruth")
    archive(here, tmp_path / "all.zip", now=dt.datetime.now(dt.UTC))
    with zipfile.ZipFile(tmp_path / "all.zip") as packed:
        everything = b"".join(packed.read(name) for name in packed.namelist())
    assert b"argon2" not in everything
    restore(there, tmp_path / "all.zip")
    assert not accounts.any_account(there)
    assert links.links(there) == ()
    assert audit.audit(there, group="links") == audit.audit(here, group="links")
    accounts.add(there, "Ruth", "owner", WORD, who="owner")


def test_a_new_file_and_its_copies_are_closed_to_others(tmp_path):
    file = tmp_path / "own.sqlite"
    store = open_store(str(file))
    store.close()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    file.chmod(0o640)
    open_store(str(file)).close()
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
