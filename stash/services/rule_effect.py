"""What a rule would change before it is saved: verdicts on models and on one's own machines, and what beats what.

Nothing is written and nothing is guessed: the verdicts without and with the change are both worked out, and compared.
"""

from __future__ import annotations

from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from dataclasses import replace

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Site
from stash.fit.facts import Rule
from stash.fit.refusals import refused_designs
from stash.fit.table import VerdictTable
from stash.kernel.years import segments
from stash.plan.facts import Stock
from stash.plan.judging import Judge
from stash.services.effects import Effect, own_changes, table_changes
from stash.services.rule_voices import voices


def silent(rule: Rule) -> Rule:
    """Return a rule that says nothing any more: one that names no target."""
    return replace(rule, model="", generation="", family="", maker="")


def rule_effect(table: VerdictTable, judge: Judge, stock: Stock, old: Rule | None, new: Rule | None) -> Effect:
    """Work out what adding, changing or taking away a rule does.

    Args:
        table: All verdicts as they are.
        judge: Answers for the same catalogue.
        stock: What is owned.
        old: The rule as it stands; None when it is new.
        new: The rule as it would be; None when it is taken away.
    """
    after, touched = table, set[tuple[str, str]]()
    steps = [silent(old)] if old is not None and (new is None or new.key != old.key) else []
    for step in [*steps, *([new] if new is not None else [])]:
        touched |= after.catalogue.rulebook.touched_by(step)
        after = after.with_rule(step)
    kinds = {kind for _, kind in touched}
    moved = _moved_kinds(table.catalogue, after.catalogue, touched)
    changes = tuple(table_changes(table, after, kinds | moved))
    second = Judge(after.catalogue)
    kinds |= {table.catalogue.design[each.design].kind for each in changes}
    own, cut = own_changes(judge, second, stock, {model for model, _ in touched}, kinds)
    heard, unheard = voices(second, judge, stock, new) if new is not None else ((), False)
    return Effect(changes, own, heard, cut or unheard)


def _moved_kinds(before: Catalogue, after: Catalogue, touched: AbstractSet[tuple[str, str]]) -> set[str]:
    """Return every kind on the models where what is refused outright differs, for there companions may differ too.

    Where nothing is refused that was not, and nothing allowed that was refused, no search for companions can end
    otherwise: then only the rule's own kind of part can get other verdicts.
    """
    return {
        kind
        for model, own in touched
        if any(
            refused_designs(before, own, site, year) != refused_designs(after, own, site, year)
            for site, year in _moments(before, after, model, own)
        )
        for kind in before.positions_of_kind[model]
    }


def _moments(before: Catalogue, after: Catalogue, model: str, kind: str) -> Iterator[tuple[Site, int | None]]:
    """Yield every position for a kind with a year for each stretch in which the same things are said outright."""
    row = before.model[model]
    for position in before.positions_of_kind[model].get(kind, ()):
        spans = [each.years for each in before.stock_rows[model].get(position, ())]
        spans += [rule.years for book in (before, after) for rule in book.rulebook.about(row, kind)]
        for years in segments(row.years, spans):
            yield Site(row, position), years.from_year if years.from_year is not None else years.to_year
