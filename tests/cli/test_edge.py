"""Errors are told once, at the edge: in words, with the mend, and with the right exit code."""

from __future__ import annotations

import json

import click
import pytest
from click.testing import CliRunner

from stash.cli.edge import command, no, opened, with_json
from stash.errors import CellProblem, Conflict, InvalidInput, NotFound, StashError

TROUBLE = {
    "number": InvalidInput("'9' is not a year", "Write four digits."),
    "name": NotFound("No lot goes by 'X'", "Look with `stash find`."),
    "bare": Conflict("Somebody was there first"),
    "sheet": InvalidInput(
        "2 cells are wrong",
        "Mend them and load again.",
        (
            CellProblem("lots", 3, "quantity", "-2", "is below zero", "Write 0 or more."),
            CellProblem("lots", 0, "", "", "has no header row", "Put the names first."),
        ),
    ),
}


@command("try", "stash try number")
@click.argument("what")
@with_json
def attempt(what: str, *, as_json: bool) -> None:
    """Fail in one of the known ways."""
    if what == "no":
        no()
    if what == "defect":
        raise ZeroDivisionError("by zero")
    if what == "fine":
        click.echo(json.dumps(as_json))
        return
    raise TROUBLE[what]


def run(*args: str):
    return CliRunner().invoke(attempt, list(args))


def test_an_answer_ends_with_0():
    assert run("fine").exit_code == 0


def test_the_answer_no_ends_with_1():
    assert run("no").exit_code == 1


@pytest.mark.parametrize("what", TROUBLE)
def test_an_error_ends_with_2_and_says_message_and_mend_on_standard_error(what):
    result = run(what)
    error: StashError = TROUBLE[what]
    assert result.exit_code == 2
    assert result.stdout == ""
    assert f"stash: {error.message}" in result.stderr
    assert error.hint in result.stderr


def test_a_defect_ends_with_3_and_shows_where(monkeypatch):
    result = run("defect")
    assert result.exit_code == 3
    assert "ZeroDivisionError" in result.stderr
    assert "defect in stash" in result.stderr


def test_wrong_cells_stand_in_a_table_with_place_and_mend(monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    lines = run("sheet").stderr.splitlines()
    header = next(line for line in lines if line.startswith("table"))
    assert header.split() == ["table", "row", "column", "found", "problem", "mend"]
    row = next(line for line in lines if "quantity" in line)
    assert [cell.strip() for cell in row.split("  ") if cell.strip()] == [
        "lots",
        "3",
        "quantity",
        "-2",
        "is below zero",
        "Write 0 or more.",
    ]


def test_a_long_list_of_wrong_cells_is_cut_and_says_so(monkeypatch):
    cell = CellProblem("lots", 3, "quantity", "-2", "is below zero", "Write 0 or more.")
    monkeypatch.setitem(TROUBLE, "long", InvalidInput("many", "", (cell,) * 73))
    told = run("long").stderr
    assert told.count("is below zero") == 50
    assert "and 23 more" in told


def test_json_tells_the_error_on_standard_output_too():
    result = run("sheet", "--json")
    told = json.loads(result.stdout)
    assert told["error"] == {
        "code": "invalid_input",
        "message": "2 cells are wrong",
        "hint": "Mend them and load again.",
    }
    assert told["errors"][0] == {
        "table": "lots",
        "row": 3,
        "column": "quantity",
        "value": "-2",
        "problem": "is below zero",
        "hint": "Write 0 or more.",
    }
    assert "2 cells are wrong" in result.stderr
    assert result.exit_code == 2


def test_a_wrong_option_ends_with_2():
    assert run("fine", "--nonsense").exit_code == 2


def test_a_pipe_that_closes_early_is_no_defect(monkeypatch):
    monkeypatch.setitem(TROUBLE, "pipe", BrokenPipeError())
    result = run("pipe")
    assert isinstance(result.exception, BrokenPipeError)


def test_an_address_that_cannot_be_read_is_bad_input():
    with pytest.raises(InvalidInput):
        opened("mysql://somewhere/db")
