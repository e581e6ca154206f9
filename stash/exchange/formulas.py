"""Formulas whose results a workbook does not hold: nothing here counts them out, so they can't be read.

Spreadsheet programs store the result beside the formula; other programs may leave it to be worked out on opening.

Source: ECMA-376 part 1, 18.3.1.4 (c), 18.3.1.40 (f), 18.3.1.96 (v); OpenDocument 1.2 part 1, 19.642 (table:formula).
"""

from __future__ import annotations

from xml.parsers import expat

from stash.errors import InvalidInput
from stash.exchange.zips import opened

_MARKS = (b"<f>", b"<f ", b"<f/", b":f>", b":f ", b":f/", b":formula=")
"""What a part that holds no formula holds none of; quicker to look for than to parse."""


def refuse_bare_formulas(name: str, data: bytes) -> None:
    """Refuse an .xlsx or .ods in which a formula stands without its result: read as it is, its cells would be lost.

    Args:
        name: What to call it in errors.
        data: Its bytes, looked over before.

    Raises:
        InvalidInput: There is such a cell.
    """
    bare = formulas_without_result(name, data)
    if bare:
        raise InvalidInput(
            f"{name} holds formulas without their results ({bare} cells)",
            "Open it in a spreadsheet program, let it work them out, save it, and send it again.",
        )


def formulas_without_result(name: str, data: bytes) -> int:
    """Count the cells of an .xlsx or .ods that hold a formula and no result.

    Args:
        name: What to call it in errors.
        data: Its bytes, looked over before.
    """
    found = 0
    with opened(name, data) as archive:
        for entry in archive.infolist():
            path = entry.filename
            if path.startswith("xl/worksheets/") or path == "content.xml":
                part = archive.read(entry)
                if any(mark in part for mark in _MARKS):
                    found += _count(part)
    return found


class _Cells:
    def __init__(self) -> None:
        self.bare = 0
        self._formula = self._value = self._inside = False

    def start(self, element: str, attributes: dict[str, str]) -> None:
        local = element.rpartition(":")[2]
        if local == "c":
            self._formula, self._value = False, attributes.get("t") == "str"  # a formula's text may be empty
        elif local == "f":
            self._formula = True
        elif local in {"v", "t"}:
            self._inside = True
        elif local == "table-cell" and any(name.endswith(":formula") for name in attributes):
            self.bare += not any(name.endswith(":value-type") for name in attributes)

    def text(self, data: str) -> None:
        self._value = self._value or (self._inside and bool(data.strip()))

    def end(self, element: str) -> None:
        local = element.rpartition(":")[2]
        if local in {"v", "t"}:
            self._inside = False
        elif local == "c":
            self.bare += self._formula and not self._value
            self._formula = False


def _count(part: bytes) -> int:
    cells = _Cells()
    parser = expat.ParserCreate()
    parser.StartElementHandler = cells.start
    parser.EndElementHandler = cells.end
    parser.CharacterDataHandler = cells.text
    parser.Parse(part, True)
    return cells.bare
