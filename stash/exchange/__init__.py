"""Spreadsheets in and out: folders of CSV files, zips of them, .xlsx and .ods.

Cells come in as texts and go out from texts; what they mean is none of this room's business.
"""

from stash.exchange.files import FORMATS, read_bytes, read_tables, render_bytes, write_atomically, write_tables
from stash.exchange.raw import CellTables, RawTable, RawTables

__all__ = [
    "FORMATS",
    "CellTables",
    "RawTable",
    "RawTables",
    "read_bytes",
    "read_tables",
    "render_bytes",
    "write_atomically",
    "write_tables",
]
