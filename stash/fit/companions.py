"""The smallest change of other positions that lets a part in.

A part in place breaks some mates. Each of their far ends must change, since nothing else can mend them; what goes in
there may break mates with its own neighbours, which then must change too. So every change is forced, and following
the forced changes with every choice of part finds all the smallest sets: a valid set holds each forced position, and
the search, making that set's choices, arrives inside it at a set no larger that already works.

Pairs of untouched parts are facts and never judged. Source: project decision (order of preference).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from stash.fit.catalogue import Catalogue
from stash.fit.change_problem import Price, Problem, narrowed
from stash.fit.claims import Part, Site, part_of_design
from stash.fit.impossible import Change, Impossible, explain
from stash.fit.mates import ToMeasure, mate_states
from stash.fit.pairing import bits

__all__ = ["NO_SHELF", "Change", "CompanionSet", "Impossible", "Searches", "Shelf", "can_change", "smallest_change"]


@dataclass(frozen=True, slots=True)
class Shelf:
    """What could be had, for choosing among equals.

    Args:
        designs: Designs of which a usable loose part lies on the shelf.
    """

    designs: frozenset[str] = frozenset()


NO_SHELF = Shelf()


@dataclass(frozen=True, slots=True)
class CompanionSet:
    """What must change too, in order of position, and what to measure before trusting it."""

    changes: tuple[Change, ...]
    open: tuple[ToMeasure, ...] = ()


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
        on the shelf, then fewest without a price, then least money, then by key. Or the mate that nothing can satisfy.
    """
    return _answer(Problem(catalogue, part, site, year, shelf.designs))


def can_change(problem: Problem) -> bool:
    """Tell whether any set of other positions lets the part in."""
    return _Search(problem, any_will_do=True).run() is not None


@dataclass
class Searches:
    """The smallest changes in years of one stretch with the same stock: searched again only where refusals differ."""

    catalogue: Catalogue
    part: Part
    site: Site
    shelf: Shelf
    _last: tuple[Problem, CompanionSet | Impossible] | None = None

    def at(self, year: int | None) -> CompanionSet | Impossible:
        """Return the best set in a year, or the mate that nothing can satisfy."""
        if self._last is None or not self._last[0].is_the_same_in(year):
            problem = Problem(self.catalogue, self.part, self.site, year, self.shelf.designs)
            self._last = (problem, _answer(problem))
        return self._last[1]


def _answer(problem: Problem) -> CompanionSet | Impossible:
    best = _Search(problem).run()
    if best is None:
        return explain(problem)
    return CompanionSet(best, _to_measure(problem, best))


_Groups = Mapping[str, int]
"""``{position: group}`` of the changes so far."""
_Cost = tuple[int, Price, tuple[tuple[str, str], ...]]


