"""A workshop as full as they get: 400 bins, 300 machines, 3,000 lots. Pages stay light and lists are whole."""

import itertools
import re

import pytest

from stash.exchange import RawTable
from stash.kernel.codes import ALPHABET, code_from_payload
from stash.services.tables import load
from stash.web import create_app
from tests.services.workshop import SHELF
from tests.web.conftest import Visitor

BINS, MACHINES, LOTS = 400, 300, 3_000
LIGHT = 100_000
"""Bytes of a page. Source: project decision."""


def codes(start: str):
    payloads = ("".join((start, *tail)) for tail in itertools.product(ALPHABET, repeat=4))
    return (code for payload in payloads if (code := code_from_payload(payload)))


def rows(*header: str, found) -> RawTable:
    return RawTable(header, [(number, list(cells)) for number, cells in enumerate(found, 1)])


@pytest.fixture
def full(shop):
    bins = list(itertools.islice(codes("X"), BINS))
    machines = list(itertools.islice(codes("Y"), MACHINES))
    lots = list(itertools.islice(codes("Z"), LOTS))
    kinds = [
        ("carb", "carb-0"),
        ("carb", "carb-90"),
        ("boot", "boot-0"),
        ("boot", "boot-90"),
        ("clip", ""),
        ("carb", ""),
    ]
    tables = {
        "places": rows("code", "name", "inside", found=((code, f"Bin {i:03d}", SHELF) for i, code in enumerate(bins))),
        "machines": rows(
            "code",
            "model",
            "year",
            "state",
            "serial",
            found=((code, ("early", "late")[i % 2], "", "project", f"No {i}") for i, code in enumerate(machines)),
        ),
        "fitted": rows(
            "machine",
            "position",
            "state",
            found=((code, position, "missing") for code in machines for position in ("carburettor", "boot")),
        ),
        "lots": rows(
            "code",
            "kind",
            "design",
            "quantity",
            "condition",
            "place",
            found=((code, *kinds[i % 6], "1", "good", bins[i // 75]) for i, code in enumerate(lots)),
        ),
    }
    report = load(shop, tables, "owner")
    assert report.ok, report.errors[:3]
    return Visitor(create_app(shop, secret_key="for tests only").test_client()), bins, machines, lots


def test_no_page_gets_heavy(full):
    visitor, bins, machines, lots = full
    addresses = [
        "/",
        "/machines/",
        "/lots/",
        "/lots/?page=9",
        "/places/",
        "/places/?page=3",
        f"/places/{bins[0]}",
        f"/places/{SHELF}",
        f"/machines/{machines[0]}",
        f"/lots/{lots[0]}",
        f"/lots/{lots[4]}",
        "/gaps/",
        "/gaps/?group=complete&page=2",
        f"/gaps/of?gap=machine:{machines[0]}",
        "/ledger/?limit=120",
        "/find?q=bin",
        "/lots/add?kind=carb",
        f"/machines/{machines[0]}/fit?position=carburettor",
        "/labels/?not_printed=yes",
        "/designs/carb-0",
        "/models/late",
        "/builds/add",
        "/catalogue/build_parts/add",
        f"/lots/{lots[0]}/move",
    ]
    heavy = {}
    for address in addresses:
        page = visitor.open(address)
        assert page.status == 200, address
        if len(page.data) >= LIGHT:
            heavy[address] = len(page.data)
    assert heavy == {}


def test_turning_pages_shows_every_lot_once(full):
    visitor, _, _, lots = full
    seen: list[str] = []
    for number in range(1, 62):
        page = visitor.open(f"/lots/?page={number}")
        links = dict.fromkeys(link for link in page.links if re.fullmatch("/lots/[0-9A-Z]{6}", link))
        seen += [link.removeprefix("/lots/") for link in links]
    assert len(seen) == len(set(seen))
    assert set(lots) <= set(seen)


def test_a_list_too_long_to_choose_from_becomes_a_field_with_suggestions(full):
    visitor, bins, _, lots = full
    page = visitor.open(f"/lots/{lots[0]}/move")
    assert '<input id="f-place"' in page.body
    assert 'data-suggest="places"' in page.body
    page = visitor.send(f"/lots/{lots[0]}/move", place=bins[9].lower())
    assert "now in Bin 009" in page.text
