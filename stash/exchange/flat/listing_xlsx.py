"""Lists as .xlsx, written row by row: a hundred thousand rows need no more memory than one.

Texts are written as texts, whatever they begin with; numbers, amounts and days are real ones.
"""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from stash.errors import InvalidInput
from stash.exchange.flat.listing import Heading, Listing, Value, shown
from stash.exchange.raw import MOST_ROWS

_OPTIONS = {
    "constant_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "default_date_format": "yyyy-mm-dd",
}
_FIRST_DATE = dt.date(1900, 3, 1)
"""Earlier days are written as text: spreadsheet programs count them wrongly. Source: common practice, no source."""
_LONGEST = 32_767
"""Characters a cell of a spreadsheet program holds. Source: ECMA-376 part 1 gives no limit; common practice."""
_WIDEST = 60
_PICTURE_ROW_PX = 96
_FORMATS = {"money": "#,##0.00", "date": "yyyy-mm-dd", "whole": "0", "number": "General"}
_EXACT_BELOW = 10**15
"""Whole numbers a binary double holds exactly with room to spare. Source: IEEE 754, 53 bits."""
_NOTHING: tuple[Value, ...] = (None, "", ())
_SIMPLE = re.compile(r"(?!\s)(?:(?!_x)[^&<>\x00-\x1f\ufffe\uffff])*(?<!\s)\Z")
"""A text that stands in XML as it is: nothing to escape, and no white space at its ends."""
Write = Callable[[int, int, Value], None]


class _Sheet(Worksheet):  # type: ignore[misc] # the library has no types
    """A sheet that writes plain texts in one step; everything else as the library does.

    Most cells of a long list are plain texts, and the library's general way looks at each four times.
    """

    def _write_cell(self, row: int, col: int, cell: Any) -> None:
        if type(cell).__name__ == "String" and cell.format is None and _SIMPLE.match(cell.string):
            reference = f"{xl_col_to_name(col)}{row + 1}"
            self.fh.write(f'<c r="{reference}" t="inlineStr"><is><t>{cell.string}</t></is></c>')
        else:
            super()._write_cell(row, col, cell)


def render_xlsx(listing: Listing) -> bytes:
    """Return a list as a workbook of one sheet: title and notes above, then headings that filter, then rows.

    Raises:
        InvalidInput: There are more rows than a sheet holds.
    """
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, _OPTIONS) as book:
        book.set_properties({"title": listing.title})
        sheet = book.add_worksheet("list", worksheet_class=_Sheet)
        head = book.add_format({"bold": True, "bottom": 1, "bg_color": "#E8E4DA", "font_color": "#222222"})
        for at, heading in enumerate(listing.headings):
            sheet.set_column(at, at, min(_WIDEST, max(heading.wide, len(heading.name) + 3)))
            sheet.write_string(0, at, heading.name, head)
        sheet.freeze_panes(1, 0)
        last = _rows(book, sheet, listing)
        sheet.autofilter(0, 0, max(last, 1), max(len(listing.headings) - 1, 0))
        sheet.set_header(f"&L{listing.title.replace('&', '&&')[:200]}")
        sheet.repeat_rows(0)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
    return out.getvalue()


def _rows(book: Any, sheet: Any, listing: Listing) -> int:
    columns = list(enumerate(_writer(book, sheet, heading) for heading in listing.headings))
    texts = frozenset(at for at, heading in enumerate(listing.headings) if heading.type == "text")
    pictures = any(heading.type == "picture" for heading in listing.headings)
    write_string = _bare(sheet.write_string)
    number = 0
    for number, row in enumerate(listing.rows, 1):
        if number > MOST_ROWS:
            raise InvalidInput(f"{listing.title} has more than {MOST_ROWS} rows", "Narrow it down, or write .csv.")
        if pictures:
            sheet.set_row_pixels(number, _PICTURE_ROW_PX)
        for at, write in columns:
            value = row[at]
            if value in _NOTHING:
                continue
            if at in texts and not _is_markup(value):
                write_string(sheet, number, at, str(value)[:_LONGEST])
            else:
                write(number, at, value)
    return number


def _bare(method: Any) -> Any:
    """Return a sheet's method without the look at whether a cell is named ``A1``; it is called for every cell."""
    return getattr(method, "__wrapped__", method.__func__)


def _is_markup(value: Value) -> bool:
    """Whether the library would take a text for its own markup of rich text instead of writing it."""
    return isinstance(value, str) and value.startswith("<r>") and value.endswith("</r>")


def _writer(book: Any, sheet: Any, heading: Heading) -> Write:
    """Return what writes the cells of one column."""
    form = book.add_format({"num_format": _FORMATS.get(heading.type, "@"), "valign": "top"})
    text, number, day = sheet.write_string, sheet.write_number, sheet.write_datetime

    def write_text(row: int, at: int, value: Value) -> None:
        said = shown(heading, value)[:_LONGEST]
        if _is_markup(said):
            sheet.write_rich_string(row, at, said[:1], said[1:2], said[2:])
        else:
            text(row, at, said)

    def write_number(row: int, at: int, value: Value) -> None:
        if isinstance(value, int) and abs(value) < _EXACT_BELOW:
            number(row, at, value / 100 if heading.type == "money" else value, form)
        elif isinstance(value, Decimal) and Decimal(repr(float(value))) == value:
            number(row, at, float(value), form)
        else:
            write_text(row, at, value)

    def write_day(row: int, at: int, value: Value) -> None:
        if isinstance(value, dt.date) and value >= _FIRST_DATE:
            day(row, at, value, form)
        else:
            write_text(row, at, value)

    def write_picture(row: int, at: int, value: Value) -> None:
        if isinstance(value, bytes):
            options = {"image_data": io.BytesIO(value), "object_position": 1, "x_offset": 2, "y_offset": 2}
            sheet.insert_image(row, at, f"{row}.jpg", options)

    known: Mapping[str, Write] = {"date": write_day, "picture": write_picture}
    numeric = {"whole", "number", "money"}
    return known.get(heading.type, write_number if heading.type in numeric else write_text)
