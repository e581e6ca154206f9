"""The smallest change of other positions that lets a part in.

A part in place breaks some mates. Each of their far ends must change, since nothing else can mend them; what goes in
there may break mates with its own neighbours, which then must change too. So every change is forced, and following
the forced changes with every choice of part finds all the smallest sets: a valid set holds each forced position, and
the search, making that set's choices, arrives inside it at a set no larger that already works.

Pairs of untouched parts are facts and never judged. Source: project decision (order of preference).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from stash.fit.beating import verdict_of, weigh
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site, factory_claims, part_of_design, rule_claims
from stash.fit.facts import Design
from stash.fit.intervals import Outcome
from stash.fit.mates import MateState, ToMeasure, mate_states
from stash.fit.scopes import Scopes


@dataclass(frozen=True, slots=True)
class Shelf:
    """What could be had, for choosing among equals.

    Args:
        designs: Designs of which a usable loose part lies on the shelf.
    """

    designs: frozenset[str] = frozenset()


NO_SHELF = Shelf()


@dataclass(frozen=True, slots=True)
class Change:
    """One position and the design that goes in there."""

    position: str
    design: str


@dataclass(frozen=True, slots=True)
class CompanionSet:
    """What must change too, in order of position, and what to measure before trusting it."""

    changes: tuple[Change, ...]
    open: tuple[ToMeasure, ...] = ()


@dataclass(frozen=True, slots=True)
class Impossible:
    """No change helps.

    Args:
        mate: Key of the mate that nothing can satisfy.
        position: The position at its other end.
    """

    mate: str
    position: str


def smallest_change(
    catalogue: Catalogue, part: Part, site: Site, year: int | None, shelf: Shelf = NO_SHELF
) -> CompanionSet | Impossible:
    """Find the best set of other positions to change so that a part that breaks mates goes in.

    Args:
        catalogue: The facts.
        part: The part; at least one of its mates breaks at the site.
        site: The model or machine.
        year: A year of the segment; None when the model has no years.
        shelf: What lies on the shelf.

    Returns:
        Of all sets with which every mate that broke holds, no mate touching the part or a changed one breaks, and no
        changed part is refused or disputed outright for the model: fewest positions, then fewest open mates, then most
        on the shelf, then least money, then by key. Or the mate that nothing can satisfy.
    """
    search = _Search(catalogue, part, site, year, shelf)
    for size in range(1, len(catalogue.positions[site.model.key])):
        search.size, search.cut_short = size, False
        search.expand({})
        if search.best is not None:
            return search.best[1]
        if not search.cut_short:
            break
    return search.stuck[1]


_Cost = tuple[int, int, int, int, tuple[tuple[str, str], ...]]


@dataclass
class _Search:
    """Depth-first over forced changes, for one size of set at a time."""

    catalogue: Catalogue
    part: Part
    site: Site
    year: int | None
    shelf: Shelf
    size: int = 0
    cut_short: bool = False
    best: tuple[_Cost, CompanionSet] | None = None
    _choices: dict[str, tuple[Part, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        states = mate_states(self.catalogue, self.part, self.site, self.year)
        self._must_hold = {(state.mate.key, state.position) for state in states if state.outcome is Outcome.BREAKS}
        mate, position = min(self._must_hold)
        self.stuck = (len(self.catalogue.positions[self.site.model.key]), Impossible(mate, position))

    def expand(self, changed: Mapping[str, Part]) -> None:
        """Follow what is forced from here on; ``{position: part}`` are the changes so far."""
        states = self._states(changed)
        if any(self._dead(state, owner, changed) for owner, state in states):
            return
        forced = sorted({state.position for _, state in states if state.outcome is Outcome.BREAKS})
        if not forced:
            self._keep(changed, states)
            return
        if len(changed) + len(forced) > self.size:
            self.cut_short = True
            return
        options = {position: self._viable(position, changed) for position in forced}
        position = min(forced, key=lambda name: (len(options[name]), name))
        if not options[position]:
            self._note_stuck(position, states, len(changed))
        for choice in options[position]:
            self.expand({**changed, position: choice})

    def _states(self, changed: Mapping[str, Part]) -> list[tuple[str, MateState]]:
        """Every mate that touches the part or a changed one, with the position it was seen from."""
        fixed = {self.site.position: self.part, **changed}
        return [
            (position, state)
            for position, part in fixed.items()
            for state in mate_states(
                self.catalogue, part, Site(self.site.model, position, self.site.machine), self.year, fixed
            )
        ]

    def _dead(self, state: MateState, owner: str, changed: Mapping[str, Part]) -> bool:
        """Tell whether no further change can mend a mate: both of its ends are fixed."""
        if state.position not in changed and state.position != self.site.position:
            return False
        broke = owner == self.site.position and (state.mate.key, state.position) in self._must_hold
        return state.outcome is Outcome.BREAKS or (broke and state.outcome is not Outcome.HOLDS)

    def _viable(self, position: str, changed: Mapping[str, Part]) -> list[Part]:
        """The parts that go in at a position beside what is already fixed."""
        viable: list[Part] = []
        for choice in self._allowed(position):
            trial = {**changed, position: choice}
            if not any(
                self._dead(state, owner, trial)
                for owner, state in self._states(trial)
                if position in {owner, state.position}
            ):
                viable.append(choice)
        return viable

    def _allowed(self, position: str) -> tuple[Part, ...]:
        """The best design of each group of twins that nothing said outright refuses there."""
        known = self._choices.get(position)
        if known is None:
            kind = self.catalogue.positions[self.site.model.key][position].kind
            site = Site(self.site.model, position)
            found: list[Part] = []
            for group in self.catalogue.twins.get(kind, ()):
                allowed = [row for row in group if not refused_outright(self.catalogue, row, site, self.year)]
                if allowed:
                    found.append(part_of_design(min(allowed, key=self._price)))
            known = self._choices[position] = tuple(found)
        return known

    def _price(self, design: Design) -> tuple[bool, bool, int, str]:
        on_shelf = design.key in self.shelf.designs
        return (
            not on_shelf,
            design.price_minor is None,
            0 if on_shelf else design.price_minor or 0,
            design.key,
        )

    def _keep(self, changed: Mapping[str, Part], states: list[tuple[str, MateState]]) -> None:
        """Remember the set if it is the best so far."""
        prices = [self._price(self.catalogue.design[part.design]) for part in changed.values()]
        asks = tuple(dict.fromkeys(ask for _, state in states for ask in state.to_measure))
        opened = {
            (state.mate.key, frozenset((owner, state.position)))
            for owner, state in states
            if state.outcome is Outcome.OPEN
        }
        changes = tuple(sorted((position, part.design) for position, part in changed.items()))
        cost = (
            len(opened),
            sum(price[0] for price in prices),
            sum(price[0] and price[1] for price in prices),
            sum(price[2] for price in prices),
            changes,
        )
        if self.best is None or cost < self.best[0]:
            self.best = (cost, CompanionSet(tuple(Change(*change) for change in changes), asks))

    def _note_stuck(self, position: str, states: list[tuple[str, MateState]], depth: int) -> None:
        if depth < self.stuck[0]:
            mate = min(
                state.mate.key for _, state in states if state.position == position and state.outcome is Outcome.BREAKS
            )
            self.stuck = (depth, Impossible(mate, position))


def refused_outright(catalogue: Catalogue, design: Design, site: Site, year: int | None) -> bool:
    """Tell whether came_on and the rules alone make a design ``wont_fit`` or ``disputed`` at a position of a model."""
    part = part_of_design(design)
    claims = [
        claim
        for claim in (*factory_claims(catalogue, part, site), *rule_claims(catalogue, part, site))
        if year is None or claim.scope.years.contains(year)
    ]
    return verdict_of(weigh(Scopes(catalogue), claims)) in {"wont_fit", "disputed"}
