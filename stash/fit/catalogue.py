"""The facts of the trade with the indexes a verdict needs.

Everything derived is computed once, on first use, from the tuples; the order of rows never matters.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from stash.fit.facts import (
    CameOn,
    Design,
    Family,
    Generation,
    Kind,
    Maker,
    Mate,
    Measure,
    Model,
    Number,
    PositionRow,
    Rule,
    SamePart,
)
from stash.fit.grouping import grouped
from stash.fit.pairing import Pairings
from stash.fit.replacing import forerunners, with_same_parts
from stash.fit.rulebook import RuleBook
from stash.fit.touching import Touch
from stash.kernel.numbers import canonical_number
from stash.kernel.years import Years


@dataclass(frozen=True, slots=True)
class Position:
    """A position of one model, after the model's rows have overridden its generation's."""

    name: str
    kind: str
    quantity: int


@dataclass(frozen=True)
class Catalogue:
    """Everything known about makers, models, designs, mates and rules.

    Args are tuples of the facts, in any order; ``measures`` are keyed by (kind, key).
    """

    makers: tuple[Maker, ...] = ()
    families: tuple[Family, ...] = ()
    generations: tuple[Generation, ...] = ()
    models: tuple[Model, ...] = ()
    kinds: tuple[Kind, ...] = ()
    measures: tuple[Measure, ...] = ()
    designs: tuple[Design, ...] = ()
    numbers: tuple[Number, ...] = ()
    position_rows: tuple[PositionRow, ...] = ()
    came_on: tuple[CameOn, ...] = ()
    mates: tuple[Mate, ...] = ()
    rules: tuple[Rule, ...] = ()
    same_parts: tuple[SamePart, ...] = ()

    @cached_property
    def maker(self) -> Mapping[str, Maker]:
        """Makers by key."""
        return {row.key: row for row in self.makers}

    @cached_property
    def family(self) -> Mapping[str, Family]:
        """Families by key."""
        return {row.key: row for row in self.families}

    @cached_property
    def generation(self) -> Mapping[str, Generation]:
        """Generations by key."""
        return {row.key: row for row in self.generations}

    @cached_property
    def model(self) -> Mapping[str, Model]:
        """Models by key, in the order they are shown: family, generation, maker, name."""
        ordered = sorted(self.models, key=self._model_order)
        return {row.key: row for row in ordered}

    @cached_property
    def kind(self) -> Mapping[str, Kind]:
        """Kinds by key."""
        return {row.key: row for row in sorted(self.kinds, key=lambda row: row.key)}

    @cached_property
    def measure(self) -> Mapping[tuple[str, str], Measure]:
        """Measures by (kind, key)."""
        return {(row.kind, row.key): row for row in self.measures}

    @cached_property
    def design(self) -> Mapping[str, Design]:
        """Designs by key, in order of key."""
        return {row.key: row for row in sorted(self.designs, key=lambda row: row.key)}

    @cached_property
    def mate(self) -> Mapping[str, Mate]:
        """Mates by key."""
        return {row.key: row for row in self.mates}

    @cached_property
    def designs_of_kind(self) -> Mapping[str, tuple[Design, ...]]:
        """``{kind: designs}`` in order of key."""
        groups: dict[str, list[Design]] = defaultdict(list)
        for design in self.design.values():
            groups[design.kind].append(design)
        return {kind: tuple(rows) for kind, rows in groups.items()}

    @cached_property
    def designs_by_make(self) -> Mapping[str, Mapping[tuple[str, str], tuple[Design, ...]]]:
        """``{kind: {(maker, generation): designs}}``."""
        return {
            kind: grouped(((row.maker, row.generation), row) for row in designs)
            for kind, designs in self.designs_of_kind.items()
        }

    @cached_property
    def positions(self) -> Mapping[str, Mapping[str, Position]]:
        """``{model: {position: Position}}``; a model's row overrides its generation's, quantity 0 removes it."""
        by_generation: dict[str, dict[str, PositionRow]] = defaultdict(dict)
        by_model: dict[str, dict[str, PositionRow]] = defaultdict(dict)
        for row in self.position_rows:
            (by_model[row.model] if row.model else by_generation[row.generation])[row.position] = row
        sheets: dict[str, Mapping[str, Position]] = {}
        for model in self.models:
            rows = {**by_generation.get(model.generation, {}), **by_model.get(model.key, {})}
            sheets[model.key] = {
                name: Position(name, rows[name].kind, rows[name].quantity)
                for name in sorted(rows)
                if rows[name].quantity > 0
            }
        return sheets

    @cached_property
    def positions_of_kind(self) -> Mapping[str, Mapping[str, tuple[str, ...]]]:
        """``{model: {kind: position names}}`` in order of name."""
        answer: dict[str, Mapping[str, tuple[str, ...]]] = {}
        for model, sheet in self.positions.items():
            groups: dict[str, list[str]] = defaultdict(list)
            for position in sheet.values():
                groups[position.kind].append(position.name)
            answer[model] = {kind: tuple(names) for kind, names in groups.items()}
        return answer

    @cached_property
    def models_with_kind(self) -> Mapping[str, tuple[str, ...]]:
        """``{kind: models that have a position for it}`` in the order models are shown."""
        groups: dict[str, list[str]] = defaultdict(list)
        for model in self.model:
            for kind in self.positions_of_kind[model]:
                groups[kind].append(model)
        return {kind: tuple(names) for kind, names in groups.items()}

    @cached_property
    def stock_rows(self) -> Mapping[str, Mapping[str, tuple[CameOn, ...]]]:
        """``{model: {position: rows}}``; a model's own rows for a position replace its generation's.

        Rows of a design of another kind than the position's are left out (``health`` names them).
        """
        by_generation: dict[str, dict[str, list[CameOn]]] = defaultdict(lambda: defaultdict(list))
        by_model: dict[str, dict[str, list[CameOn]]] = defaultdict(lambda: defaultdict(list))
        for row in sorted(self.came_on, key=_came_on_order):
            (by_model[row.model] if row.model else by_generation[row.generation])[row.position].append(row)
        sheets: dict[str, Mapping[str, tuple[CameOn, ...]]] = {}
        for model in self.models:
            rows = {**by_generation.get(model.generation, {}), **by_model.get(model.key, {})}
            sheet = self.positions[model.key]
            sheets[model.key] = {
                name: tuple(row for row in found if self._kind_of(row.design) == sheet[name].kind)
                for name, found in rows.items()
                if name in sheet
            }
        return sheets

    @cached_property
    def touches(self) -> Mapping[str, tuple[Touch, ...]]:
        """``{kind: mates seen from its side}`` in order of mate key; a mate of a kind with itself stands twice."""
        groups: dict[str, list[Touch]] = defaultdict(list)
        for mate in sorted(self.mates, key=lambda row: row.key):
            groups[mate.kind_a].append(Touch(mate, is_a=True))
            groups[mate.kind_b].append(Touch(mate, is_a=False))
        return {kind: tuple(rows) for kind, rows in groups.items()}

    @cached_property
    def pairings(self) -> Pairings:
        """Which groups of designs go together, filled as questions are asked."""
        return Pairings(self.designs_of_kind, self.touches)

    @cached_property
    def rulebook(self) -> RuleBook:
        """The rules with their indexes."""
        return RuleBook(self.rules, self.model, self.generation, self.design)

    @property
    def rules_by_design(self) -> Mapping[str, tuple[Rule, ...]]:
        """``{design: rules that name it}`` in order of key."""
        return self.rulebook.by_design

    @property
    def rules_by_kind(self) -> Mapping[str, tuple[Rule, ...]]:
        """``{kind: rules that name the kind and no design}`` in order of key."""
        return self.rulebook.by_kind

    def is_about(self, rule: Rule, model: Model) -> bool:
        """Tell whether a rule's model, generation, family and maker, as far as filled, are the model's."""
        return self.rulebook.is_about(rule, model)

    def with_rule(self, rule: Rule) -> Catalogue:
        """Return the catalogue with one rule added, or put in the place of the one with its key.

        What was derived from other facts is kept; only models the rule is about, before or now, forget their refusals
        of its kind of part. Other threads may ask this catalogue meanwhile: what they fill is copied, then walked.
        """
        book = self.rulebook.with_rule(rule)
        changed = replace(self, rules=book.rules)
        kept = {name: value for name, value in self.__dict__.copy().items() if name not in changed.__dict__}
        refusals = dict(self.refusals)
        for model, kind in self.rulebook.touched_by(rule):
            if model in refusals:
                refusals[model] = {key: rows for key, rows in refusals[model].copy().items() if key[1] != kind}
        changed.__dict__.update({**kept, "rulebook": book, "refusals": refusals})
        return changed

    @cached_property
    def refusals(self) -> dict[str, dict[tuple[str, str, int | None], frozenset[str]]]:
        """``{model: {(position, kind, year): designs refused outright}}``, filled as questions are asked."""
        return {}

    @cached_property
    def came_on_places(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        """``{design: (model, position) it came on in some years}``."""
        places = (
            (row.design, (model, position))
            for model, sheet in self.stock_rows.items()
            for position, rows in sheet.items()
            for row in rows
        )
        return {design: tuple(dict.fromkeys(found)) for design, found in grouped(places).items()}

    @cached_property
    def numbers_of(self) -> Mapping[str, tuple[Number, ...]]:
        """``{design: its numbers}`` in order of number."""
        ordered = sorted(self.numbers, key=lambda row: (row.number, row.maker))
        return grouped((row.design, row) for row in ordered if row.design)

    @cached_property
    def numbers_by_text(self) -> Mapping[str, tuple[Number, ...]]:
        """``{canonical number: rows}``; two makers may use one number for different parts."""
        ordered = sorted(self.numbers, key=lambda row: (row.maker, row.number))
        return grouped((str(canonical_number(row.number)), row) for row in ordered)

    @cached_property
    def forerunners(self) -> Mapping[str, frozenset[str]]:
        """``{design: designs it replaces}``, in any number of steps, itself not among them.

        One that a standard makes the same part as another replaces it, and what it replaces.

        Raises:
            BadCatalogue: A number leads back to itself.
        """
        return with_same_parts(forerunners(self.numbers), self.same_parts)

    @cached_property
    def same_part(self) -> Mapping[str, SamePart]:
        """``{design: the standard part it is}``, of those that are the same part as another."""
        return {design: row for row in self.same_parts for design in row.designs}

    @cached_property
    def successors(self) -> Mapping[str, frozenset[str]]:
        """``{design: designs that replace it}``, in any number of steps."""
        pairs = ((old, new) for new, older in self.forerunners.items() for old in older)
        return {old: frozenset(newer) for old, newer in grouped(pairs).items()}

    def _kind_of(self, design: str) -> str:
        known = self.design.get(design)
        return known.kind if known else ""

    def _model_order(self, model: Model) -> tuple[str, int, str, str, str]:
        generation = self.generation.get(model.generation)
        place = (generation.family, generation.ordinal) if generation else ("", 0)
        return (*place, model.maker, model.name, model.key)


def _came_on_order(row: CameOn) -> tuple[str, str, str, str, tuple[int, int]]:
    return (row.position, row.model, row.generation, row.design, years_order(row.years))


def years_order(years: Years) -> tuple[int, int]:
    """Return what sorts spans of years: open ends are the earliest beginning and the latest end."""
    return (years.from_year or 0, years.to_year or 9999)
