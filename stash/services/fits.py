"""What a part fits: models, one's own machines, with which companions, and on whose word."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from stash.db.store import Store
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design
from stash.fit.companions import Shelf
from stash.fit.facts import Lot, Machine, Model
from stash.fit.settle import Measurement, shortest_list
from stash.fit.speed import overspeed
from stash.fit.verdicts import Finding, judge_machine, judge_model
from stash.plan.facts import Stock
from stash.plan.gaps import fills
from stash.plan.judging import Judge
from stash.plan.usable import condition_rank, condition_refusal
from stash.services.fit_dicts import claim_dict, mate_dict, measurement_dict
from stash.services.parts import resolve_part
from stash.services.standard_parts import noted


@dataclass(frozen=True, slots=True)
class Companion:
    """Another part that must change too.

    Args:
        position: Where, "" when the model has no position for it.
        kind: Its kind.
        designs: The designs that would do; empty when any of the kind may.
        lots: Loose lots that would do, best condition first; empty = to find.
    """

    position: str
    kind: str
    designs: tuple[str, ...]
    lots: tuple[Lot, ...]

    def as_dict(self) -> dict[str, Any]:
        """The companion as plain data."""
        return {
            "position": self.position,
            "kind": self.kind,
            "design": self.designs[0] if self.designs else None,
            "or": list(self.designs[1:]),
            "lots": [lot.code for lot in self.lots],
        }


@dataclass(frozen=True, slots=True)
class Fit:
    """The verdict for a part at one position of a model or machine.

    Args:
        model: The model.
        position: Position name.
        finding: The verdict with its reasons.
        companions: What must change too, in hand or to find.
        settle: The shortest list of what to find out, where the verdict depends on it; most telling first.
        machine: The machine as built, None when the verdict is about the model.
        danger: Why it must not run there although it may bolt on; "" when nothing speaks against it.
    """

    model: Model
    position: str
    finding: Finding
    companions: tuple[Companion, ...]
    settle: tuple[Measurement, ...] = ()
    machine: Machine | None = None
    danger: str = ""

    @property
    def verdict(self) -> str:
        """The verdict."""
        return self.finding.verdict

    def as_dict(self, catalogue: Catalogue, part: Part) -> dict[str, Any]:
        """The verdict as plain data."""
        finding = self.finding
        whose = {"machine": self.machine.code} if self.machine else {}
        return {
            **whose,
            "model": self.model.key,
            "position": self.position,
            "from_year": finding.years.from_year,
            "to_year": finding.years.to_year,
            "verdict": finding.verdict,
            "companions": [companion.as_dict() for companion in self.companions],
            "work": finding.work,
            "minutes": finding.minutes,
            "claims": [claim_dict(catalogue, heard, finding.heard) for heard in finding.heard],
            "open": [{"mate": ask.mate, "measure": ask.measure, "of": ask.of} for ask in finding.open],
            "settle": [measurement_dict(catalogue, part, each) for each in self.settle],
            "mates": [mate_dict(catalogue, part.kind, state) for state in finding.mates],
            "note": finding.note,
            "danger": self.danger,
        }


@dataclass(frozen=True, slots=True)
class Fill:
    """A gap that a part would fill.

    Args:
        gap: ``machine:CODE`` or ``wanted:MODEL``.
        position: The position it would fill.
        verdict: The verdict there.
    """

    gap: str
    position: str
    verdict: str

    @property
    def machine(self) -> str:
        """The machine's code, "" for a wanted model."""
        return self.gap.removeprefix("machine:") if self.gap.startswith("machine:") else ""

    @property
    def model(self) -> str:
        """The wanted model's key, "" for a machine."""
        return self.gap.removeprefix("wanted:") if self.gap.startswith("wanted:") else ""


