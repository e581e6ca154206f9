"""How far the sheets of a workbook reach, found out before a reader makes room for every cell in between.

A few bytes can claim a cell in the last column of the last row, or repeat one a million times. One pass over the XML
with a streaming parser counts what would come out; it also refuses document type declarations, which is where
entities that blow up are declared.

Source: ECMA-376 part 1, 18.3.1.4 (c) and 18.3.1.73 (row); OpenDocument 1.2 part 1, 19.675 and 19.679 (repeats).
"""

from __future__ import annotations

import re
from xml.parsers import expat

from stash.errors import InvalidInput
from stash.exchange.raw import MOST_CELLS, MOST_COLUMNS, MOST_ROWS

_REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})\Z")
_PLAIN_SHEET = re.compile(
    rb"(?:<\?xml version=\"1\.0\"(?: encoding=\"(?i:utf-8)\")?(?: standalone=\"yes\")? ?\?>)?\s*<worksheet[ >]"
)
"""How a sheet of an .xlsx begins that can be read as plain bytes."""
_ANY = re.compile(rb"<(?:[A-Za-z0-9_.-]+:)?(?:c|row)[\s/>]")
_USUAL = re.compile(rb"<(?:c|row) r=\"([A-Z]{0,3})([0-9]{1,7})\"")
"""A cell's or row's start with its place first, as spreadsheet programs write it."""
_PIECE = 2**22
Attributes = dict[str, str]


class Extent:
    """Counts rows and columns of the sheets in one XML part.

    Args:
        name: What to call the workbook in errors.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.cells = 0
        self._rows = self._columns = 0
        self._row = self._column = 0
        self._row_repeat = self._column_repeat = 1

    def read(self, data: bytes) -> None:
        """Read one XML part.

        Raises:
            InvalidInput: It is no XML, declares a document type, or reaches too far.
        """
        if _PLAIN_SHEET.match(data) and b"<!" not in data and b"\0" not in data and self._read_plain(data):
            return
        parser = expat.ParserCreate()
        parser.StartDoctypeDeclHandler = self._doctype
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        try:
            parser.Parse(data, True)
        except (expat.ExpatError, ValueError, LookupError) as error:
            raise InvalidInput(f"{self.name} is damaged ({error})", "Save it again and try again.") from None
        self._close_sheet()

    def _read_plain(self, data: bytes) -> bool:
        """Count a sheet whose every row and cell says where it is in the usual way; False when one does not.

        Such a sheet, in UTF-8 and without declarations, comments or raw sections, needs no parser to be counted: the
        sign ``<`` stands nowhere in it but before an element.
        """
        columns: set[bytes] = set()
        last = 0
        start = 0
        while start < len(data):
            end = data.find(b"<row", start + _PIECE)
            piece = data[start:end] if end > 0 else data[start:]
            found = _USUAL.findall(piece)
            if len(found) != len(_ANY.findall(piece)):
                return False
            columns.update({column for column, _ in found})
            last = max(last, max(map(int, {row for _, row in found}), default=0))
            start += len(piece)
        for column in columns - {b""}:
            self._cell(f"{column.decode()}{last}")
        self._close_sheet()
        return True

    def _doctype(self, *_: object) -> None:
        raise InvalidInput(
            f"{self.name} declares a document type", "No spreadsheet program does; don't trust this file."
        )

    def _start(self, element: str, attributes: Attributes) -> None:
        local = element.rpartition(":")[2]
        if local == "table-row":
            self._row += self._row_repeat
            self._row_repeat = _number(attributes.get("table:number-rows-repeated", "1"))
            self._column, self._column_repeat = 0, 0
        elif local in {"table-cell", "covered-table-cell"}:
            self._column += self._column_repeat
            self._column_repeat = _number(attributes.get("table:number-columns-repeated", "1"))
            if any(name.endswith(":value-type") for name in attributes):
                self._full(self._row + self._row_repeat - 1, self._column + self._column_repeat)
        elif local == "p":
            self._full(self._row + self._row_repeat - 1, self._column + self._column_repeat)
        elif local == "row":
            self._row = _number(attributes["r"]) if "r" in attributes else self._row + 1
            self._column = 0
        elif local == "c":
            self._cell(attributes.get("r", ""))
        elif local == "table":
            self._close_sheet()

    def _cell(self, reference: str) -> None:
        found = _REFERENCE.match(reference)
        if not found:
            self._column += 1
            self._full(self._row, self._column)
            return
        column = 0
        for letter in found[1]:
            column = column * 26 + ord(letter) - 64
        self._column = column
        self._full(int(found[2]), column)

    def _full(self, row: int, column: int) -> None:
        self._rows, self._columns = max(self._rows, row), max(self._columns, column)
        if self._rows > MOST_ROWS + 1 or self._columns > MOST_COLUMNS:
            raise InvalidInput(
                f"{self.name} has a sheet that reaches to row {self._rows}, column {self._columns}",
                f"At most {MOST_ROWS} rows and {MOST_COLUMNS} columns are read; clear what is beyond the table.",
            )

    def _end(self, element: str) -> None:
        if element.rpartition(":")[2] == "worksheet":
            self._close_sheet()

    def _close_sheet(self) -> None:
        self.cells += self._rows * self._columns
        self._rows = self._columns = self._row = self._column = 0
        self._row_repeat = self._column_repeat = 1
        if self.cells > MOST_CELLS:
            raise InvalidInput(f"{self.name} has too many cells", f"At most {MOST_CELLS} are read; split it.")


def _number(text: str) -> int:
    if not text.isdecimal() or len(text) > 12:  # noqa: PLR2004 - longer than any count of rows
        raise ValueError(f"{text!r} is not a count")
    return int(text)
