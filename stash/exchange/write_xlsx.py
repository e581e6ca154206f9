"""Workbooks out as .xlsx: made to be read by people and loaded again without a loss.

The first sheet tells what each table is. Numbers, dates and amounts are real ones; every text is written as text, so
one that starts with ``=`` stays what it is. Columns of choices offer their words.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import xlsxwriter

from stash.exchange.raw import FIRST_DATE, CellTables
from stash.kernel.exact import decimal_text, parse_decimal
from stash.kernel.tables import TABLES, Cell, Column, Table

_NUMBERS = frozenset((Cell.WHOLE, Cell.YEAR, Cell.EXACT, Cell.MONEY, Cell.MEASURED))
_FORMATS = {Cell.MONEY: "0.00", Cell.DATE: "yyyy-mm-dd", Cell.WHOLE: "0", Cell.YEAR: "0"}
_WIDEST = 60
_NARROWEST = 8
_SPARE_ROWS = 1000
"""Empty rows below the last that still offer their words. Source: project decision."""
_LINES = (
    "Every sheet is one table; its first row names the columns, which keep their names.",
    "Change or add rows and load the workbook again. The columns not in italics tell the rows apart.",
    "Rows that are not in the workbook stay as they are when it is loaded; to remove one, remove it in the program.",
    "Dates are year-month-day, yes and no are words, and several things in one cell are separated by semicolons.",
)
_OPTIONS = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}


def render_xlsx(tables: CellTables) -> bytes:
    """Return the workbook's bytes.

    Args:
        tables: ``{table: rows of cell texts}``; tables left out get an empty sheet.
    """
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, _OPTIONS)
    book.set_properties({"title": "The collection's tables", "comments": "One sheet for each table; see About."})
    _about(book, tables)
    for table in TABLES:
        _sheet(book, table, tables.get(table.name, ()))
    book.close()
    return out.getvalue()


def _about(book: Any, tables: CellTables) -> None:
    sheet = book.add_worksheet("About")
    bold = book.add_format({"bold": True})
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    title = book.add_format({"bold": True, "font_size": 14})
    sheet.set_column(0, 0, 18)
    sheet.set_column(1, 1, 90)
    sheet.set_column(2, 2, 8)
    sheet.hide_gridlines(2)
    sheet.fit_to_pages(1, 1)
    sheet.write_string(0, 0, "The collection as tables", title)
    for row, line in enumerate(_LINES, 1):
        sheet.merge_range(row, 0, row, 2, line, wrapped)
    start = len(_LINES) + 2
    for column, text in enumerate(("table", "what a row is", "rows")):
        sheet.write_string(start, column, text, bold)
    for row, table in enumerate(TABLES, start + 1):
        sheet.write_url(row, 0, f"internal:'{table.name}'!A1", string=table.name)
        sheet.write_string(row, 1, table.about, wrapped)
        sheet.write_number(row, 2, len(tables.get(table.name, ())))


def _sheet(book: Any, table: Table, rows: Sequence[Sequence[str]]) -> None:
    sheet = book.add_worksheet(table.name)
    plain_head = {"bottom": 1, "bg_color": "#E8E4DA", "font_color": "#222222"}
    key_head = book.add_format({**plain_head, "bold": True})
    head = book.add_format({**plain_head, "bold": True, "italic": True})
    sheet.freeze_panes(1, 0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.autofilter(0, 0, max(len(rows), 1), len(table.columns) - 1)
    for index, column in enumerate(table.columns):
        form = book.add_format({"num_format": _number_format(column)})
        sheet.set_column(index, index, _width(column, index, rows), form)
        sheet.write_string(0, index, column.name, key_head if column.name in table.identity else head)
        _offer_words(sheet, column, index, len(rows))
        for number, row in enumerate(rows, 1):
            _cell(sheet, column, number, index, row[index], form)


def _number_format(column: Column) -> str:
    if column.cell in _FORMATS:
        return _FORMATS[column.cell]
    return "General" if column.cell in _NUMBERS else "@"


def _width(column: Column, index: int, rows: Sequence[Sequence[str]]) -> int:
    longest = max((len(line) for row in rows for line in row[index].split("\n")), default=0)
    return max(_NARROWEST, min(_WIDEST, max(longest, len(column.name) + 3) + 1))


def _offer_words(sheet: Any, column: Column, index: int, rows: int) -> None:
    words = ("yes", "no") if column.cell is Cell.YES_NO else column.choices
    if words:
        rule = {"validate": "list", "source": list(words), "ignore_blank": True}
        sheet.data_validation(1, index, rows + _SPARE_ROWS, index, rule)


def _cell(sheet: Any, column: Column, row: int, index: int, text: str, form: Any) -> None:
    if not text:
        return
    if column.cell in _NUMBERS:
        number = parse_decimal(text)
        if number is not None and _exact_as_float(column, number, text):
            sheet.write_number(row, index, float(number), form)
            return
    if column.cell is Cell.DATE:
        day = dt.date.fromisoformat(text)
        if day >= FIRST_DATE:
            sheet.write_datetime(row, index, dt.datetime.combine(day, dt.time()), form)
            return
    if text.startswith("<r>") and text.endswith("</r>"):  # the library would take it for its own markup
        sheet.write_rich_string(row, index, text[:1], text[1:2], text[2:], form)
    else:
        sheet.write_string(row, index, text, form)


def _exact_as_float(column: Column, number: Decimal, text: str) -> bool:
    """Whether the number comes back from a spreadsheet's binary number as exactly this text."""
    back = decimal_text(Decimal(repr(float(number))))
    return back == text or (column.cell is Cell.MONEY and back == decimal_text(number))
