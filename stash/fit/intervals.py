"""Measured values as intervals, and what the gap between two of them tells.

All numbers are whole millionths of the measure's unit (see ``stash.kernel.exact``).
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from stash.kernel.exact import micro_text


class Interval(NamedTuple):
    """A number known to lie between two bounds, in millionths of its unit."""

    low_u: int
    high_u: int

    def __str__(self) -> str:
        if self.low_u == self.high_u:
            return micro_text(self.low_u)
        return f"{micro_text(self.low_u)}\u2026{micro_text(self.high_u)}"


Known = Interval | str
"""A known value: an interval for a number, a word for a choice, ``yes`` or ``no`` for a tell."""


class Outcome(Enum):
    """What comparing two values, or two parts, tells."""

    HOLDS = "holds"
    BREAKS = "breaks"
    OPEN = "open"


def interval(value_u: int, minus_u: int = 0, plus_u: int = 0) -> Interval:
    """Return ``[value - minus, value + plus]``."""
    return Interval(value_u - minus_u, value_u + plus_u)


def gap(a: Interval, b: Interval) -> Interval:
    """Return the interval of ``b - a``.

    Source: interval arithmetic, subtraction; limits of fit in ISO 286-1 are its special case
    (greatest and least clearance from hole and shaft limits).
    """
    return Interval(b.low_u - a.high_u, b.high_u - a.low_u)


def compare_numbers(a: Interval, b: Interval, low_u: int | None, high_u: int | None) -> Outcome:
    """Tell whether the gap ``b - a`` lies within bounds.

    Args:
        a: One value.
        b: The other.
        low_u: Least gap allowed, None for no bound.
        high_u: Greatest gap allowed, None for no bound.

    Returns:
        HOLDS when the whole gap is inside, BREAKS when it is wholly outside, OPEN when it straddles a bound.
    """
    between = gap(a, b)
    if (low_u is not None and between.high_u < low_u) or (high_u is not None and between.low_u > high_u):
        return Outcome.BREAKS
    if (low_u is None or between.low_u >= low_u) and (high_u is None or between.high_u <= high_u):
        return Outcome.HOLDS
    return Outcome.OPEN
