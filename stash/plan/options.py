"""Which ware may go into which position of which task.

What the model's verdict allows may be used. For a part nobody speaks of, whose sizes break a mate with the model's own
parts, the verdict is ``with_companions`` when some change of other parts mends it; instead of searching for such a
change, the plan has to be one: every mate that broke must hold inside the build.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

from stash.fit.catalogue import Catalogue, Position
from stash.fit.claims import Part, part_of_design
from stash.fit.facts import Lot
from stash.fit.findings import Finding
from stash.fit.intervals import Outcome
from stash.fit.speed import overspeed
from stash.kernel.years import Years, segments
from stash.plan.judging import Judge
from stash.plan.prospects import MateAt, Prospects
from stash.plan.sized import places_of
from stash.plan.spots import Spot, part_signature, year_of
from stash.plan.tasks import Pin, Task
from stash.plan.usable import verdict_rank, verdict_refusal
from stash.plan.wares import ARRIVED, Allowed, Tier, Ware


@dataclass(frozen=True, eq=False)
class Option:
    """A ware that may go into a position.

    Args:
        ware: The ware.
        verdict: The verdict it goes in by.
        minutes: Minutes of work it asks for.
        demands: Companions that a rule demands with it: items, each a tuple of alternatives (design or kind keys).
        must_hold: Mates that break with the model's own parts and so must hold inside the build.
        own: ``(lot, how many)`` set aside for this position.
        flag: What its owner decided over: "" unless it would not have been chosen.
    """

    ware: Ware
    verdict: str
    minutes: int = 0
    demands: tuple[tuple[str, ...], ...] = ()
    must_hold: frozenset[MateAt] = frozenset()
    own: tuple[tuple[Lot, int], ...] = ()
    flag: str = ""

    @property
    def set_aside(self) -> int:
        """How many parts are set aside for it."""
        return sum(units for _, units in self.own)


@dataclass(frozen=True, eq=False)
class Vacancy:
    """A position to fill, with the options in order of preference."""

    position: Position
    options: tuple[Option, ...]


@dataclass(frozen=True, eq=False)
class Variant:
    """One way of seeing a task: the model in one span of its years. A plan completes at most one of a task's."""

    task: Task
    years: Years
    vacancies: tuple[Vacancy, ...]


@dataclass(frozen=True)
class _Ruling:
    verdict: str
    minutes: int = 0
    demands: tuple[tuple[str, ...], ...] = ()
    must_hold: frozenset[MateAt] = frozenset()


