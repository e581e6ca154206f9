"""What is said outright about one design, wherever anything is, weighed with what the sizes say there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from stash.fit.beating import verdict_of, weigh
from stash.fit.catalogue import Catalogue
from stash.fit.claims import SIZES, Claim, Site, claim_of, factory_claims, part_of_design
from stash.fit.facts import Design, Rule
from stash.fit.scopes import Scope, Scopes
from stash.kernel.years import ALL_YEARS, Years, segments


class Cell(NamedTuple):
    """The verdict of a design at a position of a model, in some of the model's years."""

    verdict: str
    years: Years


Cells = tuple[Cell, ...]
"""The verdicts over a model's years in order; neighbours differ."""


class Target(NamedTuple):
    """A position of a model."""

    model: str
    position: str


class Said(NamedTuple):
    """The rules that speak of a design at a target, and whether stock rows do."""

    rules: tuple[Rule, ...] = ()
    factory: bool = False


_Wide = Mapping[Target, Said]
_Weighing = tuple[str, Target, tuple[int, ...], tuple[Cell, ...]]
"""Design, target, rules by identity, and what the sizes say."""
_MOST_KEPT = 2_000


class Outright:
    """Everything said outright in a catalogue, target by target.

    Args:
        catalogue: The facts.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._wide: dict[tuple[str, tuple[int, ...]], tuple[tuple[Rule, ...], _Wide]] = {}
        self._weighed: dict[_Weighing, tuple[tuple[Rule, ...], Cells]] = {}
        self._timeless: dict[tuple[tuple[int, ...], str, bool], tuple[tuple[Rule, ...], str]] = {}

    def moved_to(self, catalogue: Catalogue) -> Outright:
        """Return the same for a catalogue that differs in rules only; what is kept names its rules by identity."""
        moved = Outright(catalogue)
        moved._wide, moved._weighed, moved._timeless = self._wide, self._weighed, self._timeless
        return moved

    def about(self, design: Design) -> Mapping[Target, Said]:
        """Return what is said of a design, by rules or by what came on it, wherever anything is."""
        found = dict(self._by_wide_rules(design))
        for rule in self.catalogue.rules_by_design.get(design.key, ()):
            if rule.kind in {"", design.kind} and not rule.machine and _is_made_by(rule, design):
                for target in self._targets_about(rule, design.kind):
                    before = found.get(target, _NOTHING_SAID)
                    found[target] = before._replace(rules=(*before.rules, rule))
        for old in (design.key, *self.catalogue.forerunners.get(design.key, ())):
            for model, position in self.catalogue.came_on_places.get(old, ()):
                if self.catalogue.positions[model][position].kind == design.kind:
                    target = Target(model, position)
                    found[target] = found.get(target, _NOTHING_SAID)._replace(factory=True)
        return found

    def weighed(self, design: Design, target: Target, said: Said, sizes: tuple[Cell, ...]) -> Cells:
        """Weigh what is said outright with what the sizes say."""
        if not said.factory and all(rule.years == ALL_YEARS for rule in said.rules):
            return run_together(Cell(self._ever(design, target, said.rules, cell), cell.years) for cell in sizes)
        key: _Weighing = (design.key, target, tuple(map(id, said.rules)), sizes)
        known = self._weighed.get(key)
        if known is None:
            if len(self._weighed) >= _MOST_KEPT:
                self._weighed.clear()
            known = self._weighed[key] = (said.rules, run_together(self._weigh(design, target, said, sizes)))
        return known[1]

    def _weigh(self, design: Design, target: Target, said: Said, sizes: tuple[Cell, ...]) -> Iterator[Cell]:
        site = Site(self.catalogue.model[target.model], target.position)
        claims = [*factory_claims(self.catalogue, part_of_design(design), site), *map(claim_of, said.rules)]
        for cell in sizes:
            for years in segments(cell.years, (claim.scope.years for claim in claims)):
                year = years.from_year if years.from_year is not None else years.to_year
                spoken = [claim for claim in claims if year is None or claim.scope.years.contains(year)]
                yield Cell(self._verdict(design, site, spoken, Cell(cell.verdict, years)), years)

    def _ever(self, design: Design, target: Target, rules: tuple[Rule, ...], sizes: Cell) -> str:
        """The verdict where only rules for all years speak: the same wherever the sizes say the same."""
        model = self.catalogue.model[target.model]
        key = (tuple(map(id, rules)), sizes.verdict, model.years == ALL_YEARS)
        known = self._timeless.get(key)
        if known is None:
            if len(self._timeless) >= _MOST_KEPT:
                self._timeless.clear()
            verdict = self._verdict(design, Site(model, target.position), list(map(claim_of, rules)), sizes)
            known = self._timeless[key] = (rules, verdict)
        return known[1]

    def _verdict(self, design: Design, site: Site, spoken: Sequence[Claim], sizes: Cell) -> str:
        """Weigh the claims of a stretch of years with what the sizes say in it."""
        claims = [*spoken]
        if sizes.verdict in {"with_companions", "wont_fit"}:
            claims.append(_what_sizes_say(design, site, sizes))
        return verdict_of(weigh(Scopes(self.catalogue), claims)) if claims else sizes.verdict

    def _by_wide_rules(self, design: Design) -> _Wide:
        """Rules that name no design; parts of many makes share them."""
        rules = tuple(
            rule
            for rule in self.catalogue.rules_by_kind.get(design.kind, ())
            if not rule.machine and _is_made_by(rule, design)
        )
        key = (design.kind, tuple(id(rule) for rule in rules))
        known = self._wide.get(key)
        if known is None:
            found: dict[Target, list[Rule]] = defaultdict(list)
            for rule in rules:
                for target in self._targets_about(rule, design.kind):
                    found[target].append(rule)
            said = {target: Said(tuple(about)) for target, about in found.items()}
            known = self._wide[key] = (rules, said)
        return known[1]

    def _targets_about(self, rule: Rule, kind: str) -> Iterator[Target]:
        for model in self.catalogue.rulebook.models_about(rule):
            for position in self.catalogue.positions_of_kind[model.key].get(kind, ()):
                if rule.position in {"", position}:
                    yield Target(model.key, position)


_NOTHING_SAID = Said()


def run_together(cells: Iterable[Cell]) -> Cells:
    """Merge neighbours with one verdict."""
    merged: list[Cell] = []
    for cell in cells:
        if merged and merged[-1].verdict == cell.verdict:
            merged[-1] = Cell(cell.verdict, Years(merged[-1].years.from_year, cell.years.to_year))
        else:
            merged.append(cell)
    return tuple(merged)


def _what_sizes_say(design: Design, site: Site, sizes: Cell) -> Claim:
    year = sizes.years.from_year if sizes.years.from_year is not None else sizes.years.to_year
    dated = site.model.years != ALL_YEARS and year is not None
    scope = Scope(
        design=design.key,
        kind=design.kind,
        model=site.model.key,
        position=site.position,
        years=Years(year, year) if dated else ALL_YEARS,
    )
    return Claim(sizes.verdict, "measured", SIZES, SIZES, scope)


def _is_made_by(rule: Rule, design: Design) -> bool:
    return rule.part_maker in {"", design.maker} and rule.part_generation in {"", design.generation}