@dataclass
class _Search:
    """Depth-first over forced changes, for one size of set at a time; where any set will do, for all sizes at once."""

    problem: Problem
    any_will_do: bool = False
    domains: Mapping[str, int] | None = None
    size: int = 0
    cut_short: bool = False
    best: _Cost | None = field(default=None)

    def run(self) -> tuple[Change, ...] | None:
        """Return the best set of the smallest size that has one, None when none has.

        The smallest size there can be is tried at once, since it mostly does; only then are the choices narrowed. At
        the size of all positions nothing is cut short, so it ends.
        """
        self.size = len(self.problem.must_change)
        while True:
            self.cut_short = False
            self._expand({})
            if self.best is not None:
                return tuple(Change(*change) for change in self.best[2])
            if not self.cut_short:
                return None
            if self.domains is None:
                self.domains = narrowed(self.problem)
                if self.domains is None:
                    return None
            self.size = len(self.domains) if self.any_will_do else self.size + 1

    def _expand(self, changed: _Groups) -> None:
        """Follow what is forced from here on."""
        forced = self.problem.forced(changed)
        if not forced:
            self._keep(changed)
            return
        slack = self.size - len(changed) - len(forced)
        if slack < 0:
            self.cut_short = True
            return
        options = {position: self._viable(position, changed, forced, slack) for position in forced}
        position = min(forced, key=lambda name: (options[name].bit_count(), name))
        for group in self._distinct(position, options[position], changed):
            self._expand({**changed, position: group})
            if self.any_will_do and self.best is not None:
                return

    def _viable(self, position: str, changed: _Groups, forced: frozenset[str], slack: int) -> int:
        """The groups that go in at a position beside what is fixed, and force no more than there is room for."""
        near = self.problem.start(position) if self.domains is None else self.domains[position]
        mask = near & self.problem.around.allowed(position)
        for other, group in changed.items():
            for far, touch in self.problem.around.links(other):
                if far == position:
                    mask &= ~self.problem.around.beside_group(other, group, touch).breaks
        if slack == 0:
            room = mask
            for far, breaks in self.problem.around.forces(position):
                if far not in changed and far not in forced and far != self.problem.home:
                    room &= ~breaks
            self.cut_short = self.cut_short or room != mask
            mask = room
        return mask

    def _distinct(self, position: str, mask: int, changed: _Groups) -> Iterator[int]:
        """Of groups that behave alike towards every position not fixed yet, only the best need be tried."""
        free = tuple(
            sorted(
                {
                    touch.measure
                    for far, touch in self.problem.around.links(position)
                    if far not in changed and far != self.problem.home
                }
            )
        )
        opened = [] if self.any_will_do else list(self._open_beside(position, changed).values())
        for _, alike in self.problem.around.groups(position).classes(free):
            found = alike & mask
            if found and self.any_will_do:
                yield (found & -found).bit_length() - 1
            elif found:
                yield min(bits(found), key=lambda group: self._worth(position, group, opened))

    def _worth(self, position: str, group: int, opened: list[int]) -> tuple[int, Price, str]:
        price, design = self.problem.choice(position, group)
        return (sum(mask >> group & 1 for mask in opened), price, design.key)

    def _open_beside(self, position: str, changed: _Groups) -> dict[tuple[str, str], int]:
        """``{(mate, fixed position): groups here that leave it open}``."""
        every = self.problem.around.groups(position).all
        opened: dict[tuple[str, str], int] = {}
        for far, touch in self.problem.around.links(position):
            if far == self.problem.home:
                split = self.problem.beside_part(touch.back)
            elif far in changed:
                split = self.problem.around.beside_group(far, changed[far], touch.back)
            else:
                continue
            key = (touch.mate.key, far)
            opened[key] = opened.get(key, 0) | (every & ~split.holds & ~split.breaks)
        return opened

    def _keep(self, changed: _Groups) -> None:
        """Remember the set if it is the best so far."""
        if self.any_will_do:
            self.best = (0, (0, 0, 0), tuple((position, "") for position in sorted(changed)))
            return
        chosen = [(position, *self.problem.choice(position, group)) for position, group in sorted(changed.items())]
        price: Price = (
            sum(each[1][0] for each in chosen),
            sum(each[1][1] for each in chosen),
            sum(each[1][2] for each in chosen),
        )
        cost = (self._count_open(changed), price, tuple((position, design.key) for position, _, design in chosen))
        if self.best is None or cost < self.best:
            self.best = cost

    def _count_open(self, changed: _Groups) -> int:
        """Count the open mates that touch a changed position, and those between the part and what stays."""
        opened: set[tuple[str, frozenset[str]]] = set()
        for position, group in changed.items():
            for far, touch in self.problem.around.links(position):
                if far == self.problem.home:
                    split = self.problem.beside_part(touch.back)
                elif far in changed:
                    split = self.problem.around.beside_group(far, changed[far], touch.back)
                else:
                    split = self.problem.around.beside_unchanged(position, far, touch)
                if not (split.holds | split.breaks) >> group & 1:
                    opened.add((touch.mate.key, frozenset((position, far))))
        still = {pair for pair in self.problem.open_at_home if pair[1] not in changed}
        return len(opened) + len(still)


def _to_measure(problem: Problem, changes: tuple[Change, ...]) -> tuple[ToMeasure, ...]:
    """Name what would settle the open mates that touch the part or a changed one."""
    design = problem.catalogue.design
    fixed = {problem.home: problem.part, **{each.position: part_of_design(design[each.design]) for each in changes}}
    return tuple(
        dict.fromkeys(
            ask
            for position, part in fixed.items()
            for state in mate_states(
                problem.catalogue, part, Site(problem.site.model, position, problem.site.machine), problem.year, fixed
            )
            for ask in state.to_measure
        )
    )
