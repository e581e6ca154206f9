"""``demo``: loaded once, told in the terminal, kept apart from one's own stash."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from stash.cli import main
from stash.services.open import open_stash


def demo(*words):
    return CliRunner().invoke(main, ["demo", "--no-serve", *words])


@pytest.fixture
def file(own_home):
    return own_home / "data" / "stash" / "demo.sqlite"


def test_the_demo_says_what_it_holds_what_it_can_finish_and_what_a_part_fits(file):
    result = demo()
    assert result.exit_code == 0, result.output
    assert "18 machines" in result.stdout
    assert "What the shelf can finish" in result.stdout
    assert "FN-21.380-B" in result.stdout
    assert "bolts on" in result.stdout
    assert "won't fit" in result.stdout
    assert file.exists()


def test_the_demo_never_touches_ones_own_stash(file, monkeypatch, workshop):
    monkeypatch.setenv("STASH_DB", str(workshop))
    before = workshop.read_bytes()
    assert demo().exit_code == 0
    assert workshop.read_bytes() == before
    assert not file.with_name("stash.sqlite").exists()


def test_what_was_tried_stays_until_it_is_started_over(file, tmp_path):
    demo()
    (tmp_path / "makers.csv").write_text("key,name\nmine,Mine\n")
    assert CliRunner().invoke(main, ["load", str(tmp_path / "makers.csv"), "--db", str(file)]).exit_code == 0
    assert "--fresh starts it over" in demo().stdout
    assert makers(file) == {"fennaby", "ruddlow", "mine"}
    assert demo("--fresh").exit_code == 0
    assert makers(file) == {"fennaby", "ruddlow"}


def makers(file):
    store = open_stash(str(file))
    keys = set(store.catalogue().maker)
    store.close()
    return keys


def test_the_demo_does_not_mix_into_a_collection(workshop):
    result = demo("--db", str(workshop))
    assert result.exit_code == 2
    assert "collection of its own" in result.stderr


def test_another_place_is_not_started_over(workshop):
    assert demo("--fresh", "--db", str(workshop)).exit_code == 2
    assert workshop.exists()
