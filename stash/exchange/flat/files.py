"""A grid of texts out of a .csv, .xlsx or .ods as people save them."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from stash.errors import InvalidInput
from stash.exchange.csv_text import unguard
from stash.exchange.formulas import refuse_bare_formulas
from stash.exchange.raw import MOST_COLUMNS, MOST_ROWS, refuse_large
from stash.exchange.workbooks import grids

SEPARATORS = (";", ",", "\t", "|")
ENCODINGS = ("utf-8", "cp1252", "cp1250", "mac-roman")
"""Tried in this order; the user may choose another of them."""
_BOMS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_LONGEST_CELL = 100_000
"""Characters of one cell; a spreadsheet program holds 32,767. Source: project decision."""
_NEVER_WRITTEN = re.compile(r"[\x01-\x08\x0e-\x1f]")
"""Signs that nobody types; a scanner or an old program may leave one here and there. Source: project decision."""
_LOOKED_AT = 200
"""How many rows the guesses look at."""
_OTHER_FILES = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x1f\x8b", "a compressed file"),
    (b"7z\xbc\xaf", "a compressed file"),
    (b"Rar!", "a compressed file"),
    (b"SQLite format 3", "a database"),
    (b"{\\rtf", "a text document"),
    (b"<!DOCTYPE", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML file"),
)
"""``(first bytes, what it is)``: files that are sent by mistake."""


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
        notes: What the reader should know: merged cells filled, hidden sheets left out, a header
            that stands twice.
        sheets: The names of the visible sheets that have rows.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    encoding: str = ""
    separator: str = ""
    notes: tuple[str, ...] = ()
    sheets: tuple[str, ...] = ()

    @property
    def typed(self) -> bool:
        """Whether it comes from a workbook, whose numbers and dates are real ones."""
        return not self.encoding


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
    for start, what in _OTHER_FILES:
        if data.lstrip().startswith(start):
            raise InvalidInput(f"{name} is {what}, not a sheet", "Save the sheet as .xlsx, .ods or .csv and send that.")
    text, used = decode(name, data, encoding)
    said, text = _said_separator(text)
    separator = said or guess_separator(text)
    return _grid(name, _records(name, text, separator), encoding=used, separator=separator, skipped=bool(said))


def _said_separator(text: str) -> tuple[str, str]:
    """Return the separator a first line ``sep=;`` names, and the text below it."""
    line, _, rest = text.partition("\n")
    plain = line.strip().strip('"').lower()
    is_said = plain.startswith("sep=") and plain[4:] in SEPARATORS
    return (plain[4:], rest) if is_said else ("", text)


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
    else:
        encoding = encoding or _without_mark(data)
    for each in (encoding,) if encoding else ENCODINGS:
        try:
            text = data.decode(each)
        except (UnicodeDecodeError, LookupError):
            continue
        if "\0" in text or len(_NEVER_WRITTEN.findall(text)) > len(text) / 100:
            break
        return text, each
    raise InvalidInput(f"{name} is not a text file we can read", "Save it as CSV in UTF-8, or as .xlsx or .ods.")


def _without_mark(data: bytes) -> str:
    """Tell UTF-16 without a byte order mark by its noughts, every second byte of Latin letters; "" for no sign."""
    sample = data[:2000]
    for named, at in (("utf-16-le", 1), ("utf-16-be", 0)):
        half = sample[at::2]
        if half and half.count(0) > 0.7 * len(half) and sample[1 - at :: 2].count(0) == 0:
            return named
    return ""


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
    mark = "\x02end\x02"
    reader = csv.reader(io.StringIO(f"{text}\n{mark}\n", newline=""), delimiter=separator)
    rows: list[list[str]] = []
    try:
        for row in reader:
            if len(row) > MOST_COLUMNS or len(rows) > MOST_ROWS:
                raise InvalidInput(f"{name} has too many rows or columns", f"At most {MOST_ROWS} rows; split it.")
            rows.append(row)
    except csv.Error as error:
        raise InvalidInput(f"{name} can't be cut into cells near line {reader.line_num}: {error}", _QUOTES) from None
    if rows.pop() != [mark]:  # a quotation mark swallowed everything after it
        raise InvalidInput(f"{name} has a quotation mark that is opened and never closed", _QUOTES)
    return rows


_QUOTES = "Look for a quotation mark without its other half, or a very long cell; or save it as .xlsx."


def _from_workbook(name: str, data: bytes, sheet: str) -> Grid:
    found = grids(name, data)
    refuse_bare_formulas(name, data)
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
    sheets = tuple(each.name for each in visible)
    return _grid(first.name, first.rows, notes=tuple(notes), sheets=sheets)


_NAMED = 5
"""Rows that a note names. Source: project decision."""


def _grid(
    name: str,
    records: Sequence[Sequence[str]],
    *,
    encoding: str = "",
    separator: str = "",
    notes: tuple[str, ...] = (),
    sheets: tuple[str, ...] = (),
    skipped: bool = False,
) -> Grid:
    """Find the header and number the rows below it; ``skipped`` says that a line above them was taken away."""
    at = _header_row([[_cell(name, cell) for cell in row] for row in records[:_LOOKED_AT]])
    if at is None:
        raise InvalidInput(f"{name} has no rows", "Send a sheet with a header row and at least one row below it.")
    header = [_cell(name, cell) for cell in records[at]]
    cleaned = (tuple([_cell(name, cell) for cell in row]) for row in records[at + 1 :])
    body = [(number, row) for number, row in enumerate(cleaned, at + 2 + skipped) if any(row)]
    width = max((len(row) for _, row in body), default=0)
    while header and not header[-1] and len(header) > width:
        header.pop()
    header += [""] * (width - len(header))
    full = len(header)
    rows = tuple(each if len(each[1]) == full else (each[0], each[1] + ("",) * (full - len(each[1]))) for each in body)
    again = [number for number, row in rows if row == tuple(header)]
    if again:
        rows = tuple(each for each in rows if each[1] != tuple(header))
        notes = (*notes, f"The header stands again in row {', '.join(map(str, again[:_NAMED]))}; that is no part.")
    if not rows:
        raise InvalidInput(f"{name} has no rows below its header", "Send a sheet with at least one row below it.")
    return Grid(name, tuple(header), rows, encoding, separator, notes, sheets)


def _cell(name: str, text: str) -> str:
    """Return a cell without white space around it or characters that can't be shown.

    The apostrophe that keeps a text from being run as a formula goes as well, as in our own tables.
    """
    if text.isprintable() and len(text) <= _LONGEST_CELL:
        plain = text.strip()
        return unguard(plain) if plain.startswith("'") else plain
    if len(text) > _LONGEST_CELL:
        raise InvalidInput(f"{name} has a cell of {len(text)} characters", f"At most {_LONGEST_CELL} are read.")
    shown = _HIDDEN.sub("", text) if _HIDDEN.search(text) else text
    return unguard(shown.strip())


_HIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u200b\ufeff\ufffe\uffff\ud800-\udfff]")


def _header_row(rows: Sequence[Sequence[str]]) -> int | None:
    """Return the first row that is about as full as most and holds words; else the first row with any text."""
    filled = [len({cell for cell in row if cell}) for row in rows[:_LOOKED_AT]]  # a merged title is one text
    if not any(filled):
        return None
    usual = median(count for count in filled if count)
    for at, count in enumerate(filled):
        wordy = len({cell for cell in rows[at] if any(letter.isalpha() for letter in cell)})
        if count * 2 > usual and wordy * 2 >= count > 0:
            return at
    return next(at for at, count in enumerate(filled) if count)