class Options:
    """Finds the options of tasks.

    Args:
        judge: Judges parts.
        wares: ``{kind: what can be had}``.
        allowed: What may be used beyond the shelf.
    """

    def __init__(self, judge: Judge, wares: Mapping[str, Sequence[Ware]], allowed: Allowed) -> None:
        self._judge = judge
        self._catalogue: Catalogue = judge.catalogue
        self._wares = wares
        self._allowed = allowed
        self._prospects = Prospects(judge, wares)
        self._arrived: dict[tuple[Spot, Years, int], list[Option]] = {}
        self._found: dict[tuple[Spot, Years, int], tuple[Option, ...]] = {}

    def variants(self, task: Task) -> tuple[Variant, ...]:
        """Return the ways of seeing a task: one for a machine, one for each span of years of a bare model."""
        return tuple(self._variant(task, years) for years in self._eras(task))

    def _variant(self, task: Task, years: Years) -> Variant:
        hopeful = self._prospects.of(task, years)
        vacancies = (self._vacancy(task, each, years, hopeful.get(each.name, 0)) for each in task.positions)
        return Variant(task, years, tuple(vacancies))

    def _eras(self, task: Task) -> list[Years]:
        whole = self._catalogue.model[task.model].years
        if task.machine is not None:
            return [whole if task.machine.year is None else Years(task.machine.year, task.machine.year)]
        spans: set[Years] = set()
        for position in task.positions:
            spot = self._judge.spot(task.model, position.name, None)
            spans.update(years for years, _ in spot.eras)
            for place in places_of(spot.spoken_among(self._prospects.sized(position.kind))):
                ware = self._wares[position.kind][place]
                spans.update(finding.years for finding in spot.findings(ware.part, ware.signature))
        return segments(whole, spans)

    def _vacancy(self, task: Task, position: Position, years: Years, hopeful: int) -> Vacancy:
        pin = task.pins.get(position.name)
        if pin is not None:
            return Vacancy(position, self._pinned(task, position, years, pin))
        spot = self.spot(task, position)
        known = self._found.get((spot, years, hopeful))
        if known is None:
            found = self._enough(task, position, years, hopeful)
            known = self._found[spot, years, hopeful] = tuple(sorted(found, key=_preference))
        return Vacancy(position, known)

    def _enough(self, task: Task, position: Position, years: Years, hopeful: int) -> list[Option]:
        wares = [self._wares[position.kind][place] for place in places_of(hopeful)]
        return self._among(task, years, position, [ware for ware in wares if ware.supply >= position.quantity])

    def anyhow(self, variant: Variant) -> Iterator[tuple[Position, list[Ware]]]:
        """Yield each position with all that may go in, be what must change with it there or not."""
        task, years = variant.task, variant.years
        hopeful = self._prospects.anyhow(task, years)
        for vacancy in variant.vacancies:
            position = vacancy.position
            if position.name not in hopeful:
                yield position, [option.ware for option in vacancy.options]
                continue
            bits, plain = hopeful[position.name], 0
            if task.machine is None:  # where nobody speaks of a part there, its sizes have settled that it may
                plain = bits & ~self.spot(task, position).spoken_among(self._prospects.sized(position.kind))
            found = [self._wares[position.kind][place] for place in places_of(plain)]
            found = [ware for ware in found if not overspeed(self._catalogue, task.model, ware.part)]
            judged = self._enough(task, position, years, bits & ~plain)
            yield (
                position,
                [*(ware for ware in found if ware.supply >= position.quantity), *(option.ware for option in judged)],
            )

    def arriving(self, variant: Variant, position: Position, others: Mapping[str, Sequence[Option]]) -> list[Option]:
        """Return every design that may go into a position as if it had arrived, in order of key.

        Args:
            variant: The variant.
            position: The position.
            others: ``{position: options}`` that will stand elsewhere: what they don't go with may be left out.
        """
        parts = {name: [option.ware.part for option in options] for name, options in others.items()}
        hopeful = self._arriving.beside(variant.task, position, variant.years, parts)
        key = (self.spot(variant.task, position), variant.years, hopeful)
        if key not in self._arrived:
            found = [self._newcomers[position.kind][place] for place in places_of(hopeful)]
            self._arrived[key] = self._among(variant.task, variant.years, position, found)
        return self._arrived[key]

    @cached_property
    def _newcomers(self) -> Mapping[str, Sequence[Ware]]:
        """``{kind: every design as if it had arrived}``, in order of key."""
        return {
            kind: [
                Ware(part, part_signature(part), (ARRIVED,))
                for part in sorted(map(part_of_design, designs), key=lambda part: part.design)
            ]
            for kind, designs in self._catalogue.designs_of_kind.items()
        }

    @cached_property
    def _arriving(self) -> Prospects:
        return Prospects(self._judge, self._newcomers)

    def verdict(self, variant: Variant, position: Position, part: Part) -> str:
        """Return the verdict by which a part would go into a position."""
        return self._rule(variant.task, position, variant.years, part).verdict

    def spot(self, task: Task, position: Position) -> Spot:
        """Return a position of the task's machine, or of its model."""
        return self._judge.spot(task.model, position.name, task.machine)

    def _among(self, task: Task, years: Years, position: Position, wares: Iterable[Ware]) -> list[Option]:
        spot = self.spot(task, position)
        found = []
        for ware in wares:
            ruling = spot.recall((ware.signature, years), partial(self._rule, task, position, years, ware.part))
            if verdict_refusal(ruling.verdict, work=self._allowed.work):
                continue
            if not overspeed(self._catalogue, task.model, ware.part):
                found.append(Option(ware, ruling.verdict, ruling.minutes, ruling.demands, ruling.must_hold))
        return found

    def _pinned(self, task: Task, position: Position, years: Years, pin: Pin) -> tuple[Option, ...]:
        """The one part the owner decided on, unless a mate with what stays on the machine breaks."""
        if pin.part is None:
            return ()
        ruling = self._rule(task, position, years, pin.part)
        signature = part_signature(pin.part)
        same = (ware for ware in self._wares.get(position.kind, ()) if ware.signature == signature)
        ware = next(same, Ware(pin.part, signature, ()))
        danger = overspeed(self._catalogue, task.model, pin.part)
        flag = danger or verdict_refusal(ruling.verdict, work=self._allowed.work)
        option = Option(ware, ruling.verdict, ruling.minutes, () if flag else ruling.demands, own=pin.lots, flag=flag)
        enough = option.set_aside + ware.supply >= position.quantity
        return (option,) if enough and not self.breaks_with_kept(task, position, pin.part) else ()

    def breaks_with_kept(self, task: Task, position: Position, part: Part) -> list[str]:
        """Name the positions of what stays on the machine with which a part breaks a mate."""
        if task.machine is None:
            return []
        spot = self._judge.spot(task.model, position.name, task.machine)
        found = spot.outcomes(part, task.machine.year)
        return sorted({far for (_, far), outcome in found.items() if outcome is Outcome.BREAKS})

    def _rule(self, task: Task, position: Position, years: Years, part: Part) -> _Ruling:
        """As built where that is known, else the model's verdict."""
        model = self._judge.spot(task.model, position.name, None)
        if task.machine is None:
            return _of_model(model, part, years)
        spot = self.spot(task, position)
        sizes = spot.sizes_say(part)
        if "breaks" in sizes:
            return _Ruling("wont_fit")
        if spot.spoken_of(part):
            finding = spot.findings(part, part_signature(part))[0]
            if finding.verdict != "unknown":
                return _of_finding(finding)
        elif sizes == {"likely"}:
            return _Ruling("likely")
        ruling = _of_model(model, part, years)
        kept = spot.outcomes(part, task.machine.year)
        empty = {vacant.name for vacant in task.positions}
        broken_off = {key for key in ruling.must_hold if key[1] not in empty}
        if any(kept.get(key) is not Outcome.HOLDS for key in broken_off):
            return _Ruling("wont_fit")
        return replace(ruling, must_hold=ruling.must_hold - broken_off)


