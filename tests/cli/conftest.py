"""A small workshop in a file, and a way to type commands at it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from stash.cli import main
from stash.services.open import open_stash
from tests.services.workshop import furnish


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch) -> Path:
    """Keep the person's own files out of it: everything a user owns lies in a folder of the test."""
    for name in ("STASH_DB", "STASH_OWNER_PASSWORD", "STASH_HELPER_PASSWORD", "STASH_GUEST_PASSWORD"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home" / "data"))
    monkeypatch.setenv("COLUMNS", "120")
    return tmp_path / "home"


@pytest.fixture(scope="session")
def furnished(tmp_path_factory) -> Path:
    """The small workshop as a file to copy."""
    file = tmp_path_factory.mktemp("workshop") / "workshop.sqlite"
    store = open_stash(str(file))
    furnish(store)
    store.close()
    return file


@pytest.fixture
def workshop(furnished, tmp_path) -> Path:
    """The small workshop in a file of its own."""
    file = tmp_path / "workshop.sqlite"
    file.write_bytes(furnished.read_bytes())
    return file


@pytest.fixture
def type_in(workshop) -> Callable[..., Result]:
    """Type a command at the workshop."""

    def run(*words: str) -> Result:
        return CliRunner().invoke(main, [*words, "--db", str(workshop)])

    return run


@pytest.fixture
def ask(type_in) -> Callable[..., Any]:
    """Type a command at the workshop and read its JSON; it must end as expected."""

    def run(*words: str, ends: int = 0) -> Any:
        result = type_in(*words, "--json")
        assert result.exit_code == ends, result.output
        return json.loads(result.stdout)

    return run
