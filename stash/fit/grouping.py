"""Rows by key, for indexes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import TypeVar

Key = TypeVar("Key")
Row = TypeVar("Row")


def grouped(pairs: Iterable[tuple[Key, Row]]) -> dict[Key, tuple[Row, ...]]:
    """Return ``{key: rows}``, the rows of each key in the order they came."""
    groups: dict[Key, list[Row]] = defaultdict(list)
    for key, row in pairs:
        groups[key].append(row)
    return {key: tuple(rows) for key, rows in groups.items()}
