"""Mates inside one machine: which of its positions meet, and whether two parts there go together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from itertools import product

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part
from stash.fit.facts import Mate
from stash.fit.intervals import Known, Outcome
from stash.plan.spots import Comparing

Meeting = tuple[Mate, bool]
"""A mate between an earlier and a later position by name, and whether the earlier one is its a side."""


class Meetings:
    """Which positions of each model meet.

    Args:
        catalogue: The facts.
        comparing: Remembers comparisons.
    """

    def __init__(self, catalogue: Catalogue, comparing: Comparing) -> None:
        self._catalogue = catalogue
        self._comparing = comparing
        self._by_model: dict[str, Mapping[tuple[str, str], tuple[Meeting, ...]]] = {}

    def of(self, model: str) -> Mapping[tuple[str, str], tuple[Meeting, ...]]:
        """Return ``{(earlier, later position): mates}`` of a model."""
        known = self._by_model.get(model)
        if known is None:
            known = self._by_model[model] = self._find(model)
        return known

    def between(self, model: str, one: str, other: str) -> tuple[Meeting, ...]:
        """Return the mates between two positions, seen from the earlier name."""
        return self.of(model).get((min(one, other), max(one, other)), ())

    def outcome(self, meeting: Meeting, early: Mapping[str, Known], late: Mapping[str, Known]) -> Outcome:
        """Tell how a mate stands between the values at its earlier and its later position."""
        mate, early_is_a = meeting
        a, b = (early, late) if early_is_a else (late, early)
        return self._comparing.outcome(mate, a.get(mate.measure_a), b.get(mate.measure_b))

    def beside(self, model: str, one: str, part: Part, other: str, parts: Iterable[Part]) -> list[bool]:
        """Tell of each part at another position whether it breaks no mate with the part at one."""
        met = self.between(model, one, other)
        return [all(self._unbroken(meeting, one < other, part, each) for meeting in met) for each in parts]

    def _unbroken(self, meeting: Meeting, early: bool, here: Part, there: Part) -> bool:  # noqa: FBT001
        first, second = (here, there) if early else (there, here)
        return self.outcome(meeting, first.values, second.values) is not Outcome.BREAKS

    def _find(self, model: str) -> dict[tuple[str, str], tuple[Meeting, ...]]:
        found: dict[tuple[str, str], list[Meeting]] = defaultdict(list)
        places = self._catalogue.positions_of_kind[model]
        for mate in sorted(self._catalogue.mates, key=lambda row: row.key):
            sides = product(
                _at(places, mate.kind_a, mate.position_a),
                _at(places, mate.kind_b, mate.position_b),
            )
            for a, b in sides:
                if a != b:
                    found[min(a, b), max(a, b)].append((mate, a < b))
        return {pair: tuple(meetings) for pair, meetings in found.items()}


def _at(places: Mapping[str, tuple[str, ...]], kind: str, position: str) -> list[str]:
    return [name for name in places.get(kind, ()) if not position or name == position]
