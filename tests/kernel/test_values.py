"""Exact numbers, part numbers, years, ends of movements and the description of the tables."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.kernel.ends import (
    OUTSIDE,
    UNPLACED,
    End,
    lot_end,
    machine_end,
    outside_end,
    parse_end,
    place_end,
)
from stash.kernel.exact import decimal_text, from_micro, micro_text, money_text, parse_decimal, to_micro
from stash.kernel.numbers import canonical_number, lookalike_number
from stash.kernel.tables import TABLE_BY_NAME, TABLES, Cell
from stash.kernel.years import ALL_YEARS, Years, segments

YEAR = st.none() | st.integers(1900, 1910)
SPANS = st.tuples(YEAR, YEAR).filter(lambda span: None in span or span[0] <= span[1]).map(lambda span: Years(*span))
EVERY = range(1895, 1916)


@given(st.integers(-(10**15), 10**15))
def test_millionths_and_decimals_are_the_same_number(micro):
    assert to_micro(from_micro(micro)) == micro
    assert parse_decimal(micro_text(micro)) == from_micro(micro)


def test_a_seventh_decimal_is_not_rounded_away():
    with pytest.raises(ValueError, match="six decimals"):
        to_micro(Decimal("0.0000001"))


@pytest.mark.parametrize(
    ("value", "text"),
    [("38.200", "38.2"), ("7000", "7000"), ("-0.0", "0"), ("0", "0"), ("1E+3", "1000"), ("-1.50", "-1.5")],
)
def test_a_decimal_is_written_as_short_as_it_is_exact(value, text):
    assert decimal_text(Decimal(value)) == text


@pytest.mark.parametrize(("minor", "text"), [(1850, "18.50"), (5, "0.05"), (-105, "-1.05"), (0, "0.00")])
def test_money_has_two_decimals(minor, text):
    assert money_text(minor) == text


@pytest.mark.parametrize("text", ["", " ", "1e3", "inf", "NaN", "1,5", "--1", "1_000", "."])
def test_what_is_no_plain_decimal_is_none(text):
    assert parse_decimal(text) is None


@pytest.mark.parametrize("text", ["FN-21.380-A", "fn 21 380 a", "FN/21380/A", "\uff26\uff2e21380A"])
def test_a_part_number_is_the_same_however_it_is_punctuated(text):
    assert canonical_number(text) == "FN21380A"


def test_misread_characters_are_near_misses_and_not_equal():
    assert lookalike_number("FN-21.38O-L") == lookalike_number("FN21380-1")
    assert canonical_number("FN-21.38O") != canonical_number("FN-21.380")


@given(SPANS, SPANS)
def test_a_span_is_the_set_of_its_years(a, b):
    years_a, years_b = ({year for year in EVERY if span.contains(year)} for span in (a, b))
    common = a.common(b)
    assert {year for year in EVERY if common is not None and common.contains(year)} == years_a & years_b
    assert a.within(b) == (years_a <= years_b)


@given(SPANS, st.lists(SPANS, max_size=4))
def test_segments_cut_a_span_without_a_gap_and_no_part_ends_inside_one(whole, parts):
    cut = segments(whole, parts)
    assert [year for piece in cut for year in EVERY if piece.contains(year)] == [y for y in EVERY if whole.contains(y)]
    for piece in cut:
        for part in parts:
            assert len({part.contains(year) for year in EVERY if piece.contains(year)}) <= 1


@pytest.mark.parametrize(
    ("span", "text"),
    [
        (ALL_YEARS, "all years"),
        (Years(1965, 1965), "1965"),
        (Years(None, 1969), "up to 1969"),
        (Years(1965), "from 1965"),
        (Years(1965, 1969), "1965\u20131969"),
    ],
)
def test_a_span_reads_as_people_say_it(span, text):
    assert str(span) == text


@pytest.mark.parametrize(
    ("end", "text"),
    [
        (place_end("AAAAAA"), "place:AAAAAA"),
        (place_end(None), "place:"),
        (machine_end("AAAAAA", "pos: a"), "machine:AAAAAA:pos: a"),
        (lot_end("AAAAAA"), "lot:AAAAAA"),
        *((outside_end(word), f"outside:{word}") for word in OUTSIDE),
    ],
)
def test_an_end_of_a_movement_is_a_text_that_reads_back(end, text):
    assert str(end) == text
    assert parse_end(text) == end


def test_a_lot_without_a_place_is_unplaced():
    assert place_end("") == UNPLACED == End("place")


@pytest.mark.parametrize("text", ["", "place", "lot:", "machine:AAAAAA", "machine::p", "outside:eaten", "shelf:AAAAAA"])
def test_what_is_no_end_is_refused(text):
    with pytest.raises(ValueError, match="is not"):
        parse_end(text)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_table_is_described_without_contradiction(table):
    assert len(set(table.names)) == len(table.names)
    assert table.about.endswith(".")
    assert TABLE_BY_NAME[table.name] is table
    for name in table.identity:
        assert table.column(name).cell in {Cell.SLUG, Cell.SPOT, Cell.CODE, Cell.TEXT, Cell.YEAR}
    for column in table.columns:
        assert (column.cell is Cell.CHOICE) == bool(column.choices)
        if column.ref:
            key = TABLE_BY_NAME[column.ref].columns[0]
            assert (key.cell, TABLE_BY_NAME[column.ref].identity) == (column.cell, (key.name,))


def test_a_column_that_is_not_there_is_a_key_error():
    with pytest.raises(KeyError):
        TABLES[0].column("colour")


def test_references_point_backwards_so_that_tables_can_be_loaded_in_their_order():
    order = {table.name: position for position, table in enumerate(TABLES)}
    forwards = {
        (table.name, column.name)
        for table in TABLES
        for column in table.columns
        if column.ref and order[column.ref] > order[table.name]
    }
    assert forwards == {("rules", "machine")}
