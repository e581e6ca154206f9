"""Accounts from the command line."""

import json

import pytest
from click.testing import CliRunner

from stash.cli import main
from stash.services import audit, door
from stash.services.open import open_stash

WORD = "sleeve boot gasket"


@pytest.fixture
def typed(tmp_path):
    file = tmp_path / "club.sqlite"

    def run(*words: str, stdin: str = ""):
        return CliRunner().invoke(main, ["accounts", *words, "--db", str(file)], input=stdin)

    run.file = file
    return run


def test_accounts_are_made_listed_and_changed(typed):
    assert "Ruth" in typed("--add", "Ruth", stdin=f"{WORD}\n").stdout
    assert typed("--add", "Ben", "--role", "helper", stdin=WORD).exit_code == 0
    assert typed("--change", "ben", "--role", "guest").exit_code == 0
    assert typed("--disable", "BEN").exit_code == 0
    listed = json.loads(typed("--json").stdout)
    assert [(each["name"], each["role"], each["disabled"]) for each in listed] == [
        ("Ben", "guest", True),
        ("Ruth", "owner", False),
    ]
    assert typed("--enable", "ben").exit_code == 0
    assert typed("--password", "ben", stdin=WORD + " two").exit_code == 0
    store = open_stash(str(typed.file))
    entered = door.sign_in(store, "Ben", WORD + " two", address="192.0.2.7")
    assert typed("--sign-out", "ben").exit_code == 0
    assert door.look(store, entered.token) is None
    assert {entry.address for entry in audit.audit(store, group="accounts")} == {audit.COMMAND_LINE}
    store.close()


def test_without_accounts_it_says_what_that_means(typed):
    open_stash(str(typed.file)).close()
    assert "opens without a password" in typed().stdout
    assert json.loads(typed("--json").stdout) == []


@pytest.mark.parametrize(
    ("words", "stdin", "said"),
    [
        (["--add", "Ben", "--role", "helper"], WORD, "first account must be an owner's"),
        (["--add", "Ruth"], "short", "too short"),
        (["--add", "Ruth", "--disable", "Ruth"], WORD, "one thing at a time"),
        (["--role", "owner"], "", "--role goes with"),
        (["--change", "Ruth"], "", "needs the new role"),
        (["--disable", "Nobody"], "", "no account"),
    ],
)
def test_what_cannot_be_done_is_said_with_the_mend(typed, words, stdin, said):
    result = typed(*words, stdin=stdin)
    assert result.exit_code == 2
    assert said in result.output


def test_a_password_is_never_shown(typed):
    result = typed("--add", "Ruth", stdin=WORD)
    assert WORD not in result.output
    assert WORD.encode() not in typed.file.read_bytes()
