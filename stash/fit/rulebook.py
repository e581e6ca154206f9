"""The rules of a catalogue, found by the part they name, by their kind, and by what they are about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from copy import copy
from typing import TypeVar

from stash.fit.facts import Design, Generation, Model, Rule
from stash.fit.grouping import grouped

_TARGETS = ("model", "generation", "family", "maker")
"""The target columns of a rule, narrowest first."""
_Key = TypeVar("_Key")
_Aim = tuple[str, str]
"""A target column and what stands in it."""


class RuleBook:
    """Rules with their indexes; every list in order of key. One that names no target says nothing.

    Args:
        rules: The rules, in any order.
        models: Models by key.
        generations: Generations by key.
        designs: Designs by key.
    """

    def __init__(
        self,
        rules: Iterable[Rule],
        models: Mapping[str, Model],
        generations: Mapping[str, Generation],
        designs: Mapping[str, Design],
    ) -> None:
        self._models = models
        self._generations = generations
        self._designs = designs
        self._models_of: dict[tuple[str, str], list[Model]] = defaultdict(list)
        for model in models.values():
            for column, key in self._names(model):
                self._models_of[column, key].append(model)
        self.refused_by: dict[tuple[int, ...], tuple[tuple[Rule, ...], frozenset[str]]] = {}
        """``{identities of rules that name no design: (those rules, designs they refuse)}``, filled as asked for."""
        self.rules = tuple({rule.key: rule for rule in rules}.values())
        self._place_of = {rule.key: place for place, rule in enumerate(self.rules)}
        aimed = sorted((rule for rule in self.rules if self._aimed_at(rule)), key=lambda rule: rule.key)
        self.by_design = grouped((rule.design, rule) for rule in aimed if rule.design)
        self.by_kind = grouped((rule.kind, rule) for rule in aimed if not rule.design)
        self.by_target: dict[str, dict[_Aim, tuple[Rule, ...]]] = {
            kind: grouped((self._aim(rule), rule) for rule in rules)
            for kind, rules in grouped((self.kind_of(rule), rule) for rule in aimed).items()
        }

    def rule(self, key: str) -> Rule | None:
        """Return the rule of that key, None when there is none."""
        place = self._place_of.get(key)
        return None if place is None else self.rules[place]

    def with_rule(self, rule: Rule) -> RuleBook:
        """Return the book with one rule added, or put in the place of the one with its key."""
        book = copy(self)
        book.by_design, book.by_kind = dict(self.by_design), dict(self.by_kind)
        book.by_target = dict(self.by_target)
        book.put(rule)
        return book

    def put(self, rule: Rule) -> None:
        """Add one rule to this book itself, or put it in the place of the one with its key; not to a shared book."""
        old = self.rule(rule.key)
        for row, change in ((old, _remove), (rule, _insert)):
            if row is not None and self._aimed_at(row):
                kind = self.kind_of(row)
                self.by_target[kind] = dict(self.by_target.get(kind, {}))
                change(self.by_target[kind], self._aim(row), row)
                change(self.by_design if row.design else self.by_kind, row.design or row.kind, row)
        if old is None:
            self._place_of = {**self._place_of, rule.key: len(self.rules)}
        place = self._place_of[rule.key]
        rules = list(self.rules)
        rules[place : place + 1] = [rule]
        self.rules = tuple(rules)

    def touched_by(self, rule: Rule) -> set[tuple[str, str]]:
        """Return (model, kind of part) wherever a rule may change something, also by replacing the one with its key."""
        changed = [each for each in (self.rule(rule.key), rule) if each is not None]
        return {(model.key, self.kind_of(each)) for each in changed for model in self.models_about(each)}

    def about(self, model: Model, kind: str) -> Iterator[Rule]:
        """Yield the rules about parts of a kind whose target columns are the model's, in any position and year."""
        aimed = self.by_target.get(kind, {})
        for name in self._names(model):
            for rule in aimed.get(name, ()):
                if self.is_about(rule, model):
                    yield rule

    def models_about(self, rule: Rule) -> Iterator[Model]:
        """Yield the models that a rule's target columns match, in the order models are shown."""
        column = self._aimed_at(rule)
        for model in self._models_of.get((column, getattr(rule, column)), ()) if column else ():
            if self.is_about(rule, model):
                yield model

    def is_about(self, rule: Rule, model: Model) -> bool:
        """Tell whether a rule's model, generation, family and maker, as far as filled, are the model's."""
        return (
            rule.model in {"", model.key}
            and rule.generation in {"", model.generation}
            and rule.maker in {"", model.maker}
            and (not rule.family or rule.family == self._family(model))
        )

    def kind_of(self, rule: Rule) -> str:
        """Return the kind of part a rule is about, "" when it names a design that nobody knows."""
        if not rule.design:
            return rule.kind
        design = self._designs.get(rule.design)
        return design.kind if design else ""

    def _aim(self, rule: Rule) -> _Aim:
        column = self._aimed_at(rule)
        return (column, getattr(rule, column))

    def _aimed_at(self, rule: Rule) -> str:
        """Return the narrowest target column a rule fills, "" when it fills none."""
        return next((name for name in _TARGETS if getattr(rule, name)), "")

    def _names(self, model: Model) -> tuple[tuple[str, str], ...]:
        family = self._family(model)
        return tuple(zip(_TARGETS, (model.key, model.generation, family, model.maker), strict=True))

    def _family(self, model: Model) -> str:
        generation = self._generations.get(model.generation)
        return generation.family if generation else ""


def _remove(index: dict[_Key, tuple[Rule, ...]], key: _Key, rule: Rule) -> None:
    index[key] = tuple(each for each in index[key] if each.key != rule.key)


def _insert(index: dict[_Key, tuple[Rule, ...]], key: _Key, rule: Rule) -> None:
    index[key] = tuple(sorted((*index.get(key, ()), rule), key=lambda each: each.key))
