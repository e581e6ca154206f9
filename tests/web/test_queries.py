"""No page asks the database more often because there is more in it."""

import itertools
from collections.abc import Iterator

import pytest
from sqlalchemy import event

from stash.exchange import RawTable
from stash.kernel.codes import ALPHABET, code_from_payload
from stash.services.tables import load
from tests.services.workshop import BIN_A, RUNNER
from tests.web.test_every_page import ADDRESSES

MORE = 40
"""Rows added of each sort."""


@pytest.fixture
def asked(shop):
    """Counts the statements since it was last emptied."""
    said: list[str] = []

    def listen(_connection, _cursor, statement, *_rest):
        if statement.lstrip().upper().startswith(("SELECT", "WITH")):
            said.append(statement)

    event.listen(shop.engine, "before_cursor_execute", listen)
    yield said
    event.remove(shop.engine, "before_cursor_execute", listen)


def codes() -> Iterator[str]:
    """Codes that nothing in the workshop has."""
    payloads = map("".join, itertools.product("QRS", *[ALPHABET] * 4))
    return (str(found) for payload in payloads if (found := code_from_payload(payload)) is not None)


def more_of_everything(shop) -> None:
    free = codes()
    lots, bins, machines = (list(itertools.islice(free, MORE)) for _ in range(3))
    model = shop.stock().machines[RUNNER].model
    tables = {
        "places": RawTable(("code", "name"), [(at, [key, f"more {at}"]) for at, key in enumerate(bins, 1)]),
        "machines": RawTable(
            ("code", "model", "state"), [(at, [key, model, "project"]) for at, key in enumerate(machines, 1)]
        ),
        "fitted": RawTable(
            ("machine", "position", "state"),
            [(at, [key, "carburettor", "missing"]) for at, key in enumerate(machines, 1)],
        ),
        "lots": RawTable(
            ("code", "kind", "design", "quantity", "place"),
            [(at, [key, "carb", "carb-0", "1", BIN_A]) for at, key in enumerate(lots, 1)],
        ),
    }
    report = load(shop, tables, "bench")
    assert report.ok, report.errors


def test_no_page_asks_more_often_when_there_is_more(visitor, shop, asked):
    pages = [address if isinstance(address, str) else address[0] for address in ADDRESSES]
    before = {}
    for page in pages:
        visitor.client.get(page)
        asked.clear()
        assert visitor.client.get(page).status_code == 200, page
        before[page] = len(asked)
    more_of_everything(shop)
    grown = {}
    for page in pages:
        visitor.client.get(page)
        asked.clear()
        assert visitor.client.get(page).status_code == 200, page
        if len(asked) > before[page]:
            grown[page] = (before[page], len(asked))
    assert grown == {}
