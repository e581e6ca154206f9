"""Tables as they come in: headers and cell texts, nothing checked yet; and the limits on how much may come."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from stash.errors import InvalidInput

LARGEST_FILE = 64 * 2**20
"""Bytes of one file taken in. Source: project decision."""
LARGEST_UNPACKED = 256 * 2**20
"""Bytes all the parts of an archive may unpack to. Source: project decision."""
MOST_ENTRIES = 5_000
"""Entries of an archive. Source: project decision."""
MOST_ROWS = 1_000_000
"""Rows of one table: what a sheet of a spreadsheet program holds (2**20), rounded. Source: project decision."""
MOST_COLUMNS = 256
"""Columns of one table. Source: project decision."""
MOST_CELLS = 10_000_000
"""Cells of one workbook, empty ones between full ones counted. Source: project decision."""
FIRST_DATE = dt.date(1900, 3, 1)
"""Earlier days are written to workbooks as text: spreadsheet programs disagree about them, because some count a 29
February 1900 that never was. Source: common practice, no source."""


@dataclass(slots=True)
class RawTable:
    """One table as it came in.

    Args:
        header: The column names as written, white space around them removed.
        rows: (row number, cell texts); number 1 is the first row below the header, rows without any text are
            left out but counted. A row may be shorter or longer than the header.
    """

    header: tuple[str, ...]
    rows: list[tuple[int, list[str]]] = field(default_factory=list)


RawTables = dict[str, RawTable]
"""``{table name: table}``, any subset of the tables; names are as found, unknown ones included."""

CellTables = Mapping[str, Sequence[Sequence[str]]]
"""``{table name: rows of cell texts}``, the cells in the order of the table's columns, without a header."""


def raw_table(rows: Sequence[Sequence[str]]) -> RawTable:
    """Take the first row as the header and number the rest."""
    if not rows:
        return RawTable(())
    header = [cell.strip() for cell in rows[0]]
    while header and not header[-1]:
        header.pop()
    body = [(number, list(row)) for number, row in enumerate(rows[1:], 1) if any(cell.strip() for cell in row)]
    return RawTable(tuple(header), body)


def refuse_large(name: str, size: int, limit: int = LARGEST_FILE) -> None:
    """Refuse more bytes than are taken in.

    Raises:
        InvalidInput: The size is over the limit.
    """
    if size > limit:
        raise InvalidInput(
            f"{name} is too large ({size // 2**20} MB)", f"At most {limit // 2**20} MB are taken in; split it."
        )
