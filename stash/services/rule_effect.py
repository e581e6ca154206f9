"""What a rule would change before it is saved: verdicts on models and on one's own machines, and what beats what.

Nothing is written and nothing is guessed: the verdicts without and with the change are both worked out, and compared.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site, part_of_lot
from stash.fit.facts import Fitted, Machine, Rule
from stash.fit.outright import Cells
from stash.fit.refusals import refused_designs
from stash.fit.table import VerdictTable
from stash.kernel.tables import VERDICTS
from stash.kernel.years import Years, segments
from stash.plan.facts import Stock
from stash.plan.judging import Judge
from stash.plan.spots import part_signature
from stash.services.rule_voices import Voice, voices

_MOST_JUDGED = 4_000
"""Parts on positions of machines that are judged for one preview. Source: project decision, a few seconds."""


@dataclass(frozen=True, slots=True)
class Change:
    """One verdict that would differ.

    Args:
        design: The design.
        model: Where.
        position: At which position.
        years: In which years of the model.
        before: The verdict now.
        after: The verdict it would be.
    """

    design: str
    model: str
    position: str
    years: Years
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class OwnChange:
    """A verdict that would differ on one of one's own machines.

    Args:
        machine: The machine.
        position: At which position.
        design: The design of the part, "" when nobody knows.
        lots: Loose lots of that part.
        fitted: The machine carries it there now.
        before: The verdict now.
        after: The verdict it would be.
    """

    machine: Machine
    position: str
    design: str
    lots: tuple[str, ...]
    fitted: bool
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Effect:
    """What a change of a rule does.

    Args:
        changes: Verdicts on models, in order of design and of models.
        own: Verdicts on one's own machines, in order of machine.
        voices: What becomes of the rule, most places first; empty when it is taken away.
        cut: Not every machine or place was looked at, because there are too many.
    """

    changes: tuple[Change, ...]
    own: tuple[OwnChange, ...] = ()
    voices: tuple[Voice, ...] = ()
    cut: bool = False

    @property
    def groups(self) -> dict[tuple[str, str], tuple[Change, ...]]:
        """``{(before, after): changes}``, what gets worst first: that is what needs a look."""
        found: dict[tuple[str, str], list[Change]] = {}
        for change in self.changes:
            found.setdefault((change.before, change.after), []).append(change)
        order = sorted(found, key=lambda pair: (-VERDICTS.index(pair[1]), VERDICTS.index(pair[0])))
        return {pair: tuple(found[pair]) for pair in order}

    @property
    def lots(self) -> tuple[str, ...]:
        """Codes of the loose lots concerned."""
        return tuple(dict.fromkeys(code for change in self.own for code in change.lots))

    @property
    def machines(self) -> tuple[str, ...]:
        """Codes of the machines concerned."""
        return tuple(dict.fromkeys(change.machine.code for change in self.own))


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
    own, cut = _own_changes(judge, second, stock, {model for model, _ in touched}, kinds)
    heard, unheard = voices(second, judge, stock, new) if new is not None else ((), False)
    return Effect(changes, own, heard, cut or unheard)


def table_changes(before: VerdictTable, after: VerdictTable, kinds: AbstractSet[str]) -> Iterator[Change]:
    """Yield every verdict on parts of some kinds that differs between two tables of the same designs and positions."""
    for design, row in before.catalogue.design.items():
        if row.kind not in kinds:
            continue
        old, new = before.row(design), after.row(design)
        for model, position, was, now in zip(old.models, old.positions, old.cells, new.cells, strict=True):
            if was is not now and was != now:
                yield from (Change(design, model, position, *each) for each in _differing(was, now))


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


def _differing(was: Cells, now: Cells) -> Iterator[tuple[Years, str, str]]:
    for old in was:
        for new in now:
            years = old.years.common(new.years)
            if years is not None and old.verdict != new.verdict:
                yield years, old.verdict, new.verdict


def _own_changes(
    before: Judge, after: Judge, stock: Stock, models: set[str], kinds: set[str]
) -> tuple[tuple[OwnChange, ...], bool]:
    catalogue = before.catalogue
    loose = _loose_parts(catalogue, stock, kinds)
    found: list[OwnChange] = []
    judged = 0
    for machine in sorted(stock.machines.values(), key=lambda each: each.code):
        if machine.state == "gone" or machine.model not in models:
            continue
        for position, row in catalogue.positions[machine.model].items():
            if row.kind not in kinds:
                continue
            for part, codes, fitted in _parts_for(catalogue, machine, position, loose[row.kind]):
                judged += 1
                if judged > _MOST_JUDGED:
                    return tuple(found), True
                was = before.on_machine(part, machine, position).verdict
                now = after.on_machine(part, machine, position).verdict
                if was != now:
                    found.append(OwnChange(machine, position, part.design, codes, fitted, was, now))
    return tuple(found), False


_Loose = tuple[Part, tuple[str, ...]]


def _loose_parts(catalogue: Catalogue, stock: Stock, kinds: set[str]) -> Mapping[str, Sequence[_Loose]]:
    """``{kind: (part, codes of the lots that are such parts)}`` for some kinds; kinds without any are there too."""
    found: dict[str, dict[object, tuple[Part, list[str]]]] = {kind: {} for kind in kinds}
    for lot in sorted(stock.lots.values(), key=lambda each: each.code):
        if lot.quantity and lot.kind in kinds:
            part = part_of_lot(catalogue, lot)
            found[lot.kind].setdefault(part_signature(part), (part, []))[1].append(lot.code)
    return {kind: [(part, tuple(codes)) for part, codes in parts.values()] for kind, parts in found.items()}


def _parts_for(
    catalogue: Catalogue, machine: Machine, position: str, loose: Sequence[_Loose]
) -> Iterator[tuple[Part, tuple[str, ...], bool]]:
    """Yield the loose parts for a position, and the known part that it carries, with whether it is carried."""
    carried = machine.fitted.get(position)
    own = part_of_fitted(catalogue, carried) if carried is not None and carried.state == "present" else None
    signature = part_signature(own) if own is not None else None
    if own is not None and all(part_signature(part) != signature for part, _ in loose):
        yield own, (), True
    for part, codes in loose:
        yield part, codes, part_signature(part) == signature


def part_of_fitted(catalogue: Catalogue, carried: Fitted) -> Part | None:
    """Return the part a machine carries, with what was measured on it; None when nobody knows which it is."""
    design = catalogue.design.get(carried.design)
    if design is None:
        return None
    return Part(design.kind, design.key, "", {**design.values, **carried.values}, frozenset(carried.values))
