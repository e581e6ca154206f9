"""Reading a cell and writing it back; every kind of cell says what is wrong and how to mend it."""

import datetime as dt
import unicodedata
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.kernel.cells import Fault, list_items, read_cell, write_cell
from stash.kernel.measured import read_measured
from stash.kernel.tables import TABLES, Cell, Column

COLUMNS = [column for table in TABLES for column in table.columns]


def col(cell, **options):
    return Column("x", cell, **options)


@pytest.mark.parametrize(
    ("column", "text", "value"),
    [
        (col(Cell.TEXT), "  two\r\nlines\tand\ra tab ", "two\nlines and\na tab"),
        (col(Cell.TEXT), "e\u0301", "é"),
        (col(Cell.SLUG), " kittle-ii ", "kittle-ii"),
        (col(Cell.SLUG), "k", "k"),
        (col(Cell.SLUG), "c14+", "c14+"),
        (col(Cell.SPOT), "crank bearing, flywheel side", "crank bearing, flywheel side"),
        (col(Cell.CODE), "aaa-aaa", "AAAAAA"),
        (col(Cell.WHOLE, low=0, high=9), "7.0", 7),
        (col(Cell.YEAR, low=1800, high=2200), "1968", 1968),
        (col(Cell.EXACT), "38.2000", Decimal("38.2")),
        (col(Cell.EXACT), "\u22120.05", Decimal("-0.05")),
        (col(Cell.MONEY), "18.5", 1850),
        (col(Cell.MONEY), "18", 1800),
        (col(Cell.YES_NO), "Yes", True),
        (col(Cell.YES_NO), "no", False),
        (col(Cell.DATE), "1974-05-31", dt.date(1974, 5, 31)),
        (col(Cell.CHOICE, choices=("new", "good")), "good", "good"),
        (col(Cell.LIST), " a ; b | c ;; | ", "a;b|c"),
        (col(Cell.MEASURED), " 38.2 ", "38.2"),
        (col(Cell.TEXT), " ", None),
        (col(Cell.WHOLE, default="1"), "", 1),
        (col(Cell.YES_NO, default="no"), "", False),
    ],
)
def test_a_cell_is_read_and_written_back(column, text, value):
    assert read_cell(column, text) == value
    assert read_cell(column, write_cell(column, value)) == value
    assert type(read_cell(column, text)) is type(value)


@pytest.mark.parametrize(
    ("column", "text", "problem", "hint"),
    [
        (col(Cell.TEXT, required=True), " ", "is empty", "filled"),
        (col(Cell.TEXT, longest=5), "123456", "too long", "5"),
        (col(Cell.TEXT), "a\x00b", "can't be shown", "Remove"),
        (col(Cell.TEXT), "\ud800", "can't be shown", "Remove"),
        (col(Cell.SLUG), "two words", "not a key", "without spaces"),
        (col(Cell.SLUG), "-x", "not a key", "letters"),
        (col(Cell.SLUG), "x" * 81, "not a key", "short"),
        (col(Cell.SLUG), "<b>", "not a key", "letters"),
        (col(Cell.SPOT), "a;b", "not the name of a position", "80"),
        (col(Cell.SPOT), "a\x01", "can't be shown", "Remove"),
        (col(Cell.CODE), "AAAAAB", "not a code", "slip"),
        (col(Cell.WHOLE, low=0, high=9), "10", "out of range", "between 0 and 9"),
        (col(Cell.WHOLE, low=0), "-1", "out of range", "between"),
        (col(Cell.WHOLE), "1.5", "not a whole number", "without decimals"),
        (col(Cell.WHOLE), "one", "not a number", "digits"),
        (col(Cell.EXACT), "38,2", "not a number", "with a point"),
        (col(Cell.EXACT), "1e3", "not a number", "digits"),
        (col(Cell.EXACT), "1.2.3", "not a number", "digits"),
        (col(Cell.EXACT), "\u0663", "not a number", "digits"),
        (col(Cell.EXACT), "0.0000001", "too many decimals", "Six"),
        (col(Cell.MONEY), "1.005", "too many decimals", "two decimals"),
        (col(Cell.MONEY), "-1", "out of range", "between"),
        (col(Cell.MONEY), "1 Euro", "not a number", "digits"),
        (col(Cell.YES_NO), "maybe", "neither", "yes or no"),
        (col(Cell.DATE), "31.5.1974", "not a date", "year-month-day"),
        (col(Cell.DATE), "1974-02-30", "not a date", "year-month-day"),
        (col(Cell.DATE), "19740531", "not a date", "year-month-day"),
        (col(Cell.DATE), "1974-05-31T12:00", "not a date", "year-month-day"),
        (col(Cell.DATE), "1974-W22-5", "not a date", "year-month-day"),
        (col(Cell.CHOICE, choices=("new", "good")), "Good", "words allowed", "new, good"),
        (col(Cell.LIST), "a;\x02", "can't be shown", "Remove"),
    ],
)
def test_a_fault_says_what_is_wrong_and_how_to_mend_it(column, text, problem, hint):
    fault = read_cell(column, text)
    assert isinstance(fault, Fault)
    assert problem in fault.problem
    assert hint in fault.hint


@given(
    st.sampled_from(COLUMNS),
    st.text() | st.sampled_from(["yes", "1974-05-31", "18.50", "AAAAAA", "good", "-0", "+7.10"]),
)
def test_what_is_written_reads_as_the_same_value(column, text):
    value = read_cell(column, text)
    if not isinstance(value, Fault):
        written = write_cell(column, value)
        assert read_cell(column, written) == value
        assert write_cell(column, read_cell(column, written)) == written


@given(st.sampled_from(COLUMNS), st.text(max_size=30))
def test_what_looks_the_same_reads_the_same(column, text):
    """Source: Unicode Standard Annex 15, canonical equivalence."""
    forms = [unicodedata.normalize(form, text) for form in ("NFC", "NFD")]
    assert read_cell(column, forms[0]) == read_cell(column, forms[1])


def test_a_list_is_items_of_alternatives():
    assert list_items("a; b|c ;;d") == (("a",), ("b", "c"), ("d",))
    assert list_items(None) == ()


@pytest.mark.parametrize(
    ("type_", "unit", "text", "value"),
    [
        ("number", "mm", "14.050", "14.05"),
        ("number", "", "-7", "-7"),
        ("number", "deg", "-90", "-90"),
        ("choice", "", " left ", "left"),
        ("yes_no", "", "YES", "yes"),
        ("yes_no", "", "no", "no"),
    ],
)
def test_a_measured_value_is_read_as_its_measure_asks(type_, unit, text, value):
    assert read_measured(type_, ("left", "right"), unit, text) == value


@pytest.mark.parametrize(
    ("type_", "unit", "text", "hint"),
    [
        ("number", "mm", "wide", "digits"),
        ("number", "mm", "14,05", "point"),
        ("number", "mm", "-1", "between 0 and 10000 mm"),
        ("number", "rpm", "999999", "between 0 and 100000 rpm"),
        ("number", "", "9999999999", "1000000000."),
        ("number", "", "0.0000001", "Six decimals"),
        ("choice", "", "up", "left, right"),
        ("yes_no", "", "perhaps", "yes or no"),
    ],
)
def test_a_measured_value_that_is_wrong_says_how_to_mend_it(type_, unit, text, hint):
    fault = read_measured(type_, ("left", "right"), unit, text)
    assert isinstance(fault, Fault)
    assert hint in fault.hint
