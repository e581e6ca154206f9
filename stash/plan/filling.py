"""One machine at once: which parts go into its empty positions together, leaving as few empty as possible.

A small search: always the position with fewest choices next, each choice taken with what it rules out elsewhere (its
own quantity, mates that would break). It stops at a bound on steps and says so.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from stash.plan.meeting import Meetings
from stash.plan.shelf import Sort

STEPS = 4_000
"""How many steps one machine may take; ordinary ones take as many as they have empty positions."""


@dataclass(frozen=True, eq=False)
class Choice:
    """A sort of part that may go into a position.

    Args:
        sort: The sort.
        supply: How many there are to use.
        demands: Companions that a rule demands with it: items, each a tuple of alternatives (design or kind keys).
    """

    sort: Sort
    supply: int
    demands: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Need:
    """A position to fill: so many parts of one sort, from choices in order of preference."""

    position: str
    kind: str
    quantity: int
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class Filling:
    """The best way found.

    Args:
        chosen: ``{position: choice}`` for what can be filled at once.
        sure: No way leaves fewer positions empty; False when the search stopped early.
    """

    chosen: Mapping[str, Choice]
    sure: bool


def fill(meetings: Meetings, model: str, needs: Collection[Need], carried: frozenset[str] = frozenset()) -> Filling:
    """Fill as many positions at once as possible.

    Args:
        meetings: Mates inside a machine.
        model: Model key.
        needs: What to fill; each kind's choices share their supply between positions.
        carried: Designs and kinds the machine already carries, for companions demanded.

    Returns:
        The filling; of equal ones, the first in order of preference.
    """
    search = _Search(meetings, model, {need.position: need for need in needs}, carried)
    domains = {need.position: [choice for choice in need.choices if choice.supply >= need.quantity] for need in needs}
    search.descend(domains, {}, 0)
    return Filling(search.best, search.steps < STEPS)


@dataclass
class _Search:
    meetings: Meetings
    model: str
    needs: Mapping[str, Need]
    carried: frozenset[str]
    best: dict[str, Choice] = field(default_factory=dict)
    fewest: int = 1_000_000
    steps: int = 0

    def descend(self, domains: dict[str, list[Choice]], chosen: dict[str, Choice], empty: int) -> None:
        """Decide the remaining positions, ``{position: choices left}``, beside what is chosen."""
        self.steps += 1
        doomed = empty + sum(not choices for choices in domains.values())
        if doomed >= self.fewest or self.steps > STEPS:
            return
        open_domains = {name: choices for name, choices in domains.items() if choices}
        if not open_domains:
            if self._companions_there(chosen):
                self.fewest, self.best = doomed, dict(chosen)
            return
        position = min(open_domains, key=lambda name: (len(open_domains[name]), name))
        rest = {name: choices for name, choices in open_domains.items() if name != position}
        for choice in open_domains[position]:
            now = {**chosen, position: choice}
            self.descend(self._narrowed(rest, now, position), now, doomed)
            if self.fewest == doomed:
                return
        self.descend(rest, chosen, doomed + 1)

    def _narrowed(
        self, rest: Mapping[str, list[Choice]], chosen: Mapping[str, Choice], position: str
    ) -> dict[str, list[Choice]]:
        """What remains possible elsewhere once ``chosen[position]`` is in."""
        new = chosen[position]
        used = sum(self.needs[name].quantity for name, each in chosen.items() if each.sort is new.sort)
        return {
            name: [
                choice
                for choice in choices
                if (choice.sort is not new.sort or choice.supply - used >= self.needs[name].quantity)
                and self._go_together(position, new, name, choice)
            ]
            for name, choices in rest.items()
        }

    def _go_together(self, one: str, new: Choice, other: str, choice: Choice) -> bool:
        met = self.meetings.between(self.model, one, other)
        if not met:
            return True
        early, late = (new, choice) if one < other else (choice, new)
        return not self.meetings.breaks(met, early.sort.part.values, late.sort.part.values)

    def _companions_there(self, chosen: Mapping[str, Choice]) -> bool:
        there = self.carried.union(*((choice.sort.part.design, choice.sort.part.kind) for choice in chosen.values()))
        return all(there.intersection(item) for choice in chosen.values() for item in choice.demands)
