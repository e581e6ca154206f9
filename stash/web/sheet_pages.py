"""A proposal's rows as a page shows them: one state at a time, and each field under the name people know it by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from stash.services.flat_facts import STATES, Proposal, Row, Value
from stash.services.flat_lots import MEASURE
from stash.web.names import Names
from stash.web.words import label, words

ALL = "all"
_FIRST = ("wrong", "unclear", "changed", "held", "new")
"""What is looked at first."""


@dataclass(frozen=True, slots=True)
class RowPage:
    """Some rows of a proposal.

    Args:
        proposal: The proposal.
        asked: Which state is asked for: one of ``STATES``, ``all``, or anything else for what wants looking at first.
        at: Which page is asked for, from 1.
        size: How many rows a page has.
    """

    proposal: Proposal
    asked: str
    at: int
    size: int

    @property
    def show(self) -> str:
        """The state that is shown."""
        if self.asked in {*STATES, ALL}:
            return self.asked
        counts = self.proposal.counts
        return next((state for state in _FIRST if counts[state]), ALL)

    @property
    def _all(self) -> list[Row]:
        show = self.show
        return [row for row in self.proposal.rows if show in {ALL, row.state}]

    @property
    def last(self) -> int:
        """The last page."""
        return max(1, -(-len(self._all) // self.size))

    @property
    def number(self) -> int:
        """The page shown."""
        return min(max(1, self.at), self.last)

    @property
    def lines(self) -> list[Row]:
        """Its rows."""
        start = (self.number - 1) * self.size
        return self._all[start : start + self.size]


def field_name(names: Names, row: Row, value: Value) -> str:
    """Return what a field is called; a measure by its kind's name for it."""
    if value.column.startswith(MEASURE):
        return names.measure(_kind(row), value.column.removeprefix(MEASURE))
    return {"number_seen": "number on it", "acquired_on": "bought"}.get(value.column, label(value.column))


def field_text(names: Names, value: Value, text: str) -> str:
    """Return a field's text with keys by the names of what they stand for."""
    said: dict[str, Callable[[str], str]] = {
        "kind": lambda key: names.kind(key) if key in names.catalogue.kind else words(key),
        "design": names.design,
        "condition": words,
        "checked": words,
    }
    return said[value.column](text) if text and value.column in said else text


def _kind(row: Row) -> str:
    return next((value.text for value in row.values if value.column == "kind"), "")
