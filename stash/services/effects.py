"""What a change of the catalogue does before it is saved: verdicts on models and on one's own machines, compared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.checks import fitted_part
from stash.fit.claims import Part, part_of_lot
from stash.fit.facts import Machine
from stash.fit.outright import Cells
from stash.fit.table import VerdictTable
from stash.kernel.tables import VERDICTS
from stash.kernel.years import Years
from stash.plan.facts import Stock
from stash.plan.judging import Judge
from stash.plan.spots import part_signature
from stash.services.rule_voices import Voice

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
    """What a change of the catalogue does.

    Args:
        changes: Verdicts on models, in order of design and of models.
        own: Verdicts on one's own machines, in order of machine.
        voices: What becomes of a rule, most places first; empty when it is taken away, and for a mate.
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


def table_changes(before: VerdictTable, after: VerdictTable, kinds: AbstractSet[str]) -> Iterator[Change]:
    """Yield every verdict on parts of some kinds that differs between two tables of the same designs and positions."""
    for design, row in before.catalogue.design.items():
        if row.kind not in kinds:
            continue
        old, new = before.row(design), after.row(design)
        for model, position, was, now in zip(old.models, old.positions, old.cells, new.cells, strict=True):
            if was is not now and was != now:
                yield from (Change(design, model, position, *each) for each in _differing(was, now))


def _differing(was: Cells, now: Cells) -> Iterator[tuple[Years, str, str]]:
    for old in was:
        for new in now:
            years = old.years.common(new.years)
            if years is not None and old.verdict != new.verdict:
                yield years, old.verdict, new.verdict


def own_changes(
    before: Judge, after: Judge, stock: Stock, models: AbstractSet[str], kinds: AbstractSet[str]
) -> tuple[tuple[OwnChange, ...], bool]:
    """Compare the verdicts of two catalogues on one's own machines.

    Args:
        before: Answers for the catalogue as it is.
        after: Answers for the catalogue as it would be; of the same designs and positions.
        stock: What is owned.
        models: Only machines of these.
        kinds: Only parts of these kinds.

    Returns:
        What differs, in order of machine; and whether there is more to judge than was looked at.
    """
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


def _loose_parts(catalogue: Catalogue, stock: Stock, kinds: AbstractSet[str]) -> Mapping[str, Sequence[_Loose]]:
    """``{kind: (part, codes of the lots that are such parts)}`` for some kinds; kinds without any are there too."""
    found: dict[str, dict[object, tuple[Part, list[str]]]] = {kind: {} for kind in kinds}
    for lot in stock.loose:
        if lot.kind in kinds:
            part = part_of_lot(catalogue, lot)
            found[lot.kind].setdefault(part_signature(part), (part, []))[1].append(lot.code)
    return {kind: [(part, tuple(codes)) for part, codes in parts.values()] for kind, parts in found.items()}


def _parts_for(
    catalogue: Catalogue, machine: Machine, position: str, loose: Sequence[_Loose]
) -> Iterator[tuple[Part, tuple[str, ...], bool]]:
    """Yield the loose parts for a position, and the known part that it carries, with whether it is carried."""
    carried = machine.fitted.get(position)
    known = carried is not None and carried.state == "present" and carried.design in catalogue.design
    own = fitted_part(catalogue, machine, position) if known else None
    signature = part_signature(own) if own is not None else None
    if own is not None and all(part_signature(part) != signature for part, _ in loose):
        yield own, (), True
    for part, codes in loose:
        yield part, codes, part_signature(part) == signature
