"""Workbooks in: .xlsx and .ods, each sheet a table, typed cells turned into our cell texts.

Sheets are read by python-calamine (measured about ten times as fast as openpyxl), after ``sheet_extent`` has looked
at how far they reach. A formula's cell is the value its program stored beside it.
"""

from __future__ import annotations

import datetime as dt
import io
import math
from decimal import Decimal
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook, PasswordError, SheetTypeEnum

from stash.errors import CellProblem, InvalidInput
from stash.exchange.raw import RawTables, raw_table
from stash.exchange.sheet_extent import Extent
from stash.exchange.zips import opened
from stash.kernel.exact import decimal_text

ABOUT = "about"
"""The sheet that explains the others; never a table."""


def read_workbook(name: str, data: bytes) -> RawTables:
    """Read an .xlsx or .ods.

    Args:
        name: What to call it in errors.
        data: Its bytes.

    Returns:
        A table for every sheet that has a cell, named after it in lower case with underscores for spaces.

    Raises:
        InvalidInput: It can't be read, is locked, reaches too far, or has two sheets for one table.
    """
    _look_over(name, data)
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(data)) as workbook:
            sheets = {
                meta.name: workbook.get_sheet_by_name(meta.name).to_python(skip_empty_area=False)
                for meta in workbook.sheets_metadata
                if meta.typ == SheetTypeEnum.WorkSheet and meta.name.strip().lower() != ABOUT
            }
    except PasswordError:
        raise InvalidInput(f"{name} is locked with a password", "Save it without a password.") from None
    except (CalamineError, OSError, ValueError) as error:
        raise InvalidInput(f"{name} is not a workbook that can be read ({error})", "Save it again as .xlsx.") from None
    tables: RawTables = {}
    for sheet, rows in sheets.items():
        texts = [[cell_text(value) for value in row] for row in rows]
        table = sheet.strip().lower().replace(" ", "_")
        if table in tables:
            problem = CellProblem(table, 0, "", sheet, "has two sheets", "Keep one of the two.")
            raise InvalidInput(f"{name} has two sheets for {table}", "Keep one of the two.", (problem,))
        if any(any(row) for row in texts):
            tables[table] = raw_table(texts)
    return tables


def _look_over(name: str, data: bytes) -> None:
    with opened(name, data) as archive:
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
