"""Workbooks in: .xlsx and .ods, each sheet a table, typed cells turned into our cell texts.

Sheets are read by python-calamine, after ``sheet_extent`` has looked at how far they reach; both together take about
half of what openpyxl takes to read (see ``benchmarks/tables.md``). A formula's cell is the value its program stored
beside it.
"""

from __future__ import annotations

import datetime as dt
import io
import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from python_calamine import (
    CalamineError,
    CalamineSheet,
    CalamineWorkbook,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from stash.errors import CellProblem, InvalidInput
from stash.exchange.formulas import refuse_bare_formulas
from stash.exchange.raw import RawTables, raw_table
from stash.exchange.sheet_extent import Extent
from stash.exchange.zips import opened
from stash.kernel.exact import decimal_text

ABOUT = "about"
"""The sheet that explains the others; never a table."""

_COMPOUND_FILE = b"\xd0\xcf\x11\xe0"
"""How an encrypted .xlsx and an old .xls begin. Source: MS-CFB 2.2, header signature."""
_MANIFEST = "META-INF/manifest.xml"
"""Where an .ods says that it is encrypted. Source: OpenDocument 1.2 part 3, 4.7."""


def read_workbook(name: str, data: bytes) -> RawTables:
    """Read an .xlsx or .ods.

    Args:
        name: What to call it in errors.
        data: Its bytes.

    Returns:
        A table for every sheet that has a cell, named after it in lower case with underscores for spaces.

    Raises:
        InvalidInput: It can't be read, is locked, reaches too far, has two sheets for one table, or formulas
            without results.
    """
    sheets = {each.name: each.rows for each in grids(name, data) if each.name.strip().lower() != ABOUT}
    refuse_bare_formulas(name, data)
    tables: RawTables = {}
    for sheet, texts in sheets.items():
        table = sheet.strip().lower().replace(" ", "_")
        if table in tables:
            problem = CellProblem(table, 0, "", sheet, "has two sheets", "Keep one of the two.")
            raise InvalidInput(f"{name} has two sheets for {table}", "Keep one of the two.", (problem,))
        if any(any(row) for row in texts):
            tables[table] = raw_table(texts)
    return tables


@dataclass(frozen=True, slots=True)
class SheetTexts:
    """One sheet of a workbook as texts.

    Args:
        name: Its name.
        rows: Its cells, from A1 on.
        visible: It is not hidden.
        filled: How many cells of merged ranges were given the text of their first one.
    """

    name: str
    rows: list[list[str]]
    visible: bool
    filled: int


def grids(name: str, data: bytes) -> list[SheetTexts]:
    """Read every sheet of an .xlsx or .ods as texts.

    Args:
        name: What to call it in errors.
        data: Its bytes.

    Raises:
        InvalidInput: It can't be read, is locked, or reaches too far.
    """
    _look_over(name, data)
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(data)) as workbook:
            return [
                _texts(workbook.get_sheet_by_name(meta.name), visible=meta.visible == SheetVisibleEnum.Visible)
                for meta in workbook.sheets_metadata
                if meta.typ == SheetTypeEnum.WorkSheet
            ]
    except (CalamineError, OSError, ValueError) as error:
        raise InvalidInput(f"{name} is not a workbook that can be read ({error})", "Save it again as .xlsx.") from None


def _texts(sheet: CalamineSheet, *, visible: bool) -> SheetTexts:
    rows = [[cell_text(value) for value in row] for row in sheet.to_python(skip_empty_area=False)]
    filled = 0
    for (top, left), (bottom, right) in sheet.merged_cell_ranges or ():
        for row in rows[top : bottom + 1]:
            for at in range(left, min(right + 1, len(row))):
                if not row[at] and rows[top][left]:
                    row[at] = rows[top][left]
                    filled += 1
    return SheetTexts(sheet.name, rows, visible, filled)


def _look_over(name: str, data: bytes) -> None:
    if data.startswith(_COMPOUND_FILE):
        hint = "Save it without a password, as .xlsx or .ods."
        raise InvalidInput(f"{name} is locked with a password, or a workbook of the old kind", hint)
    with opened(name, data) as archive:
        if _MANIFEST in archive.namelist() and b"encryption-data" in archive.read(_MANIFEST):
            raise InvalidInput(f"{name} is locked with a password", "Save it without a password.")
        extent = Extent(name)
        for entry in archive.infolist():
            if entry.filename.lower().endswith((".xml", ".rels")):
                extent.read(archive.read(entry))


def cell_text(value: Any) -> str:
    """Return a typed cell as our cell text.

    Args:
        value: What the reader found: text, number, truth, date, moment or nothing.

    Returns:
        ``yes``/``no``, the shortest decimal, an ISO date (a moment at midnight is a date), or the text.
    """
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return decimal_text(Decimal(repr(value))) if math.isfinite(value) else str(value)
    if isinstance(value, dt.datetime) and value.time() == dt.time():
        return value.date().isoformat()
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    return str(value)
