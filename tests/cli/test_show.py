"""Tables keep to the width of the terminal and lose nothing."""

from __future__ import annotations

from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.cli.show import count, table, width_of, years

LONG = "the pin is 12 mm against 10 mm in the small-end bearing, so it goes in with the other rod"


def test_columns_stand_under_their_headers_and_numbers_to_the_right(monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    header, rule, first, second = table(("lot", "how many"), [("7K3QX9", 2), ("A", 11)]).splitlines()
    assert set(rule.strip()) == {"\u2500"}
    assert header.index("lot") == first.index("7K3QX9") == second.index("A")
    assert len(header) == len(first) == len(second)
    assert (first.split(), second.split()) == (["7K3QX9", "2"], ["A", "11"])


@pytest.mark.parametrize("width", [40, 60, 80, 132])
def test_long_words_wrap_where_the_terminal_ends_and_none_is_lost(monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    shown = table(("model", "why"), [("Kittle II", LONG), ("Pip", "")])
    assert max(len(line) for line in shown.splitlines()) <= width
    assert " ".join(shown.split()).count("small-end") == 1
    for word in LONG.split():
        assert word in shown


def test_a_pipe_gets_one_line_for_each_row(monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    out = StringIO()
    shown = table(("model", "why"), [("Kittle II", LONG * 5)], out)
    assert LONG * 5 in shown.splitlines()[2]


def test_a_tiny_terminal_still_gets_a_readable_table(monkeypatch):
    monkeypatch.setenv("COLUMNS", "5")
    assert width_of() == 40


def test_square_brackets_and_smileys_are_words_and_not_markup():
    assert "[red]x[/red] :boom:" in table(("note",), [("[red]x[/red] :boom:",)])


def test_an_empty_cell_is_empty():
    assert table(("a", "b"), [(None, ""), (0, "x")]).splitlines()[-1].split() == ["0", "x"]


@given(st.lists(st.tuples(st.text("abc ", min_size=1, max_size=90), st.integers(0, 10**6)), min_size=1, max_size=5))
def test_every_row_is_shown_in_order(rows):
    shown = table(("word", "number"), rows)
    numbers = [int(line.split()[-1]) for line in shown.splitlines()[2:]]
    assert numbers == [number for _, number in rows]


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (None, None, ""),
        (1974, 1978, "1974-1978"),
        (1974, 1974, "1974"),
        (1974, None, "from 1974"),
        (None, 1978, "to 1978"),
    ],
)
def test_years_are_said_as_people_say_them(first, last, said):
    assert years(first, last) == said


@pytest.mark.parametrize(("number", "said"), [(0, "0 boxes"), (1, "1 box"), (2, "2 boxes")])
def test_one_is_not_many(number, said):
    assert count(number, "box", "boxes") == said


def test_many_takes_an_s_by_itself():
    assert count(3, "lot") == "3 lots"
