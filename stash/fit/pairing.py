"""Which designs go together across a mate, as bit masks over groups of designs.

Designs of one kind that no mate can tell apart form a group; bit *i* of a mask stands for group *i* of its kind. A
mask for one value on one side is computed once, by comparing it with each distinct value on the other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from stash.fit.facts import Design
from stash.fit.intervals import Known, Outcome
from stash.fit.touching import Touch

Signature = tuple[Known | None, ...]
"""The values of a design in the measures that mates read, in order of measure."""


class Split(NamedTuple):
    """How the groups at the other end of a mate fare against one value; what is in neither is open."""

    holds: int
    breaks: int


class Groups:
    """The designs of one kind, grouped by what mates read.

    Args:
        designs: The designs of the kind in order of key.
        measures: The measures that mates read on this kind.
    """

    def __init__(self, designs: tuple[Design, ...], measures: tuple[str, ...]) -> None:
        self.measures = measures
        found: dict[Signature, list[Design]] = defaultdict(list)
        for design in designs:
            found[signature(design.values, measures)].append(design)
        self.members: tuple[tuple[Design, ...], ...] = tuple(tuple(group) for group in found.values())
        self.values: tuple[Signature, ...] = tuple(found)
        self.all = (1 << len(found)) - 1
        self.group_of = {design.key: place for place, group in enumerate(self.members) for design in group}
        self._classes: dict[tuple[str, ...], tuple[tuple[Signature, int], ...]] = {}

    def classes(self, measures: tuple[str, ...]) -> tuple[tuple[Signature, int], ...]:
        """Return (values, mask) for every distinct combination of values in some of the measures."""
        known = self._classes.get(measures)
        if known is None:
            places = [self.measures.index(measure) for measure in measures]
            masks: dict[Signature, int] = defaultdict(int)
            for place, values in enumerate(self.values):
                masks[tuple(values[each] for each in places)] |= 1 << place
            known = self._classes[measures] = tuple(masks.items())
        return known

    def value(self, group: int, measure: str) -> Known | None:
        """Return a group's value of a measure that mates read."""
        return self.values[group][self.measures.index(measure)]


class Pairings:
    """Splits of groups by value, and the groups themselves, kept as they are asked for.

    Args:
        designs_of_kind: ``{kind: designs}``.
        touches: ``{kind: mates seen from its side}``.
    """

    def __init__(
        self, designs_of_kind: Mapping[str, tuple[Design, ...]], touches: Mapping[str, tuple[Touch, ...]]
    ) -> None:
        self._designs = designs_of_kind
        self._touches = touches
        self._groups: dict[str, Groups] = {}
        self._splits: dict[tuple[str, bool, Known | None], Split] = {}

    def groups(self, kind: str) -> Groups:
        """Return the groups of a kind."""
        known = self._groups.get(kind)
        if known is None:
            measures = tuple(sorted({touch.measure for touch in self._touches.get(kind, ())}))
            known = self._groups[kind] = Groups(self._designs.get(kind, ()), measures)
        return known

    def split(self, touch: Touch, ours: Known | None) -> Split:
        """Return how the groups at the far end of a mate fare against our value."""
        key = (touch.mate.key, touch.is_a, ours)
        known = self._splits.get(key)
        if known is None:
            holds = breaks = 0
            for (theirs,), mask in self.groups(touch.far_kind).classes((touch.far_measure,)):
                outcome = touch.outcome(ours, theirs)
                if outcome is Outcome.HOLDS:
                    holds |= mask
                elif outcome is Outcome.BREAKS:
                    breaks |= mask
            known = self._splits[key] = Split(holds, breaks)
        return known


def signature(values: Mapping[str, Known], measures: tuple[str, ...]) -> Signature:
    """Return the values of some measures in their order."""
    return tuple(values.get(measure) for measure in measures)


def bits(mask: int) -> Iterator[int]:
    """Yield the places of the bits that are set, lowest first."""
    while mask:
        lowest = mask & -mask
        yield lowest.bit_length() - 1
        mask ^= lowest
