"""Plain tables that mind the width of the terminal, in words a mechanic would say. No colour carries meaning."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import IO, Any

_UNBOUNDED = 10_000
_NARROWEST = 40
_LONGEST_RULE = 100


def width_of(file: IO[str] | None = None) -> int:
    """Columns to fit in: the terminal's, or $COLUMNS, or no bound where the output goes into a file or a pipe."""
    asked = os.environ.get("COLUMNS", "")
    if not asked.isdigit() and not (file or sys.stdout).isatty():
        return _UNBOUNDED
    return max(_NARROWEST, shutil.get_terminal_size().columns)


def table(headers: Sequence[str], rows: Iterable[Sequence[Any]], file: IO[str] | None = None) -> str:
    """Return rows as a table with aligned columns; long cells wrap where the terminal ends.

    Args:
        headers: A word for each column.
        rows: As many cells as headers; None and "" are empty, numbers stand to the right.
        file: Where it will be printed; standard output when None.
    """
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    shown = [["" if cell is None else cell for cell in row] for row in rows]
    made = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False, safe_box=True)
    for index, header in enumerate(headers):
        numbers = any(isinstance(row[index], int) for row in shown)
        made.add_column(Text(header), justify="right" if numbers else "left", overflow="fold")
    for row in shown:
        made.add_row(*(Text(str(cell)) for cell in row))
    out = StringIO()
    Console(file=out, width=width_of(file), color_system=None, highlight=False, legacy_windows=False).print(made)
    lines = [line.rstrip() for line in out.getvalue().strip("\n").splitlines()]
    return "\n".join(line[:_LONGEST_RULE] if set(line) == {"\u2500"} else line for line in lines)


def years(from_year: int | None, to_year: int | None) -> str:
    """Say a range of years: ``1974-1978``, ``from 1974``, ``to 1978`` or nothing."""
    if from_year is None and to_year is None:
        return ""
    if from_year is None:
        return f"to {to_year}"
    if to_year is None:
        return f"from {from_year}"
    return str(from_year) if from_year == to_year else f"{from_year}-{to_year}"


def count(number: int, one: str, many: str = "") -> str:
    """Say a number of things: ``1 lot``, ``3 lots``."""
    return f"{number} {one if number == 1 else many or one + 's'}"
