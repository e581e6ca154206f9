"""A model or machine in one year as the search for companions sees it, whatever the part in question.

Everything is a bit mask over the groups of a kind (see ``pairing``), so that a question about all the designs of a
kind is one operation. What is found out here is kept, and serves every part that is asked about.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from types import MappingProxyType
from typing import NamedTuple

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Site
from stash.fit.facts import Machine, Model
from stash.fit.mates import far_ends, kind_at, neighbours
from stash.fit.pairing import Groups, Split
from stash.fit.refusals import refused_designs
from stash.fit.touching import Touch

NOTHING_TO_TELL: Mapping[str, Hashable] = MappingProxyType({})
_Forces = tuple[tuple[str, int], ...]


class Layout(NamedTuple):
    """What follows from which positions there are and what kinds they take, kept as it is asked for.

    Args:
        groups: ``{position: groups of designs that could go in}``.
        links: ``{position: (position at the other end, mate seen from here) of each mate}``.
        as_is: ``{(position, mate, its side, far end, what is there): how the groups at the position fare}``.
        forces: Every answer of ``Surroundings.forces``, by itself: most are equal.
        masks: Every set of positions that an answer rested on, by itself, for the same reason.
    """

    groups: dict[str, Groups]
    links: dict[str, tuple[tuple[str, Touch], ...]]
    as_is: dict[tuple[str, str, bool, str, Hashable], Split]
    forces: dict[_Forces, _Forces]
    masks: dict[int, int]


class Surroundings:
    """The positions of a target, what mates join them, and how groups of designs fare against what is there now.

    Args:
        catalogue: The facts.
        model: The model, or the machine's model.
        machine: The machine as built, None for a model.
        year: A year of the stretch, None when nothing is bounded in years.
        sister: Surroundings with the same positions for the same kinds, whose layout it shares.
        there: ``{position: what tells its stock from that of sisters}``; sisters must give it.

    ``visited`` grows by every position whose mates were looked at, ``refusals`` by every one whose refusals were.
    """

    def __init__(
        self,
        catalogue: Catalogue,
        model: Model,
        machine: Machine | None,
        year: int | None,
        sister: Surroundings | None = None,
        there: Mapping[str, Hashable] = NOTHING_TO_TELL,
    ) -> None:
        self.catalogue = catalogue
        self.model = model
        self.machine = machine
        self.year = year
        self.refusals: dict[str, frozenset[str]] = {}
        self.visited: set[str] = set()
        self.layout: Layout = sister.layout if sister else Layout({}, {}, {}, {}, {})
        self._there = there
        self._forces: dict[str, _Forces] = {}
        self._allowed: dict[str, int] = {}

    def site(self, position: str) -> Site:
        """Return a position of the target."""
        return Site(self.model, position, self.machine)

    def groups(self, position: str) -> Groups:
        """Return the groups of designs that could go in at a position."""
        known = self.layout.groups.get(position)
        if known is None:
            kind = kind_at(self.catalogue, self.site(position), position)
            known = self.layout.groups[position] = self.catalogue.pairings.groups(kind)
        return known

    def links(self, position: str) -> tuple[tuple[str, Touch], ...]:
        """Return (position at the other end, mate seen from here) for every mate at a position."""
        self.visited.add(position)
        known = self.layout.links.get(position)
        if known is None:
            site = self.site(position)
            kind = kind_at(self.catalogue, site, position)
            known = self.layout.links[position] = tuple(
                (far, touch)
                for touch in self.catalogue.touches.get(kind, ())
                for far in far_ends(self.catalogue, site, touch)
            )
        return known

    def reach(self, home: str) -> list[str]:
        """Return the other positions that mates lead to, near ones first."""
        seen, queue = {home}, [home]
        for position in queue:
            for far, _ in self.links(position):
                if far not in seen:
                    seen.add(far)
                    queue.append(far)
        return queue[1:]

    def beside_group(self, position: str, group: int, touch: Touch) -> Split:
        """Return how the groups at the far end of a mate fare against a group chosen at a position."""
        return self.catalogue.pairings.split(touch, self.groups(position).value(group, touch.measure))

    def beside_unchanged(self, position: str, far: str, touch: Touch) -> Split:
        """Return how the groups at a position fare, over one mate seen from it, against what is at the far end."""
        key = (position, touch.mate.key, touch.is_a, far, self._there.get(far))
        known = self.layout.as_is.get(key)
        if known is None:
            back = touch.back
            splits = [
                self.catalogue.pairings.split(back, there.values.get(back.measure))
                for there in neighbours(self.catalogue, self.site(position), far, self.year)
            ]
            known = self.layout.as_is[key] = splits[0] if len(splits) == 1 else _in_all(splits)
        return known

    def forces(self, position: str) -> _Forces:
        """Return (other position, groups here) where the groups break what is there unchanged."""
        self.visited.add(position)
        known = self._forces.get(position)
        if known is None:
            masks: dict[str, int] = {}
            for far, touch in self.links(position):
                masks[far] = masks.get(far, 0) | self.beside_unchanged(position, far, touch).breaks
            found = tuple((far, mask) for far, mask in masks.items() if mask)
            known = self._forces[position] = self.layout.forces.setdefault(found, found)
        return known

    def allowed(self, position: str) -> int:
        """Return the groups with a design that nothing said outright refuses at a position of the model."""
        known = self._allowed.get(position)
        if known is None:
            groups = self.groups(position)
            refused = self.refused(position)
            known = groups.all
            for group in {groups.group_of[key] for key in refused}:
                if all(row.key in refused for row in groups.members[group]):
                    known &= ~(1 << group)
            self._allowed[position] = known
        return known

    def forget_what_was_asked(self) -> None:
        """Forget which positions and refusals were asked for; what was found out stays known."""
        self.visited, self.refusals = set(), {}

    def refused(self, position: str) -> frozenset[str]:
        """Return the designs that are refused outright at a position of the model."""
        known = self.refusals.get(position)
        if known is None:
            known = self.refusals[position] = self.refused_in(position, self.year)
        return known

    def refused_in(self, position: str, year: int | None) -> frozenset[str]:
        """Return the designs that are refused outright at a position of the model in another year."""
        kind = kind_at(self.catalogue, self.site(position), position)
        return refused_designs(self.catalogue, kind, self.site(position), year)


def _in_all(splits: list[Split]) -> Split:
    """Return which groups hold, and which break, beside every one of several stock parts; neither beside none."""
    holds = breaks = -1 if splits else 0
    for split in splits:
        holds &= split.holds
        breaks &= split.breaks
    return Split(holds, breaks)
