"""Rows as plain dicts: identity, image, and the tables a row belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from stash.kernel.cells import Value, write_cell
from stash.kernel.tables import TABLE_BY_NAME, Table

RowValues = dict[str, Value]
"""``{column: value}`` of one row, every column of its table present."""

SEPARATOR = "\x1f"

CATALOGUE_TABLES = frozenset(
    (
        "makers",
        "families",
        "generations",
        "models",
        "kinds",
        "measures",
        "designs",
        "design_measures",
        "numbers",
        "positions",
        "came_on",
        "mates",
        "rules",
    )
)
"""The tables whose rows make the catalogue; all others are stock."""


def revision_name(table: str) -> str:
    """The revision counter a table's rows belong to: ``catalogue`` or ``stock``."""
    return "catalogue" if table in CATALOGUE_TABLES else "stock"


def identity_cells(table: Table, row: Mapping[Any, Any]) -> tuple[str, ...]:
    """The texts of a row's identity cells, "" for an empty one."""
    return tuple(write_cell(table.column(name), row[name]) for name in table.identity)


def identity_text(table: str, row: Mapping[str, Any]) -> str:
    """A row's identity as one text, as the table of changes keeps it."""
    return SEPARATOR.join(identity_cells(TABLE_BY_NAME[table], row))


def image(table: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """A row as ``{column: cell text}`` without empty cells, with its ``version`` where it has one."""
    cells: dict[str, Any] = {
        column.name: write_cell(column, row[column.name])
        for column in TABLE_BY_NAME[table].columns
        if row[column.name] is not None
    }
    if "version" in row:
        cells["version"] = row["version"]
    return cells