@dataclass(frozen=True, slots=True)
class FitsAnswer:
    """What one part fits.

    Args:
        part: The part.
        fits: Models, in the order of the catalogue.
        machines: Owned machines, in order of code.
        gaps: The gaps a loose lot of it would fill.
        catalogue: The facts it was judged by.
    """

    part: Part
    fits: tuple[Fit, ...]
    machines: tuple[Fit, ...]
    gaps: tuple[Fill, ...]
    catalogue: Catalogue

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain data; unknown entries that nothing is said about are left out."""
        return {
            "design": self.part.design or None,
            "lot": self.part.lot or None,
            "kind": self.part.kind,
            "fits": [fit.as_dict(self.catalogue, self.part) for fit in self.fits if not _nothing_said(fit)],
            "machines": [fit.as_dict(self.catalogue, self.part) for fit in self.machines if not _nothing_said(fit)],
            "gaps": [{"gap": fill.gap, "position": fill.position, "verdict": fill.verdict} for fill in self.gaps],
        }


def fits(store: Store, ref: str) -> FitsAnswer:
    """Answer what a part fits.

    Args:
        store: The database.
        ref: A lot code, a design key, a part number or a standard designation.

    Raises:
        NotFound: Nothing goes by that name.
        InvalidInput: A number of two makers.
    """
    catalogue, stock = store.catalogue(), store.stock()
    part = resolve_part(catalogue, stock, ref)
    return answer(catalogue, stock, part)


def fits_all(store: Store) -> Iterator[FitsAnswer]:
    """Answer for every design, in order of key."""
    catalogue, stock = store.catalogue(), store.stock()
    for design in catalogue.design.values():
        yield answer(catalogue, stock, part_of_design(design))


def answer(catalogue: Catalogue, stock: Stock, part: Part) -> FitsAnswer:
    """Judge a part on every model and machine that takes its kind."""
    bench = _Bench(catalogue, stock, part)
    models = [
        fit
        for model in catalogue.models_with_kind.get(part.kind, ())
        for position in catalogue.positions_of_kind[model][part.kind]
        for fit in bench.on_model(model, position)
    ]
    machines = [
        bench.on_machine(machine, position)
        for machine in sorted(stock.machines.values(), key=lambda row: row.code)
        if machine.state != "gone"
        for position in catalogue.positions_of_kind[machine.model].get(part.kind, ())
    ]
    return FitsAnswer(part, tuple(models), tuple(machines), filled_by(catalogue, stock, part), catalogue)


def on_model(store: Store, ref: str, model: str, position: str = "") -> tuple[Part, tuple[Fit, ...]]:
    """Judge one part on one model.

    Args:
        store: The database.
        ref: A lot code, a design key, a part number or a standard designation.
        model: The model.
        position: Only there; "" at every position that takes the kind.

    Returns:
        The part, and its verdicts by position and years; none where the model has no such position for it.

    Raises:
        NotFound: Nothing goes by that name.
        InvalidInput: A number of two makers.
    """
    catalogue, stock = store.catalogue(), store.stock()
    part = resolve_part(catalogue, stock, ref)
    bench = _Bench(catalogue, stock, part)
    positions = catalogue.positions_of_kind.get(model, {}).get(part.kind, ())
    return part, tuple(fit for each in positions if position in {"", each} for fit in bench.on_model(model, each))


def filled_by(catalogue: Catalogue, stock: Stock, part: Part, judge: Judge | None = None) -> tuple[Fill, ...]:
    """Return the gaps that a loose lot of a part would fill, best verdict first."""
    own = stock.lots.get(part.lot)
    values = {} if part.design else part.values
    lot = replace(own, design=part.design) if own else Lot("", part.kind, part.design, values=values)
    return tuple(Fill(*found) for found in fills(catalogue, stock, lot, judge))


class _Bench:
    """Judges one part anywhere, with what lies on the shelf."""

    def __init__(self, catalogue: Catalogue, stock: Stock, part: Part) -> None:
        self._catalogue = catalogue
        self._part = part
        self._loose = loose_lots(stock)
        self._shelf = Shelf(frozenset(self._loose))

    def on_model(self, model: str, position: str) -> tuple[Fit, ...]:
        found = judge_model(self._catalogue, self._part, model, position, self._shelf)
        return tuple(self._fit(finding, position, model) for finding in found)

    def on_machine(self, machine: Machine, position: str) -> Fit:
        finding = judge_machine(self._catalogue, self._part, machine, position, self._shelf)
        return self._fit(finding, position, machine.model, machine)

    def _fit(self, finding: Finding, position: str, model: str, machine: Machine | None = None) -> Fit:
        return Fit(
            self._catalogue.model[model],
            position,
            noted(self._catalogue, self._part, model, position, finding, machine),
            _companions(self._catalogue, self._loose, finding, model),
            shortest_list(self._catalogue, self._part, finding),
            machine,
            overspeed(self._catalogue, model, self._part),
        )


def loose_lots(stock: Stock) -> Mapping[str, tuple[Lot, ...]]:
    """Return ``{design: loose lots of it that a machine may carry}``, best condition first."""
    groups: dict[str, list[Lot]] = {}
    for lot in stock.loose:
        if lot.design and not condition_refusal(None, lot.condition, lot.checked, work=True):
            groups.setdefault(lot.design, []).append(lot)
    return {design: tuple(sorted(lots, key=_best_first)) for design, lots in groups.items()}


def _best_first(lot: Lot) -> tuple[int, str]:
    return (condition_rank(lot.condition), lot.code)


def _companions(
    catalogue: Catalogue, loose: Mapping[str, tuple[Lot, ...]], finding: Finding, model: str
) -> tuple[Companion, ...]:
    """Join what the search found with what the rules demand."""
    if finding.verdict != "with_companions":
        return ()
    wanted: list[Companion] = []
    for change in finding.companions.changes if finding.companions else ():
        kind = catalogue.design[change.design].kind
        wanted.append(Companion(change.position, kind, (change.design,), _in_hand(catalogue, loose, (change.design,))))
    for item in finding.demanded:
        designs = tuple(key for key in item if key in catalogue.design)
        kind = catalogue.design[designs[0]].kind if designs else item[0]
        position = ", ".join(catalogue.positions_of_kind[model].get(kind, ()))
        wanted.append(Companion(position, kind, designs, _in_hand(catalogue, loose, designs)))
    return tuple(dict.fromkeys(wanted))


def _in_hand(catalogue: Catalogue, loose: Mapping[str, tuple[Lot, ...]], designs: tuple[str, ...]) -> tuple[Lot, ...]:
    """Loose lots of the designs, or of designs whose number replaces theirs."""
    wanted = set(designs)
    wanted.update(newer for newer, older in catalogue.forerunners.items() if older & set(designs))
    return tuple(sorted((lot for key in wanted for lot in loose.get(key, ())), key=_best_first))


def _nothing_said(fit: Fit) -> bool:
    finding = fit.finding
    return finding.verdict == "unknown" and not finding.heard and not finding.open
