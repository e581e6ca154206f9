"""CSV by RFC 4180, read forgivingly and written so that no spreadsheet program runs a cell."""

import codecs
import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.errors import InvalidInput
from stash.exchange import csv_text
from stash.exchange.raw import LARGEST_FILE, MOST_COLUMNS

TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0\r"))
DANGEROUS = st.sampled_from(
    ["=1+1", "'=1", "''=1", "+x", "-x", "@SUM(A1)", "'", "''", "'-5", "-5", "+49", "\uff1dcmd", "'x"]
)


def test_quotes_commas_and_line_ends_inside_a_cell_are_read():
    """Source: RFC 4180, section 2, rules 5 to 7 (the cells are its own examples' shape)."""
    table = csv_text.parse("t.csv", b'one,two,three,four\r\na,"b""c","d,e","f\r\ng"\r\n')
    assert table.header == ("one", "two", "three", "four")
    assert table.rows == [(1, ["a", 'b"c', "d,e", "f\r\ng"])]


def test_the_last_line_end_may_be_missing():
    """Source: RFC 4180, section 2, rule 2."""
    assert csv_text.parse("t.csv", b"aaa,bbb\r\nzzz,yyy").rows == [(1, ["zzz", "yyy"])]


def test_spaces_are_part_of_a_cell():
    """Source: RFC 4180, section 2, rule 4."""
    assert csv_text.parse("t.csv", b"a,b\r\n x , y\r\n").rows == [(1, [" x ", " y"])]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_byte_order_mark_and_any_line_end_are_read(end):
    text = end.join(("key,name", "zoe,Zoë", ""))
    utf16 = codecs.BOM_UTF16_LE + text.encode("utf-16-le"), codecs.BOM_UTF16_BE + text.encode("utf-16-be")
    for data in (text.encode(), codecs.BOM_UTF8 + text.encode(), *utf16):
        table = csv_text.parse("t.csv", data)
        assert (table.header, table.rows) == (("key", "name"), [(1, ["zoe", "Zoë"])])


def test_records_are_numbered_not_lines_and_empty_ones_are_counted_but_left_out():
    table = csv_text.parse("t.csv", b'a,b\n"one\nand a half",x\n,\n\n2,y\n')
    assert [number for number, _ in table.rows] == [1, 4]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"key,name\nx,Zo\xeb\n", "not UTF-8 text .line 2"),
        (b"key,name\nx,a\0b\n", "not a text file"),
        (b'key,name\nx,"open\n', "not CSV near line"),
        (b'key,name\nx,"a"b\n', "not CSV near line 2"),
        (b"key;name\nx;X\n", "semicolons"),
        (b"key\tname\nx\tX\n", "tabs"),
        (b"," * (MOST_COLUMNS + 1), "too many rows or columns"),
        (b'a\n"' + b"x" * 1_000_001 + b'"\n', "not CSV"),
    ],
)
def test_what_is_no_table_is_told_with_its_place(data, told):
    with pytest.raises(InvalidInput, match=told) as caught:
        csv_text.parse("t.csv", data)
    assert caught.value.message.startswith("t.csv")
    assert caught.value.hint


def test_an_oversized_file_is_refused_before_it_is_read():
    with pytest.raises(InvalidInput, match="too large"):
        csv_text.parse("t.csv", bytes(LARGEST_FILE + 1))


@given(st.lists(st.lists(TEXTS | DANGEROUS, min_size=2, max_size=2), max_size=5))
def test_what_is_written_is_read_back_as_it_was(rows):
    data = csv_text.render(("a", "b"), rows)
    read = csv_text.parse("t.csv", data)
    assert read.rows == [(n, row) for n, row in enumerate(rows, 1) if any(cell.strip() for cell in row)]


@given(TEXTS | DANGEROUS)
def test_a_guarded_text_is_inert_and_comes_back(text):
    guarded = csv_text.guard(text)
    assert csv_text.unguard(guarded) == text
    number = text.lstrip("+-").replace(".", "", 1)
    if guarded[:1] in "=+-@\t\r\n" and guarded:
        assert number.isascii()
        assert number.isdigit()


@given(TEXTS | DANGEROUS)
def test_a_text_that_was_never_guarded_is_read_as_it_is_unless_it_looks_guarded(text):
    assert csv_text.unguard(text) in (text, text[1:])
    if not text.startswith("'"):
        assert csv_text.unguard(text) == text


def test_plain_numbers_are_not_guarded_so_that_other_programs_read_numbers():
    assert csv_text.render(("low",), [["-0.05"], ["+3"], ["-x"]]) == b"low\r\n-0.05\r\n+3\r\n'-x\r\n"


@given(st.binary(max_size=300))
def test_any_bytes_are_a_table_or_an_error_of_ours(data):
    try:
        told = csv_text.parse("t.csv", data).header
    except InvalidInput as error:
        told = error.hint
    assert told is not None


@given(
    st.lists(
        st.lists(
            st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0'"), min_size=1),
            min_size=2,
            max_size=2,
        ),
        min_size=1,
    )
)
def test_the_standard_librarys_writer_is_understood(rows):
    """Against: Python's csv module, RFC 4180 dialect."""
    out = io.StringIO(newline="")
    csv.writer(out, quoting=csv.QUOTE_ALL).writerows([["a", "b"], *rows])
    read = csv_text.parse("t.csv", out.getvalue().encode())
    assert [row for _, row in read.rows] == [row for row in rows if any(cell.strip() for cell in row)]
