"""One machine at once: which parts go into its empty positions together, leaving as few empty as possible.

A small search: always the position with fewest choices next, each choice taken with what it rules out elsewhere (its
own quantity, mates that would break). It stops at a bound on steps and says so.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from stash.fit.claims import Part

STEPS = 1_000
"""How many steps one machine may take; ordinary ones take as many as they have empty positions."""


S = TypeVar("S", bound=Hashable)
"""Where equal parts come from; two choices of one source share its supply."""


@dataclass(frozen=True, eq=False)
class Choice(Generic[S]):
    """A sort of part that may go into a position.

    Args:
        source: Where it comes from.
        part: What each of them is.
        supply: How many there are to use.
        demands: Companions that a rule demands with it: items, each a tuple of alternatives (design or kind keys).
    """

    source: S
    part: Part
    supply: int
    demands: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Need(Generic[S]):
    """A position to fill: so many parts of one sort, from choices in order of preference."""

    position: str
    kind: str
    quantity: int
    choices: tuple[Choice[S], ...]


@dataclass(frozen=True)
class Filling(Generic[S]):
    """The best way found.

    Args:
        chosen: ``{position: choice}`` for what can be filled at once.
        sure: No way leaves fewer positions empty; False when the search stopped early.
    """

    chosen: Mapping[str, Choice[S]]
    sure: bool


Beside = Callable[[str, Choice[S], str, list[Choice[S]]], list[Choice[S]]]
"""Given a position and what is in it, and another position and its choices: those that go together with it."""


def fill(needs: Collection[Need[S]], beside: Beside[S], carried: frozenset[str] = frozenset()) -> Filling[S]:
    """Fill as many positions at once as possible.

    Args:
        needs: What to fill; choices of one sort share its supply between positions.
        beside: Which choices at one position go together with what is chosen at another.
        carried: Designs and kinds the machine already carries, for companions demanded.

    Returns:
        The filling; of equal ones, the first in order of preference.
    """
    search = _Search({need.position: need for need in needs}, beside, carried)
    domains = {need.position: [choice for choice in need.choices if choice.supply >= need.quantity] for need in needs}
    search.descend(domains, {}, 0)
    return Filling(search.best, search.steps < STEPS)


@dataclass
class _Search(Generic[S]):
    needs: Mapping[str, Need[S]]
    beside: Beside[S]
    carried: frozenset[str]
    best: dict[str, Choice[S]] = field(default_factory=dict)
    fewest: int = 1_000_000
    steps: int = 0

    def descend(self, domains: dict[str, list[Choice[S]]], chosen: dict[str, Choice[S]], empty: int) -> None:
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
        self, rest: Mapping[str, list[Choice[S]]], chosen: Mapping[str, Choice[S]], position: str
    ) -> dict[str, list[Choice[S]]]:
        """What remains possible elsewhere once ``chosen[position]`` is in."""
        new = chosen[position]
        used = sum(self.needs[name].quantity for name, each in chosen.items() if each.source is new.source)
        kind = self.needs[position].kind
        narrowed = {}
        for name, before in rest.items():
            need, choices = self.needs[name], before
            if need.kind == kind:
                choices = [
                    choice
                    for choice in before
                    if choice.source is not new.source or choice.supply - used >= need.quantity
                ]
            narrowed[name] = self.beside(position, new, name, choices)
        return narrowed

    def _companions_there(self, chosen: Mapping[str, Choice[S]]) -> bool:
        """Tell whether every companion demanded is carried, or chosen for another position."""
        return all(
            self.carried.intersection(item)
            or any({each.part.design, each.part.kind}.intersection(item) for each in _others(chosen, position))
            for position, choice in chosen.items()
            for item in choice.demands
        )


def _others(chosen: Mapping[str, Choice[S]], position: str) -> list[Choice[S]]:
    """Return what is chosen for all other positions."""
    return [choice for name, choice in chosen.items() if name != position]
