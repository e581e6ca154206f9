"""The two folders of tables as rows, and the scenario as the program sees it once loaded."""

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest

from seed_demo import DEMO, STARTER
from stash.db.store import Store, open_store
from stash.services.demo import load_demo

Tables = dict[str, list[dict[str, str]]]


@pytest.fixture(scope="session")
def starter() -> Tables:
    """The starter's tables as rows of text."""
    return _tables(STARTER)


@pytest.fixture(scope="session")
def demo() -> Tables:
    """The scenario's own tables as rows of text."""
    return _tables(DEMO)


@pytest.fixture(scope="session")
def both(starter: Tables, demo: Tables) -> Tables:
    """The scenario on top of the starter."""
    return {name: [*starter.get(name, []), *demo.get(name, [])] for name in {*starter, *demo}}


@pytest.fixture(scope="session")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A database with the scenario loaded; tests only read it."""
    store = open_store(str(tmp_path_factory.mktemp("demo") / "demo.sqlite"))
    load_demo(store)
    yield store
    store.close()


def _tables(folder: Path) -> Tables:
    return {file.stem: _rows(file) for file in sorted(folder.glob("*.csv"))}


def _rows(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream, strict=True))
