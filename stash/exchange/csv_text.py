"""CSV as bytes: RFC 4180 with UTF-8, read forgivingly, written strictly, and inert in spreadsheet programs.

A text that a spreadsheet program would run as a formula (it starts with ``=``, ``+``, ``-``, ``@``, their
full-width forms, a tab or a line end, and is not a plain number) is written with an apostrophe before it, and the
apostrophe is taken away again on reading. A text that itself starts with apostrophes before such a character gets
one more, so that every text comes back as it was. Plain numbers such as ``-0.05`` stay as they are: they are harmless
and other programs should read them as numbers. One thing follows: a file from elsewhere whose cell really starts with
an apostrophe and ``=`` loses that apostrophe.

Source: RFC 4180 for the format; which first characters are dangerous is common practice, no source.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Sequence

from stash.errors import InvalidInput
from stash.exchange.raw import MOST_COLUMNS, MOST_ROWS, RawTable, raw_table, refuse_large

_GUARDED = re.compile("'*[=+\\-@\uff1d\uff0b\uff0d\uff20\t\r\n]")
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?\Z")
_LONGEST_CELL = 1_000_000
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def guard(text: str) -> str:
    """Make a cell text inert for spreadsheet programs; the inverse of ``unguard`` on every text."""
    return "'" + text if _dangerous(text) else text


def unguard(text: str) -> str:
    """Give back the text that ``guard`` was given; a text never guarded stays as it is."""
    return text[1:] if text.startswith("'") and _dangerous(text[1:]) else text


def _dangerous(text: str) -> bool:
    return _GUARDED.match(text) is not None and _PLAIN_NUMBER.match(text) is None


def decode(name: str, data: bytes) -> str:
    """Decode the bytes of a text file: UTF-8 with or without a byte order mark, UTF-16 with one.

    Raises:
        InvalidInput: It is neither.
    """
    encoding = "utf-8"
    for bom, name_of_encoding in _BOMS:
        if data.startswith(bom):
            data, encoding = data[len(bom) :], name_of_encoding
            break
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InvalidInput(
            f"{name} is not UTF-8 text (line {line})", "Save it as CSV in UTF-8 and try again."
        ) from None


def parse(name: str, data: bytes) -> RawTable:
    """Read the bytes of one CSV file.

    Args:
        name: What to call it in errors.
        data: Its bytes.

    Returns:
        The table; a record's number is its row number, however many lines it has.

    Raises:
        InvalidInput: It is not CSV text, or too large.
    """
    refuse_large(name, len(data))
    text = decode(name, data)
    if "\0" in text:
        raise InvalidInput(f"{name} is not a text file", "Save it as CSV in UTF-8 and try again.")
    _refuse_other_separators(name, text)
    csv.field_size_limit(_LONGEST_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows: list[list[str]] = []
    try:
        for row in reader:
            if len(row) > MOST_COLUMNS or len(rows) > MOST_ROWS:
                raise InvalidInput(f"{name} has too many rows or columns", f"At most {MOST_ROWS} rows; split it.")
            rows.append([unguard(cell) for cell in row])
    except csv.Error as error:
        raise InvalidInput(
            f"{name} is not CSV near line {reader.line_num}: {error}",
            "Put cells that hold commas, quotes or line ends in double quotes, and double the quotes inside.",
        ) from None
    return raw_table(rows)


def _refuse_other_separators(name: str, text: str) -> None:
    header = text.split("\n", 1)[0]
    for separator, word in ((";", "semicolons"), ("\t", "tabs")):
        if separator in header and "," not in header:
            raise InvalidInput(
                f"{name} separates its columns by {word}", "Separate them by commas, as RFC 4180 has it, in UTF-8."
            )


def render(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Write one table as CSV bytes: UTF-8, CR LF after every record, dangerous cells guarded."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([guard(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8")
