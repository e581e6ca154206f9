"""A mate seen from one of its sides, and what comparing two values across it tells."""

from __future__ import annotations

from dataclasses import dataclass

from stash.fit.facts import Mate
from stash.fit.intervals import Interval, Known, Outcome, compare_numbers


@dataclass(frozen=True, slots=True)
class Touch:
    """A mate seen from one of its sides: our measure here, theirs there."""

    mate: Mate
    is_a: bool

    @property
    def measure(self) -> str:
        """The measure on our side."""
        return self.mate.measure_a if self.is_a else self.mate.measure_b

    @property
    def position(self) -> str:
        """The position on our side, "" for any."""
        return self.mate.position_a if self.is_a else self.mate.position_b

    @property
    def far_kind(self) -> str:
        """The kind at the other end."""
        return self.mate.kind_b if self.is_a else self.mate.kind_a

    @property
    def far_measure(self) -> str:
        """The measure at the other end."""
        return self.mate.measure_b if self.is_a else self.mate.measure_a

    @property
    def far_position(self) -> str:
        """The position at the other end, "" for any."""
        return self.mate.position_b if self.is_a else self.mate.position_a

    @property
    def back(self) -> Touch:
        """The same mate seen from the other end."""
        return Touch(self.mate, not self.is_a)

    def outcome(self, ours: Known | None, theirs: Known | None) -> Outcome:
        """Tell whether the mate holds between our value and theirs; None is not known."""
        return compare(self.mate, ours, theirs) if self.is_a else compare(self.mate, theirs, ours)


def compare(mate: Mate, a: Known | None, b: Known | None) -> Outcome:
    """Tell whether a mate holds between two values.

    Args:
        mate: The mate.
        a: The value on its a side, None when not known.
        b: The value on its b side.

    Returns:
        ``same`` compares words for equality and numbers by a gap within [low, high], by default [0, 0];
        ``gap`` asks for low <= b - a <= high, an empty bound being open. Anything not comparable is OPEN.
    """
    if a is None or b is None:
        return Outcome.OPEN
    if isinstance(a, Interval) and isinstance(b, Interval):
        if mate.relation == "same":
            return compare_numbers(a, b, mate.low_u or 0, mate.high_u or 0)
        return compare_numbers(a, b, mate.low_u, mate.high_u)
    if isinstance(a, str) and isinstance(b, str) and mate.relation == "same":
        return Outcome.HOLDS if a == b else Outcome.BREAKS
    return Outcome.OPEN
