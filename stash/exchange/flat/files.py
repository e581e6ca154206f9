"""A grid of texts out of a .csv, .xlsx or .ods as people save them."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from stash.errors import InvalidInput
from stash.exchange.raw import MOST_COLUMNS, MOST_ROWS, refuse_large
from stash.exchange.workbooks import grids

SEPARATORS = (";", ",", "\t", "|")
ENCODINGS = ("utf-8", "cp1252", "cp1250", "mac-roman")
"""Tried in this order; the user may choose another of them."""
_BOMS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_LONGEST_CELL = 1_000_000
_LOOKED_AT = 200
"""How many rows the guesses look at."""


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet.

    Args:
        name: The sheet's name, or the file's.
        header: The header row's texts.
        rows: (row number as a spreadsheet program shows it, cell texts); rows without any text are left out, and each
            row is as long as the header or longer.
        encoding: How the bytes were read, "" for a workbook.
        separator: What separates its columns, "" for a workbook.
        notes: What the reader should know: merged cells filled, hidden sheets left out.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    encoding: str = ""
    separator: str = ""
    notes: tuple[str, ...] = ()


def read_flat(name: str, data: bytes, *, encoding: str = "", sheet: str = "") -> Grid:
    """Read one flat sheet.

    Args:
        name: The file's name; what it is is told by its content.
        data: Its bytes.
        encoding: How to read the bytes of a text file; "" to find out.
        sheet: Which sheet of a workbook; "" for the first that is visible and has rows.

    Raises:
        InvalidInput: It is no sheet, locked, too large, or has no such sheet.
    """
    refuse_large(name, len(data))
    if data[:4] == b"PK\x03\x04":
        return _from_workbook(name, data, sheet)
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise InvalidInput(f"{name} is an old or locked workbook", "Save it as .xlsx without a password.")
    text, used = decode(name, data, encoding)
    separator = guess_separator(text)
    return _grid(name, _records(name, text, separator), encoding=used, separator=separator)


def decode(name: str, data: bytes, encoding: str = "") -> tuple[str, str]:
    """Decode a text file.

    Args:
        name: What to call it in errors.
        data: Its bytes.
        encoding: One of ``ENCODINGS``; "" to find out: a byte order mark, else UTF-8, else the first that reads it.

    Returns:
        The text and the encoding used.

    Raises:
        InvalidInput: It is no text, or not in that encoding.
    """
    for bom, named in _BOMS:
        if data.startswith(bom):
            data, encoding = data[len(bom) :], named
            break
    for each in (encoding,) if encoding else ENCODINGS:
        try:
            text = data.decode(each)
        except (UnicodeDecodeError, LookupError):
            continue
        if "\0" in text:
            break
        return text, each
    raise InvalidInput(f"{name} is not a text file we can read", "Save it as CSV in UTF-8, or as .xlsx or .ods.")


def guess_separator(text: str) -> str:
    """Return the separator that cuts most rows into equally many columns, more than one."""
    sample = text[:100_000]
    best = ",", 0.0
    for separator in SEPARATORS:
        reader = csv.reader(io.StringIO(sample, newline=""), delimiter=separator)
        widths: list[int] = []
        try:
            for row in reader:
                if any(cell.strip() for cell in row):
                    widths.append(len(row))
                if len(widths) == _LOOKED_AT:
                    break
        except csv.Error:
            continue
        if widths:
            width, often = Counter(widths).most_common(1)[0]
            score = often / len(widths) * (width - 1)
            if score > best[1]:
                best = separator, score
    return best[0]


def _records(name: str, text: str, separator: str) -> list[list[str]]:
    csv.field_size_limit(_LONGEST_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows: list[list[str]] = []
    try:
        for row in reader:
            if len(row) > MOST_COLUMNS or len(rows) > MOST_ROWS:
                raise InvalidInput(f"{name} has too many rows or columns", f"At most {MOST_ROWS} rows; split it.")
            rows.append(row)
    except csv.Error as error:
        raise InvalidInput(
            f"{name} can't be cut into cells near line {reader.line_num}: {error}",
            "Look for a quotation mark that is opened and never closed, or save it as .xlsx.",
        ) from None
    return rows


def _from_workbook(name: str, data: bytes, sheet: str) -> Grid:
    found = grids(name, data)
    notes = [f"The hidden sheet {each.name!r} is left out." for each in found if not each.visible and any(each.rows)]
    visible = [each for each in found if each.visible and any(any(row) for row in each.rows)]
    chosen = [each for each in (found if sheet else visible) if not sheet or each.name == sheet]
    if not chosen:
        names = ", ".join(repr(each.name) for each in visible) or "none with rows"
        raise InvalidInput(f"{name} has no sheet {sheet!r}" if sheet else f"{name} has no rows", f"It has {names}.")
    first = chosen[0]
    others = [each.name for each in visible if each.name != first.name]
    if others:
        notes.append(f"Only the sheet {first.name!r} is read; the others are {', '.join(others)}.")
    if first.filled:
        notes.append(f"{first.filled} merged cells were filled with their common text.")
    return _grid(first.name, first.rows, notes=tuple(notes))


def _grid(
    name: str,
    records: Sequence[Sequence[str]],
    *,
    encoding: str = "",
    separator: str = "",
    notes: tuple[str, ...] = (),
) -> Grid:
    """Find the header and number the rows below it."""
    texts = [[cell.strip() for cell in row] for row in records]
    at = _header_row(texts)
    if at is None:
        raise InvalidInput(f"{name} has no rows", "Send a sheet with a header row and at least one row below it.")
    header = list(texts[at])
    body = [(number, row) for number, row in enumerate(texts[at + 1 :], at + 2) if any(row)]
    width = max((len(row) for _, row in body), default=0)
    while header and not header[-1] and len(header) > width:
        header.pop()
    header += [""] * (width - len(header))
    rows = tuple((number, tuple(row + [""] * (len(header) - len(row)))) for number, row in body)
    return Grid(name, tuple(header), rows, encoding, separator, notes)


def _header_row(rows: Sequence[Sequence[str]]) -> int | None:
    """Return the first row that is filled as widely as most and holds words; else the first row with any text."""
    filled = [len({cell for cell in row if cell}) for row in rows[:_LOOKED_AT]]  # a merged title is one text
    if not any(filled):
        return None
    usual = max(filled)
    for at, count in enumerate(filled):
        wordy = len({cell for cell in rows[at] if any(letter.isalpha() for letter in cell)})
        if count >= max(1, usual // 2) and wordy * 2 >= count:
            return at
    return next(at for at, count in enumerate(filled) if count)