def _of_model(spot: Spot, part: Part, years: Years) -> _Ruling:
    """The model's verdict, ``unknown`` where it differs between the years in question."""
    if spot.spoken_of(part):
        findings = spot.findings(part, part_signature(part))
        rulings = [_of_finding(each) for each in findings if each.years.common(years)]
    else:
        rulings = [_by_sizes(spot, part, era) for era, _ in spot.eras if era.common(years)]
    if len({ruling.verdict for ruling in rulings}) != 1:
        return _Ruling("unknown")
    worst = max(rulings, key=lambda ruling: (ruling.minutes, ruling.demands))
    return replace(worst, must_hold=frozenset[MateAt]().union(*(ruling.must_hold for ruling in rulings)))


def _by_sizes(spot: Spot, part: Part, era: Years) -> _Ruling:
    year = year_of(era)
    sizes = spot.sizes_in(part, year)
    if sizes != "breaks":
        return _Ruling(sizes)
    broken = (key for key, outcome in spot.outcomes(part, year).items() if outcome is Outcome.BREAKS)
    return _Ruling("with_companions", must_hold=frozenset(broken))


def _of_finding(finding: Finding) -> _Ruling:
    return _Ruling(finding.verdict, finding.minutes or 0, finding.demanded)


def _preference(option: Option) -> tuple[int, int, int, str, str]:
    tier = option.ware.tiers[0]
    return (
        verdict_rank(option.verdict),
        _source_rank(tier),
        tier.points,
        option.ware.part.design,
        option.ware.part.lot,
    )


def _source_rank(tier: Tier) -> int:
    return 0 if tier.lots else 1 if tier.donor else 2
