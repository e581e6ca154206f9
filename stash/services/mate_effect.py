"""What a mate would change before it is saved: verdicts on models and on one's own machines.

A mate decides by sizes and through companions, so every kind that mates join to its own, in any number of steps, may
get other verdicts; all of them are worked out without and with the change, and compared.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Mate
from stash.fit.table import VerdictTable
from stash.plan.facts import Stock
from stash.plan.judging import Judge
from stash.services.effects import Effect, own_changes, table_changes


def mate_effect(table: VerdictTable, judge: Judge, stock: Stock, old: Mate | None, new: Mate | None) -> Effect:
    """Work out what adding, changing or taking away a mate does.

    Args:
        table: All verdicts as they are.
        judge: Answers for the same catalogue.
        stock: What is owned.
        old: The mate as it stands; None when it is new.
        new: The mate as it would be; None when it is taken away.
    """
    before, after = table.catalogue, _with_mate(table.catalogue, old, new)
    moved = [mate for mate in (old, new) if mate is not None]
    own_kinds = {kind for mate in moved for kind in (mate.kind_a, mate.kind_b)}
    reached = _joined_to(own_kinds, (*before.mates, *after.mates))
    changes = tuple(table_changes(table, VerdictTable(after), reached))
    kinds = own_kinds | _resting_on(before, moved) | {before.design[each.design].kind for each in changes}
    models = {model for model, there in before.positions_of_kind.items() if own_kinds & there.keys()}
    own, cut = own_changes(judge, Judge(after), stock, models, kinds)
    return Effect(changes, own, cut=cut)


def _with_mate(catalogue: Catalogue, old: Mate | None, new: Mate | None) -> Catalogue:
    """Return the catalogue with the change; what rests on a mate follows it to another key, as it does when saved."""
    gone = {mate.key for mate in (old, new) if mate is not None}
    mates = tuple(mate for mate in catalogue.mates if mate.key not in gone)
    rules = catalogue.rules
    if old is not None and new is not None:
        rules = tuple(replace(each, because_mate=new.key) if each.because_mate == old.key else each for each in rules)
    return replace(catalogue, mates=(*mates, *([new] if new is not None else [])), rules=rules)


def _joined_to(kinds: Collection[str], mates: Iterable[Mate]) -> set[str]:
    """Return the kinds that mates join to some kinds, in any number of steps, and these kinds."""
    neighbours: dict[str, set[str]] = {}
    for mate in mates:
        neighbours.setdefault(mate.kind_a, set()).add(mate.kind_b)
        neighbours.setdefault(mate.kind_b, set()).add(mate.kind_a)
    reached, waiting = set(kinds), list(kinds)
    while waiting:
        fresh = neighbours.get(waiting.pop(), set()) - reached
        reached |= fresh
        waiting.extend(fresh)
    return reached


def _resting_on(catalogue: Catalogue, mates: Collection[Mate]) -> set[str]:
    """Return the kinds of the rules that are set aside where one of some mates says otherwise."""
    keys = {mate.key for mate in mates}
    return {catalogue.rulebook.kind_of(rule) for rule in catalogue.rules if rule.because_mate in keys}
