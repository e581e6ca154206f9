"""One part that breaks mates at a site, and what could change around it."""

from __future__ import annotations

from collections.abc import Mapping

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site
from stash.fit.facts import Design
from stash.fit.intervals import Outcome
from stash.fit.mates import mate_states
from stash.fit.pairing import Split
from stash.fit.surroundings import Surroundings
from stash.fit.touching import Touch

Price = tuple[int, int, int]
"""Not on the shelf, of those not priced, money: what is least is best."""


class Problem:
    """One question: what must change around a part that breaks mates at a site.

    Args:
        catalogue: The facts.
        part: The part.
        site: Where it would go.
        year: A year of the stretch, None when the model has no years.
        shelf: Designs of which a usable loose part lies on the shelf.
        around: What is already known of the target in that year.
    """

    def __init__(
        self,
        catalogue: Catalogue,
        part: Part,
        site: Site,
        year: int | None,
        shelf: frozenset[str] = frozenset(),
        around: Surroundings | None = None,
    ) -> None:
        self.catalogue = catalogue
        self.part = part
        self.site = site
        self.year = year
        self.home = site.position
        self.around = around or Surroundings(catalogue, site.model, site.machine, year)
        self._shelf = shelf
        self._chosen: dict[tuple[str, int], tuple[Price, Design]] = {}
        states = tuple(mate_states(catalogue, part, site, year))
        self.must_hold = frozenset(
            (state.mate.key, state.position) for state in states if state.outcome is Outcome.BREAKS
        )
        self.open_at_home = frozenset(
            (state.mate.key, state.position) for state in states if state.outcome is Outcome.OPEN
        )
        self.must_change = frozenset(position for _, position in self.must_hold)

    def start(self, position: str) -> int:
        """Return the groups at a position beside the part: what broke holds, nothing else breaks."""
        mask = self.around.groups(position).all
        for far, touch in self.around.links(self.home):
            if far == position:
                split = self.beside_part(touch)
                mask &= split.holds if (touch.mate.key, position) in self.must_hold else ~split.breaks
        return mask

    def beside_part(self, touch: Touch) -> Split:
        """Return how the groups at the far end of one of the part's mates fare against it."""
        return self.catalogue.pairings.split(touch, self.part.values.get(touch.measure))

    def forced(self, changed: Mapping[str, int]) -> frozenset[str]:
        """Return the unchanged positions at the far end of a broken mate, with ``{position: group}`` put in."""
        forced = set(self.must_change)
        for position, group in changed.items():
            forced.update(far for far, mask in self.around.forces(position) if mask >> group & 1)
        return frozenset(forced - changed.keys() - {self.home})

    def choice(self, position: str, group: int) -> tuple[Price, Design]:
        """Return the best design of a group that is allowed at a position, and what it costs."""
        known = self._chosen.get((position, group))
        if known is None:
            refused = self.around.refused(position)
            members = (row for row in self.around.groups(position).members[group] if row.key not in refused)
            best = min(members, key=lambda row: (self._price(row), row.key))
            known = self._chosen[position, group] = (self._price(best), best)
        return known

    def is_the_same_in(self, year: int | None) -> bool:
        """Tell whether every refusal that was asked for is the same in another year of the same stock."""
        asked = self.around.refusals.items()
        return all(refused == self.around.refused_in(position, year) for position, refused in asked)

    def _price(self, design: Design) -> Price:
        if design.key in self._shelf:
            return (0, 0, 0)
        return (1, int(design.price_minor is None), design.price_minor or 0)


def narrowed(problem: Problem) -> Mapping[str, int] | None:
    """Drop the groups that no choice next door goes with, over and over; None when a position is left with nothing.

    A position may also stay unchanged unless the part breaks what is there. Pairs of unchanged positions are never
    judged. What is refused outright is not looked at yet: it can only take more away.
    Source: arc consistency (Mackworth, "Consistency in networks of relations", 1977; from memory).
    """
    positions = problem.around.reach(problem.home)
    domains = {position: problem.start(position) for position in positions}
    stays = {position: position not in problem.must_change for position in positions}
    queue = list(positions)
    while queue:
        near = queue.pop()
        for far in dict.fromkeys(name for name, _ in problem.around.links(near) if name != problem.home):
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
    touches = tuple(touch for name, touch in problem.around.links(position) if name == near)
    measures = tuple(sorted({touch.measure for touch in touches}))
    broken_as_is = 0
    for touch in touches:
        broken_as_is |= problem.around.beside_unchanged(position, near, touch).breaks
    here = domains[position]
    left = here & ~broken_as_is if stays[near] else 0
    for values, mask in problem.around.groups(position).classes(measures):
        if mask & here & ~left:
            beside = domains[near]
            for touch in touches:
                value = values[measures.index(touch.measure)]
                beside &= ~problem.catalogue.pairings.split(touch, value).breaks
            if beside:
                left |= mask & here
    stay = stays[position]
    if stay and not stays[near]:
        beside = domains[near]
        for name, touch in problem.around.links(near):
            if name == position:
                beside &= ~problem.around.beside_unchanged(near, position, touch).breaks
        stay = bool(beside)
    return left, stay
