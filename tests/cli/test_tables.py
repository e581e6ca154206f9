"""``load`` and ``export``."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from stash.cli import main
from stash.services.open import open_stash
from tests.services.workshop import CARBS


@pytest.mark.parametrize("name", ["out", "out.zip", "out.xlsx", "out.ods"])
def test_what_goes_out_comes_in_again_unchanged(ask, type_in, tmp_path, name):
    path = tmp_path / name
    assert type_in("export", str(path)).exit_code == 0
    report = ask("load", str(path), "--dry-run")
    assert report["errors"] == []
    assert report["tables"]["lots"] == {"added": 0, "changed": 0, "same": 6}
    assert sum(counts["added"] + counts["changed"] for counts in report["tables"].values()) == 0


def test_an_export_into_an_empty_database_is_byte_for_byte_the_same(type_in, tmp_path):
    first, second = tmp_path / "first", tmp_path / "second"
    type_in("export", str(first))
    other = ["--db", str(tmp_path / "other.sqlite")]
    assert CliRunner().invoke(main, ["load", str(first), *other]).exit_code == 0
    assert CliRunner().invoke(main, ["export", str(second), *other]).exit_code == 0
    names = sorted(path.name for path in first.iterdir())
    assert names == sorted(path.name for path in second.iterdir())
    assert "lots.csv" in names
    for name in names:
        assert (first / name).read_bytes() == (second / name).read_bytes()


def test_a_load_says_what_is_new_changed_and_as_before(type_in, tmp_path):
    (tmp_path / "makers.csv").write_text("key,name\nfen,Fennaby Works\nnew,Newcomer\nrud,Ruddlow\n")
    result = type_in("load", str(tmp_path / "makers.csv"))
    assert result.exit_code == 0
    row = next(line for line in result.stdout.splitlines() if line.startswith("makers"))
    assert row.split() == ["makers", "1", "1", "1"]
    assert "Loaded." in result.stdout


def test_a_dry_run_writes_nothing_and_says_so(type_in, ask, tmp_path):
    (tmp_path / "makers.csv").write_text("key,name\nnew,Newcomer\n")
    assert "nothing was written" in type_in("load", str(tmp_path / "makers.csv"), "--dry-run").stdout
    assert ask("load", str(tmp_path / "makers.csv"), "--dry-run")["tables"]["makers"]["added"] == 1


def test_a_wrong_cell_is_told_with_its_place_and_nothing_is_written(type_in, ask, tmp_path):
    file = tmp_path / "lots.csv"
    file.write_text(f"code,kind,quantity\n{CARBS},carb,9\n{CARBS[:-1]}?,carb,-2\n")
    result = type_in("load", str(file))
    assert result.exit_code == 2
    assert "nothing was written" in result.stderr
    assert "quantity" in result.stderr
    report = ask("load", str(file), ends=2)
    assert {problem["column"] for problem in report["errors"]} >= {"quantity", "code"}
    assert {problem["row"] for problem in report["errors"]} == {2}
    assert set(report["errors"][0]) == {"table", "row", "column", "value", "problem", "hint"}
    assert ask("find", CARBS)[0]["title"] == "straight carburettor"


def test_a_path_that_is_not_there_is_bad_input(type_in):
    result = type_in("load", "nowhere.xlsx")
    assert result.exit_code == 2
    assert "nowhere.xlsx" in result.stderr


def test_the_starter_vocabulary_comes_on_its_own(tmp_path):
    file = str(tmp_path / "own.sqlite")
    tried = CliRunner().invoke(main, ["load", "--starter", "--dry-run", "--json", "--db", file])
    loaded = CliRunner().invoke(main, ["load", "--starter", "--json", "--db", file])
    again = CliRunner().invoke(main, ["load", "--starter", "--json", "--db", file])
    assert json.loads(tried.stdout) == json.loads(loaded.stdout)
    kinds = json.loads(loaded.stdout)["tables"]["kinds"]
    assert kinds["added"] > 20
    assert json.loads(again.stdout)["tables"]["kinds"] == {"added": 0, "changed": 0, "same": kinds["added"]}


@pytest.mark.parametrize("words", [[], ["some.xlsx", "--starter"]])
def test_one_thing_is_loaded_at_a_time(words):
    assert CliRunner().invoke(main, ["load", *words]).exit_code == 2


def test_a_slip_in_the_name_of_a_database_is_told_and_makes_no_file(tmp_path):
    file = tmp_path / "typo.sqlite"
    for words in (["gaps"], ["export", str(tmp_path / "x")], ["find", "x"], ["verify"]):
        result = CliRunner().invoke(main, [*words, "--db", str(file)])
        assert result.exit_code == 2
        assert "There is no database" in result.stderr
        assert not file.exists()


def test_the_database_may_come_from_the_environment(workshop, monkeypatch):
    monkeypatch.setenv("STASH_DB", str(workshop))
    assert CARBS in CliRunner().invoke(main, ["find", CARBS]).stdout


def test_without_an_address_it_is_the_users_own_file(own_home):
    result = CliRunner().invoke(main, ["load", "--starter"])
    assert result.exit_code == 0
    assert (own_home / "data" / "stash" / "stash.sqlite").exists()


def test_the_history_says_who_loaded_it(workshop, tmp_path, monkeypatch):
    from stash.services.history import history

    monkeypatch.setattr("getpass.getuser", lambda: "rosa")
    (tmp_path / "makers.csv").write_text("key,name\nnew,Newcomer\n")
    CliRunner().invoke(main, ["load", str(tmp_path / "makers.csv"), "--db", str(workshop)])
    store = open_stash(str(workshop))
    assert history(store, limit=1)[0].who == "rosa"
    store.close()


def test_an_account_without_a_name_is_the_owner(monkeypatch):
    from stash.cli.edge import me

    def nameless():
        raise OSError("no such user")

    monkeypatch.setattr("getpass.getuser", nameless)
    assert me() == "owner"
