"""The positions around a part, and how the groups of designs that could go there fare with one another.

Everything is a bit mask over the groups of a kind (see ``pairing``), so that a question about all the designs of a
kind is one operation.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site
from stash.fit.facts import Design
from stash.fit.intervals import Outcome
from stash.fit.mates import far_ends, kind_at, mate_states, neighbours
from stash.fit.pairing import Groups, Split
from stash.fit.refusals import refused_designs
from stash.fit.touching import Touch

Price = tuple[int, int, int]
"""Not on the shelf, of those not priced, money: what is least is best."""


@dataclass
class Problem:
    """One question: what must change around a part that breaks mates at a site.

    Args:
        catalogue: The facts.
        part: The part.
        site: Where it would go.
        year: A year of the segment, None when the model has no years.
        shelf: Designs of which a usable loose part lies on the shelf.
    """

    catalogue: Catalogue
    part: Part
    site: Site
    year: int | None
    shelf: frozenset[str]
    _links: dict[str, tuple[tuple[str, Touch], ...]] = field(default_factory=dict)
    _as_is: dict[tuple[str, str, bool, str], Split] = field(default_factory=dict)
    _forces: dict[str, tuple[tuple[str, int], ...]] = field(default_factory=dict)
    _allowed: dict[str, tuple[int, frozenset[str]]] = field(default_factory=dict)
    _chosen: dict[tuple[str, int], tuple[Price, Design]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.home = self.site.position
        states = tuple(mate_states(self.catalogue, self.part, self.site, self.year))
        self.must_hold = frozenset(
            (state.mate.key, state.position) for state in states if state.outcome is Outcome.BREAKS
        )
        self.open_at_home = frozenset(
            (state.mate.key, state.position) for state in states if state.outcome is Outcome.OPEN
        )
        self.must_change = frozenset(position for _, position in self.must_hold)

    def groups(self, position: str) -> Groups:
        """Return the groups of designs that could go in at a position."""
        return self.catalogue.pairings.groups(kind_at(self.catalogue, self.site, position))

    def links(self, position: str) -> tuple[tuple[str, Touch], ...]:
        """Return (position at the other end, mate seen from here) for every mate at a position."""
        known = self._links.get(position)
        if known is None:
            site = Site(self.site.model, position, self.site.machine)
            kind = kind_at(self.catalogue, self.site, position)
            known = self._links[position] = tuple(
                (far, touch)
                for touch in self.catalogue.touches.get(kind, ())
                for far in far_ends(self.catalogue, site, touch)
            )
        return known

    def reach(self) -> Iterator[str]:
        """Yield the other positions that mates lead to, near ones first."""
        seen, queue = {self.home}, [self.home]
        for position in queue:
            for far, _ in self.links(position):
                if far not in seen:
                    seen.add(far)
                    queue.append(far)
        yield from queue[1:]

    def start(self, position: str) -> int:
        """Return the groups at a position beside the part: what broke holds, nothing else breaks."""
        mask = self.groups(position).all
        for far, touch in self.links(self.home):
            if far == position:
                split = self.beside_part(touch)
                mask &= split.holds if (touch.mate.key, position) in self.must_hold else ~split.breaks
        return mask

    def beside_part(self, touch: Touch) -> Split:
        """Return how the groups at the far end of one of the part's mates fare against it."""
        return self.catalogue.pairings.split(touch, self.part.values.get(touch.measure))

    def beside_group(self, position: str, group: int, touch: Touch) -> Split:
        """Return how the groups at the far end of a mate fare against a group chosen at a position."""
        return self.catalogue.pairings.split(touch, self.groups(position).value(group, touch.measure))

    def beside_unchanged(self, position: str, far: str, touch: Touch) -> Split:
        """Return how the groups at a position fare, over one mate seen from it, against what is at the far end."""
        key = (position, touch.mate.key, touch.is_a, far)
        known = self._as_is.get(key)
        if known is None:
            back = touch.back
            splits = [
                self.catalogue.pairings.split(back, there.values.get(back.measure))
                for there in neighbours(self.catalogue, self.site, far, self.year)
            ]
            holds = breaks = self.groups(position).all if splits else 0
            for split in splits:
                holds &= split.holds
                breaks &= split.breaks
            known = self._as_is[key] = Split(holds, breaks)
        return known

    def forces(self, position: str) -> tuple[tuple[str, int], ...]:
        """Return (other position, groups here) where the groups break what is there unchanged."""
        known = self._forces.get(position)
        if known is None:
            masks: dict[str, int] = {}
            for far, touch in self.links(position):
                if far != self.home:
                    masks[far] = masks.get(far, 0) | self.beside_unchanged(position, far, touch).breaks
            known = self._forces[position] = tuple((far, mask) for far, mask in masks.items() if mask)
        return known

    def allowed(self, position: str) -> int:
        """Return the groups with a design that nothing said outright refuses at a position of the model."""
        return self._allowance(position)[0]

    def choice(self, position: str, group: int) -> tuple[Price, Design]:
        """Return the best design of a group that is allowed at a position, and what it costs."""
        known = self._chosen.get((position, group))
        if known is None:
            refused = self._allowance(position)[1]
            members = (row for row in self.groups(position).members[group] if row.key not in refused)
            best = min(members, key=lambda row: (self._price(row), row.key))
            known = self._chosen[position, group] = (self._price(best), best)
        return known

    def is_the_same_in(self, year: int | None) -> bool:
        """Tell whether every refusal that was asked for is the same in another year of the same stock."""
        return all(refused == self._refused(name, year) for name, (_, refused) in self._allowed.items())

    def _refused(self, position: str, year: int | None) -> frozenset[str]:
        kind = kind_at(self.catalogue, self.site, position)
        return refused_designs(self.catalogue, kind, Site(self.site.model, position), year)

    def _allowance(self, position: str) -> tuple[int, frozenset[str]]:
        known = self._allowed.get(position)
        if known is None:
            groups = self.groups(position)
            refused = self._refused(position, self.year)
            mask = groups.all
            for group in {groups.group_of[key] for key in refused}:
                if all(row.key in refused for row in groups.members[group]):
                    mask &= ~(1 << group)
            known = self._allowed[position] = (mask, refused)
        return known

    def _price(self, design: Design) -> Price:
        if design.key in self.shelf:
            return (0, 0, 0)
        return (1, int(design.price_minor is None), design.price_minor or 0)


