"""Which rows refer to a row, as the foreign keys say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import ROWS


class Referrers(NamedTuple):
    """Rows of one table that refer to a row by one foreign key.

    Args:
        table: Their table.
        ends: ``{their column: the column it names}``.
        rows: The rows, every column.
    """

    table: str
    ends: dict[str, str]
    rows: list[dict[str, Any]]


def referrers(session: Session, table: str, row: Mapping[str, Any]) -> Iterator[Referrers]:
    """Find the rows of the tables people see that refer to a row.

    Args:
        session: Where to look.
        table: The row's table.
        row: The row as read.

    Yields:
        The rows found by each foreign key that finds any, in the order of the tables.
    """
    for name, cls in ROWS.items():
        sql = cls.__table__
        for key in sorted(sql.foreign_key_constraints, key=lambda key: str(key.name)):  # type: ignore[attr-defined]
            if key.referred_table.name != table:
                continue
            ends = {element.parent.name: element.column.name for element in key.elements}
            same = [sql.c[here] == row[there] for here, there in ends.items()]
            found = session.execute(select(*sql.columns).where(*same)).mappings().all()
            if found:
                yield Referrers(name, ends, [dict(each) for each in found])
