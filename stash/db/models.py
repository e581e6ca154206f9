"""All mapped classes in one place, and the CHECK constraints the tables' description asks for."""

from __future__ import annotations

from sqlalchemy import CheckConstraint

from stash.db.access_rows import Account, Event, ShareLink, SignIn
from stash.db.base import Base, Micro, Minor, Moment, Row
from stash.db.catalogue_rows import (
    CameOn,
    Design,
    DesignMeasure,
    Family,
    Generation,
    Kind,
    Maker,
    Mate,
    Measure,
    Model,
    Number,
    Position,
    Rule,
)
from stash.db.record_rows import (
    CODE_TYPES,
    Batch,
    Change,
    Code,
    Findable,
    Movement,
    Photo,
    Printed,
    Revision,
    Setting,
    Sheet,
    SheetRow,
    ShelfAdd,
)
from stash.db.stock_rows import (
    Build,
    BuildPart,
    Fitted,
    FittedMeasure,
    Lot,
    LotMeasure,
    Machine,
    Place,
    Wanted,
)
from stash.kernel.exact import MICRO
from stash.kernel.tables import TABLES, Cell, Column

__all__ = [
    "CODE_TYPES",
    "ROWS",
    "Account",
    "Base",
    "Batch",
    "Build",
    "BuildPart",
    "CameOn",
    "Change",
    "Code",
    "Design",
    "DesignMeasure",
    "Event",
    "Family",
    "Findable",
    "Fitted",
    "FittedMeasure",
    "Generation",
    "Kind",
    "Lot",
    "LotMeasure",
    "Machine",
    "Maker",
    "Mate",
    "Measure",
    "Micro",
    "Minor",
    "Model",
    "Moment",
    "Movement",
    "Number",
    "Photo",
    "Place",
    "Position",
    "Printed",
    "Revision",
    "Row",
    "Rule",
    "Setting",
    "ShareLink",
    "Sheet",
    "SheetRow",
    "ShelfAdd",
    "SignIn",
    "Wanted",
]

ROWS: dict[str, type[Row]] = {mapper.local_table.name: mapper.class_ for mapper in Base.registry.mappers}  # type: ignore[attr-defined]
ROWS = {table.name: ROWS[table.name] for table in TABLES}
"""``{table name: mapped class}`` for the tables people see, in their order."""


def check_text(column: Column) -> str:
    """The condition a column's choices and bounds put on its values, or ""."""
    if column.choices:
        return f'"{column.name}" IN ({", ".join(repr(choice) for choice in column.choices)})'
    scale = MICRO if column.cell is Cell.EXACT else 1
    bounds = []
    if column.low is not None:
        bounds.append(f'"{column.name}" >= {column.low * scale}')
    if column.high is not None:
        bounds.append(f'"{column.name}" <= {column.high * scale}')
    return " AND ".join(bounds)


def _add_checks() -> None:
    for table in TABLES:
        for column in table.columns:
            condition = check_text(column)
            if condition:
                Base.metadata.tables[table.name].append_constraint(CheckConstraint(condition, name=column.name))


_add_checks()