def narrowed(problem: Problem) -> Mapping[str, int] | None:
    """Drop the groups that no choice next door goes with, over and over; None when a position is left with nothing.

    A position may also stay unchanged unless the part breaks what is there. Pairs of unchanged positions are never
    judged. What is refused outright is not looked at yet: it can only take more away.
    Source: arc consistency (Mackworth, "Consistency in networks of relations", 1977; from memory).
    """
    positions = list(problem.reach())
    domains = {position: problem.start(position) for position in positions}
    stays = {position: position not in problem.must_change for position in positions}
    queue = list(positions)
    while queue:
        near = queue.pop()
        for far in dict.fromkeys(name for name, _ in problem.links(near) if name != problem.home):
            mask, stay = _revised(problem, far, near, domains, stays)
            if (mask, stay) != (domains[far], stays[far]):
                if not mask and not stay:
                    return None
                domains[far], stays[far] = mask, stay
                queue.append(far)
    return domains


def _revised(
    problem: Problem, position: str, near: str, domains: Mapping[str, int], stays: Mapping[str, bool]
) -> tuple[int, bool]:
    """Return what is left at a position, and whether it may stay as it is, beside what is left next door."""
    touches = tuple(touch for name, touch in problem.links(position) if name == near)
    measures = tuple(sorted({touch.measure for touch in touches}))
    broken_as_is = 0
    for touch in touches:
        broken_as_is |= problem.beside_unchanged(position, near, touch).breaks
    left = 0
    for values, mask in problem.groups(position).classes(measures):
        if stays[near]:
            left |= mask & ~broken_as_is
        beside = domains[near]
        for touch in touches:
            beside &= ~problem.catalogue.pairings.split(touch, values[measures.index(touch.measure)]).breaks
        if beside:
            left |= mask
    stay = stays[position]
    if stay and not stays[near]:
        beside = domains[near]
        for name, touch in problem.links(near):
            if name == position:
                beside &= ~problem.beside_unchanged(near, position, touch).breaks
        stay = bool(beside)
    return domains[position] & left, stay
