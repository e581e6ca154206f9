"""Parts of one kind, found by their sizes: what a whole shelf is good for at one spot, without asking part by part.

A set of parts is one whole number with a bit for each part, so that a mate is looked at once for each size on the
shelf and not once for each part::

    bore   38.0  00101      stands against a 38.0 piston:  holds   00101
           38.2  01010                                     breaks  01010
           -     10000                                     open    10000
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

from stash.fit.claims import Part
from stash.fit.intervals import Known, Outcome
from stash.fit.touching import Touch


class Sized:
    """Parts of one kind.

    Args:
        parts: The parts; a part's bit is its place here.
    """

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = tuple(parts)
        self.all = (1 << len(self.parts)) - 1
        self._by_value: dict[str, dict[Known | None, int]] = {}
        self._against: dict[tuple[str, bool, Known], tuple[int, int]] = {}

    def by_value(self, measure: str) -> Mapping[Known | None, int]:
        """Return ``{value: parts}`` of a measure; None for the parts on which nobody took it."""
        known = self._by_value.get(measure)
        if known is None:
            known = self._by_value[measure] = {}
            for place, part in enumerate(self.parts):
                value = part.values.get(measure)
                known[value] = known.get(value, 0) | 1 << place
        return known

    def against(self, touch: Touch, far: Known | None) -> tuple[int, int]:
        """Return the parts for which a mate holds, and those for which it breaks, with one size at its other end."""
        if far is None:
            return 0, 0
        key = (touch.mate.key, touch.is_a, far)
        known = self._against.get(key)
        if known is None:
            holding = breaking = 0
            for value, bits in self.by_value(touch.measure).items():
                outcome = touch.outcome(value, far)
                if outcome is Outcome.HOLDS:
                    holding |= bits
                elif outcome is Outcome.BREAKS:
                    breaking |= bits
            known = self._against[key] = (holding, breaking)
        return known

    @cached_property
    def by_design(self) -> Mapping[str, int]:
        """``{design: parts}``."""
        found: dict[str, int] = {}
        for place, part in enumerate(self.parts):
            found[part.design] = found.get(part.design, 0) | 1 << place
        return found


NOTHING = Sized(())
"""An empty shelf."""


def places_of(bits: int) -> Iterator[int]:
    """Yield the places of a set's parts, in order."""
    while bits:
        lowest = bits & -bits
        yield lowest.bit_length() - 1
        bits ^= lowest
