"""Spans of years with open ends."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


class Years(NamedTuple):
    """A span of years, both ends included; None is an open end."""

    from_year: int | None = None
    to_year: int | None = None

    def contains(self, year: int) -> bool:
        """Tell whether the year lies in the span."""
        return (self.from_year is None or self.from_year <= year) and (self.to_year is None or year <= self.to_year)

    def within(self, other: Years) -> bool:
        """Tell whether this whole span lies inside the other."""
        starts = other.from_year is None or (self.from_year is not None and self.from_year >= other.from_year)
        ends = other.to_year is None or (self.to_year is not None and self.to_year <= other.to_year)
        return starts and ends

    def common(self, other: Years) -> Years | None:
        """Return the years in both spans, or None when there are none."""
        starts = [year for year in (self.from_year, other.from_year) if year is not None]
        ends = [year for year in (self.to_year, other.to_year) if year is not None]
        both = Years(max(starts, default=None), min(ends, default=None))
        if both.from_year is not None and both.to_year is not None and both.from_year > both.to_year:
            return None
        return both

    def __str__(self) -> str:
        if self.from_year is None and self.to_year is None:
            return "all years"
        if self.from_year == self.to_year:
            return str(self.from_year)
        if self.from_year is None:
            return f"up to {self.to_year}"
        return f"{self.from_year}\u2013{self.to_year}" if self.to_year is not None else f"from {self.from_year}"


ALL_YEARS = Years()


def segments(whole: Years, parts: Iterable[Years]) -> list[Years]:
    """Cut a span wherever one of the parts begins or ends.

    Args:
        whole: The span to cut.
        parts: Spans whose ends are the cuts; parts outside the whole cut nothing.

    Returns:
        Adjoining spans in order that together are the whole; each lies entirely inside or outside every part.
    """
    starts: set[int] = set()
    for part in parts:
        if part.from_year is not None:
            starts.add(part.from_year)
        if part.to_year is not None:
            starts.add(part.to_year + 1)
    low, high = whole
    cuts = sorted(year for year in starts if (low is None or year > low) and (high is None or year <= high))
    begins = [low, *cuts]
    ends = [*(year - 1 for year in cuts), high]
    return [Years(begin, end) for begin, end in zip(begins, ends, strict=True)]
