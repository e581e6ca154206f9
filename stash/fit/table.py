"""Every design on every model at once: what the chart, the search and the shelf ask for.

The plain judge of ``verdicts`` is the reference and explains; the table gives the same verdicts for the same years and
no reasons. What the sizes say comes from frames that models share, what is said outright is laid over it cell by cell.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from stash.fit.beating import verdict_of, weigh
from stash.fit.catalogue import Catalogue
from stash.fit.claims import SIZES, Claim, Site, claim_of, factory_claims, part_of_design
from stash.fit.facts import Design, Rule
from stash.fit.frames import LIKELY, NOTHING, WITH_COMPANIONS, WONT_FIT, Frame, Frames
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


@dataclass(frozen=True)
class Row:
    """One design on every position that takes its kind.

    Args:
        design: Its key.
        targets: The positions, in the order models are shown.
        cells: What is found at each, in the same order.
    """

    design: str
    targets: tuple[Target, ...]
    cells: tuple[Cells, ...]

    def items(self) -> Iterator[tuple[Target, Cells]]:
        """Yield each target with its cells."""
        return zip(self.targets, self.cells, strict=True)


_SAID = {LIKELY: "likely", WITH_COMPANIONS: "with_companions", WONT_FIT: "wont_fit", NOTHING: "unknown"}


_Weighing = tuple[tuple[int, ...], tuple[tuple[Years, int], ...]]
"""Which rules are weighed, by identity, with what the sizes say in which years."""
_MOST_KEPT = 20_000


class VerdictTable:
    """All verdicts of a catalogue, worked out as they are asked for and kept where they can be shared.

    Args:
        catalogue: The facts.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._frames = Frames(catalogue)
        self._of_model: dict[str, tuple[tuple[Years, Frame], ...]] = {}
        self._targets: dict[str, tuple[Target, ...]] = {}
        self._wide: dict[tuple[str, str, str], Mapping[Target, tuple[Rule, ...]]] = {}
        self._weighed: dict[_Weighing, tuple[tuple[Rule, ...], Cells]] = {}
        self._plain: dict[tuple[tuple[int, ...], Years | str], Cells] = {}

    def rows(self) -> Iterator[Row]:
        """Yield the row of every design, in order of key."""
        return (self.row(design) for design in self.catalogue.design)

    def row(self, design: str) -> Row:
        """Return one design on every position that takes its kind.

        Raises:
            KeyError: There is no such design.
        """
        part = self.catalogue.design[design]
        targets = self._targets_of(part.kind)
        group = self.catalogue.pairings.groups(part.kind).group_of[design]
        outright = self._outright(part)
        cells = tuple(
            self._laid_over(part, target, group, outright[target])
            if target in outright
            else self._by_sizes(target, group)
            for target in targets
        )
        return Row(design, targets, cells)

    def cell(self, design: str, model: str, position: str) -> Cells:
        """Return one design at one position of one model."""
        row = self.row(design)
        return row.cells[row.targets.index(Target(model, position))]

    def with_rule(self, rule: Rule) -> VerdictTable:
        """Return the table with one rule added, or put in the place of the one with its key."""
        book = self.catalogue.rulebook
        changed = [each for each in (book.rule.get(rule.key), rule) if each is not None]
        table = VerdictTable(self.catalogue.with_rule(rule))
        touched = {model.key for each in changed for model in book.models_about(each)}
        table._frames = self._frames.moved_to(table.catalogue)
        table._of_model = {model: frames for model, frames in self._of_model.items() if model not in touched}
        table._targets = self._targets
        kinds = {book.kind_of(each) for each in changed if not each.design}
        table._wide = {key: rules for key, rules in self._wide.items() if key[0] not in kinds}
        table._weighed = self._weighed
        table._plain = {key: cells for key, cells in self._plain.items() if key[1] not in touched}
        return table

    def _targets_of(self, kind: str) -> tuple[Target, ...]:
        known = self._targets.get(kind)
        if known is None:
            known = self._targets[kind] = tuple(
                Target(model, position)
                for model in self.catalogue.models_with_kind.get(kind, ())
                for position in self.catalogue.positions_of_kind[model][kind]
            )
        return known

    def _frames_of(self, model: str) -> tuple[tuple[Years, Frame], ...]:
        known = self._of_model.get(model)
        if known is None:
            known = self._of_model[model] = self._frames.of(self.catalogue.model[model])
        return known

    def _by_sizes(self, target: Target, group: int) -> Cells:
        """Where nothing is said outright: what the sizes say, in the years of the model."""
        frames = self._frames_of(target.model)
        codes = tuple(frame.say(target.position, group) for _, frame in frames)
        key = (codes, frames[0][0] if len(frames) == 1 else target.model)
        known = self._plain.get(key)
        if known is None:
            cells = (Cell(_SAID[code], years) for code, (years, _) in zip(codes, frames, strict=True))
            known = self._plain[key] = _run_together(cells)
        return known

    def _outright(self, design: Design) -> Mapping[Target, tuple[Rule, ...]]:
        """``{target: rules}`` wherever anything is said of a design, by rules or by what came on it."""
        found = dict(self._wide_rules(design))
        for rule in self.catalogue.rules_by_design.get(design.key, ()):
            if rule.kind in {"", design.kind} and not rule.machine and _is_made_by(rule, design):
                for target in self._targets_about(rule, design.kind):
                    found[target] = (*found.get(target, ()), rule)
        for old in (design.key, *self.catalogue.forerunners.get(design.key, ())):
            for model, position in self.catalogue.came_on_places.get(old, ()):
                found.setdefault(Target(model, position), ())
        return found

    def _wide_rules(self, design: Design) -> Mapping[Target, tuple[Rule, ...]]:
        """Rules that name no design, for one kind, maker and generation of part."""
        key = (design.kind, design.maker, design.generation)
        known = self._wide.get(key)
        if known is None:
            found: dict[Target, list[Rule]] = defaultdict(list)
            for rule in self.catalogue.rules_by_kind.get(design.kind, ()):
                if not rule.machine and _is_made_by(rule, design):
                    for target in self._targets_about(rule, design.kind):
                        found[target].append(rule)
            known = self._wide[key] = {target: tuple(rules) for target, rules in found.items()}
        return known

    def _targets_about(self, rule: Rule, kind: str) -> Iterator[Target]:
        for model in self.catalogue.rulebook.models_about(rule):
            for position in self.catalogue.positions_of_kind[model.key].get(kind, ()):
                if rule.position in {"", position}:
                    yield Target(model.key, position)

    def _laid_over(self, design: Design, target: Target, group: int, rules: tuple[Rule, ...]) -> Cells:
        """What is said outright weighed with what the sizes say.

        Where only rules that name no design speak, many cells are weighed from the same things, and kept.
        """
        sizes = tuple((years, frame.say(target.position, group)) for years, frame in self._frames_of(target.model))
        site = Site(self.catalogue.model[target.model], target.position)
        factory = tuple(factory_claims(self.catalogue, part_of_design(design), site))
        if factory or any(rule.design for rule in rules):
            return _run_together(self._weigh(design, site, [*factory, *map(claim_of, rules)], sizes))
        key = (tuple(id(rule) for rule in rules), sizes)
        known = self._weighed.get(key)
        if known is None:
            if len(self._weighed) >= _MOST_KEPT:
                self._weighed.clear()
            cells = _run_together(self._weigh(design, site, list(map(claim_of, rules)), sizes))
            known = self._weighed[key] = (rules, cells)
        return known[1]

    def _weigh(
        self, design: Design, site: Site, claims: list[Claim], sizes: tuple[tuple[Years, int], ...]
    ) -> Iterator[Cell]:
        scopes = Scopes(self.catalogue)
        for stretch, code in sizes:
            for years in segments(stretch, (claim.scope.years for claim in claims)):
                year = years.from_year if years.from_year is not None else years.to_year
                spoken = [claim for claim in claims if year is None or claim.scope.years.contains(year)]
                if code in {WITH_COMPANIONS, WONT_FIT}:
                    spoken.append(_what_sizes_say(design, site, year, _SAID[code]))
                yield Cell(verdict_of(weigh(scopes, spoken)) if spoken else _SAID[code], years)


def _what_sizes_say(design: Design, site: Site, year: int | None, verdict: str) -> Claim:
    dated = site.model.years != ALL_YEARS and year is not None
    scope = Scope(
        design=design.key,
        kind=design.kind,
        model=site.model.key,
        position=site.position,
        years=Years(year, year) if dated else ALL_YEARS,
    )
    return Claim(verdict, "measured", SIZES, SIZES, scope)


def _is_made_by(rule: Rule, design: Design) -> bool:
    return rule.part_maker in {"", design.maker} and rule.part_generation in {"", design.generation}


def _run_together(cells: Iterable[Cell]) -> Cells:
    """Merge neighbours with one verdict."""
    merged: list[Cell] = []
    for cell in cells:
        if merged and merged[-1].verdict == cell.verdict:
            merged[-1] = Cell(cell.verdict, Years(merged[-1].years.from_year, cell.years.to_year))
        else:
            merged.append(cell)
    return tuple(merged)
