import re
from collections.abc import Callable
from html.parser import HTMLParser

import argon2
import pytest
from flask import Flask
from flask.testing import FlaskClient

from stash.db.store import Store, open_store
from stash.services import accounts, passwords
from stash.web import create_app
from tests.services.workshop import furnish

WORD = "sleeve boot gasket"
"""The password of everybody in the tests."""

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


@pytest.fixture
def empty(make_url_of: Callable[[str], str]):
    """An empty store."""
    opened = open_store(make_url_of("sqlite"))
    yield opened
    opened.close()


@pytest.fixture
def shop(empty: Store) -> Store:
    """A store with the small workshop in it."""
    furnish(empty)
    return empty


@pytest.fixture
def app(shop: Store) -> Flask:
    return create_app(shop, secret_key="for tests only")


@pytest.fixture
def quick_digests(monkeypatch: pytest.MonkeyPatch) -> None:
    """Passwords digested at no cost: what takes long on purpose is not what is tested."""
    monkeypatch.setattr(passwords, "HASHER", argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    monkeypatch.setattr(passwords, "_made", [])


@pytest.fixture
def club(shop: Store, quick_digests: None) -> Store:
    """The small workshop with an account of each role, named after it."""
    for role in accounts.ROLES:
        accounts.add(shop, role, role, WORD, who="owner")
    return shop


def came_in(app: Flask, name: str, password: str = WORD) -> "Visitor":
    """Somebody who has signed in."""
    visitor = Visitor(app.test_client())
    assert visitor.send("/sign-in", name=name, password=password).status == 200
    return visitor


@pytest.fixture
def visitor(app: Flask) -> "Visitor":
    return Visitor(app.test_client())


class Page:
    """An answer: its status, its text as a person reads it, and its form fields."""

    def __init__(self, response) -> None:
        self.status = response.status_code
        self.headers = response.headers
        self.body = response.get_data(as_text=True) if "html" in (response.content_type or "") else ""
        self.data = response.get_data()
        self.reader = _Reader()
        self.reader.feed(self.body)
        self.text = " ".join("".join(self.reader.words).split())
        self.links = self.reader.links

    def fields(self) -> dict[str, str]:
        """``{name: value}`` of every field, as a browser would send the page's forms."""
        return dict(self.reader.fields)

    def problem(self, name: str) -> str:
        """What stands beside a field as its problem."""
        found = re.search(rf'<span class="problem" id="f-{name}-problem">(.*?)</span>', self.body, re.DOTALL)
        return found[1] if found else ""


class Visitor:
    """A person with a browser that runs no scripts: opens pages, fills in the form it finds, and sends it."""

    def __init__(self, client: FlaskClient) -> None:
        self.client = client

    def open(self, address: str, follow: bool = True) -> Page:
        return Page(self.client.get(address, follow_redirects=follow, buffered=True))

    def send(self, address: str, /, *, follow: bool = True, open_at: str = "", **typed: str) -> Page:
        """Open a page, type into its form and send it to an address."""
        fields = {
            **self.open(open_at or address).fields(),
            **{name.replace("__", "-"): text for name, text in typed.items()},
        }
        return Page(self.client.post(address, data=fields, follow_redirects=follow, buffered=True))


class _Reader(HTMLParser):
    """Reads a page; a tag that is not closed, or an attribute of a script, fails the test that opened it."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.links: list[str] = []
        self.fields: list[tuple[str, str]] = []
        self.stack: list[str] = []
        self.select = ""
        self.area = ""
        self.first = True

    def handle_starttag(self, tag: str, attrs) -> None:
        given = {name: value or "" for name, value in attrs}
        assert not [name for name in given if name.startswith("on") or name == "style"], (tag, given)
        if tag not in VOID and tag not in {"use", "path", "circle"}:
            self.stack.append(tag)
        if tag == "a" and "href" in given:
            self.links.append(given["href"])
        if tag == "input" and given.get("type") not in {"checkbox", "file", "search"} and "name" in given:
            self.fields.append((given["name"], given.get("value", "")))
        if tag == "select":
            self.select, self.first = given["name"], True
        if tag == "option" and self.select and ("selected" in given or self.first):
            self.fields.append((self.select, given["value"]))
            self.first = False
        if tag == "textarea":
            self.area = given["name"]
            self.fields.append((self.area, ""))
        if tag in {"p", "div", "li", "td", "th", "dt", "dd", "h1", "h2", "h3", "a", "span"}:
            self.words.append(" ")

    def handle_endtag(self, tag: str) -> None:
        if tag in {"use", "path", "circle"}:
            return
        assert self.stack, f"</{tag}> closes nothing"
        assert self.stack[-1] == tag, f"</{tag}> closes <{self.stack[-1]}>"
        self.stack.pop()
        if tag == "select":
            self.select = ""
        if tag == "textarea":
            self.area = ""

    def handle_data(self, data: str) -> None:
        if self.area:
            self.fields[-1] = (self.area, data.removeprefix("\n"))
        self.words.append(data)
