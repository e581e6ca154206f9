"""The holes of a collection: what is missing, and which loose part would fill it.

A gap is an owned machine's position that is missing or faulty, or a wanted model not owned in a complete state.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import compress

from stash.fit.catalogue import Catalogue, Position
from stash.fit.claims import part_of_lot
from stash.fit.facts import Lot, Machine
from stash.fit.speed import overspeed
from stash.kernel.years import Years, segments
from stash.plan.candidates import Answer, Candidate, best_finding, candidates, refusal
from stash.plan.facts import Stock
from stash.plan.filling import Choice, Filling, Need, fill
from stash.plan.holes import Hole, carried, holes
from stash.plan.judging import Judge
from stash.plan.meeting import Meetings
from stash.plan.shelf import Sort, sorts_by_kind
from stash.plan.sized import Sized
from stash.plan.spots import Spot, part_signature
from stash.plan.usable import condition_refusal, verdict_rank

__all__ = ["Candidate", "Gap", "Short", "best_finding", "fills", "gaps", "one_short"]


@dataclass(frozen=True, slots=True)
class Short:
    """A position that is empty, and what could fill it, best first.

    Args:
        position: Position name.
        kind: What it takes.
        quantity: How many of them.
        candidates: Loose lots; what is unknown or won't fit is left out.
        filled_by: Lots that fill it when the gap is filled at once; empty when it stays short.
    """

    position: str
    kind: str
    quantity: int
    candidates: tuple[Candidate, ...] = ()
    filled_by: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """The position as plain data for JSON."""
        return {
            "position": self.position,
            "kind": self.kind,
            "quantity": self.quantity,
            "candidates": [candidate.as_dict() for candidate in self.candidates],
            "filled_by": list(self.filled_by),
        }


@dataclass(frozen=True, slots=True)
class Gap:
    """A machine or wanted model that is short of something.

    Args:
        key: ``machine:CODE`` or ``wanted:MODEL``.
        model: Model key.
        machine: The owned machine it is about; for a wanted model the most complete example, None when not owned.
        short: What it is short of, in order of position.
        fillable: Every short position can be filled at once from the shelf.
        still_short: ``(position, how many)`` that stay short when as many positions as possible are filled at once.
        sure: False when the search for a filling stopped early: a plan may find more.
    """

    key: str
    model: str
    machine: str | None
    short: tuple[Short, ...]
    fillable: bool
    still_short: tuple[tuple[str, int], ...] = ()
    sure: bool = True

    def as_dict(self) -> dict[str, object]:
        """The gap as plain data for JSON."""
        return {
            "gap": self.key,
            "model": self.model,
            "machine": self.machine,
            "short": [each.as_dict() for each in self.short],
            "fillable": self.fillable,
            "still_short": [{"position": position, "quantity": quantity} for position, quantity in self.still_short],
            "sure": self.sure,
        }


def gaps(catalogue: Catalogue, stock: Stock, judge: Judge | None = None) -> list[Gap]:
    """Find every gap and what would fill it.

    Args:
        catalogue: The facts.
        stock: What is owned and wanted.
        judge: Remembers verdicts from call to call while the catalogue stays the same.

    Returns:
        Machines in order of code, then wanted models in order of key.
    """
    return filled(catalogue, stock, holes(catalogue, stock), judge)


def filled(catalogue: Catalogue, stock: Stock, found: Iterable[Hole], judge: Judge | None = None) -> list[Gap]:
    """Find what would fill holes, each by itself, in their order; see ``gaps``."""
    finder = _Finder(judge or Judge(catalogue), sorts_by_kind(catalogue, stock.lots.values()))
    return [finder.gap(hole) for hole in found]


def one_short(found: Iterable[Gap]) -> list[Gap]:
    """Return the gaps that lack exactly one part once all else is filled from the shelf."""
    return [gap for gap in found if sum(lacking for _, lacking in gap.still_short) == 1]


def fills(catalogue: Catalogue, stock: Stock, lot: Lot, judge: Judge | None = None) -> list[tuple[str, str, str]]:
    """Tell which gaps one lot could fill.

    Args:
        catalogue: The facts.
        stock: What is owned and wanted.
        lot: The lot in question; it need not be part of the stock.
        judge: Remembers verdicts from call to call while the catalogue stays the same.

    Returns:
        ``(gap key, position, verdict)``, best verdict first, then in order of gap; what is unknown, won't fit or must
        not run there for its speed is left out.
    """
    judge = judge or Judge(catalogue)
    part = part_of_lot(catalogue, lot)
    signature = part_signature(part)
    found = []
    for order, hole in enumerate(holes(catalogue, stock)):
        for position in hole.positions:
            if position.kind == lot.kind and not overspeed(catalogue, hole.model, part):
                findings = judge.spot(hole.model, position.name, hole.machine).offered(part, signature)
                if findings:
                    verdict = best_finding(findings).verdict
                    found.append((verdict_rank(verdict), order, (hole.key, position.name, verdict)))
    return [answer for _, _, answer in sorted(found)]


class _Finder:
    """Fills holes from one shelf; what each sort of part is good for is asked once per spot."""

    def __init__(self, judge: Judge, sorts: Mapping[str, tuple[Sort, ...]]) -> None:
        self._judge = judge
        self._catalogue = judge.catalogue
        self._sorts = sorts
        self._meetings = Meetings(judge.catalogue, judge.comparing)
        self._by_size: dict[str, Sized] = {}
        self._known: dict[Spot, tuple[tuple[Answer, ...], tuple[Candidate, ...]]] = {}

    def gap(self, hole: Hole) -> Gap:
        """Fill one hole as far as the shelf allows."""
        known = {position.name: self._look(hole, position) for position in hole.positions}
        answers = {name: found for name, (found, _) in known.items()}
        best, needs = Filling[Sort]({}, sure=True), list[Need[Sort]]()
        for era in self._eras(hole, answers):
            attempt = [_need(hole.machine, position, answers[position.name], era) for position in hole.positions]
            filling = fill(attempt, partial(self._beside, hole.model), carried(self._catalogue, hole.machine))
            if not needs or len(filling.chosen) > len(best.chosen):
                best, needs = filling, attempt
        listed = {name: candidates for name, (_, candidates) in known.items()}
        return Gap(
            key=hole.key,
            model=hole.model,
            machine=hole.machine.code if hole.machine else None,
            short=_shorts(hole, listed, best),
            fillable=len(best.chosen) == len(hole.positions),
            still_short=_still_short(needs, best),
            sure=best.sure,
        )

    def _beside(
        self, model: str, one: str, here: Choice[Sort], other: str, choices: list[Choice[Sort]]
    ) -> list[Choice[Sort]]:
        if not self._meetings.between(model, one, other):
            return choices
        good = self._meetings.beside(model, one, here.part, other, [choice.part for choice in choices])
        return list(compress(choices, good))

    def _look(self, hole: Hole, position: Position) -> tuple[tuple[Answer, ...], tuple[Candidate, ...]]:
        """Every sort of the kind that is a candidate at a position, and its lots in order of preference."""
        spot = self._judge.spot(hole.model, position.name, hole.machine)
        known = self._known.get(spot)
        if known is None:
            sorts = self._sorts.get(position.kind, ())
            answers = tuple(
                Answer(
                    sorts[place],
                    findings,
                    tuple((lot, self._refused(hole, sorts[place], lot)) for lot in sorts[place].lots),
                )
                for place, findings in spot.offered_among(self._sized(position.kind))
            )
            known = self._known[spot] = (answers, candidates(answers, hole.machine))
        return known

    def _sized(self, kind: str) -> Sized:
        if kind not in self._by_size:
            self._by_size[kind] = Sized([sort.part for sort in self._sorts.get(kind, ())])
        return self._by_size[kind]

    def _refused(self, hole: Hole, sort: Sort, lot: Lot) -> str:
        return overspeed(self._catalogue, hole.model, sort.part) or condition_refusal(
            self._catalogue.kind.get(lot.kind), lot.condition, lot.checked
        )

    def _eras(self, hole: Hole, answers: Mapping[str, tuple[Answer, ...]]) -> list[Years]:
        """The years of a wanted model cut wherever a verdict changes; one span for a machine."""
        whole = self._catalogue.model[hole.model].years
        if hole.machine is not None:
            return [whole]
        spans = {finding.years for each in answers.values() for answer in each for finding in answer.findings}
        return segments(whole, spans)


def _shorts(hole: Hole, listed: Mapping[str, tuple[Candidate, ...]], best: Filling[Sort]) -> tuple[Short, ...]:
    left: dict[str, int] = {}
    return tuple(
        Short(
            position.name,
            position.kind,
            position.quantity,
            listed[position.name],
            _taken(position, listed[position.name], best, left),
        )
        for position in hole.positions
    )


def _need(machine: Machine | None, position: Position, answers: Collection[Answer], era: Years) -> Need[Sort]:
    """A position with the choices that may go in, in order of preference."""
    choices = []
    for answer in answers:
        finding = next(each for each in answer.findings if machine is not None or era.within(each.years))
        if not refusal(finding, machine):
            choices.append((verdict_rank(finding.verdict), answer.choice(finding)))
    choices.sort(key=lambda ranked: ranked[0])
    return Need(position.name, position.kind, position.quantity, tuple(choice for _, choice in choices))


def _taken(
    position: Position, listed: Collection[Candidate], filling: Filling[Sort], left: dict[str, int]
) -> tuple[str, ...]:
    """Take a filled position's parts from its sort's lots, the better ones first, and no part twice."""
    choice = filling.chosen.get(position.name)
    if choice is None:
        return ()
    of_sort = {lot.code for lot in choice.source.lots}
    needed, used = position.quantity, []
    for candidate in listed:
        if needed and candidate.usable and candidate.lot in of_sort:
            there = left.setdefault(candidate.lot, candidate.quantity)
            taken = min(needed, there)
            if taken:
                needed, left[candidate.lot] = needed - taken, there - taken
                used.append(candidate.lot)
    return tuple(used)


def _still_short(needs: Collection[Need[Sort]], filling: Filling[Sort]) -> tuple[tuple[str, int], ...]:
    """How many parts each position left empty is short of, counting what the best sort still offers."""
    used: dict[Sort, int] = {}
    for need in needs:
        if need.position in filling.chosen:
            sort = filling.chosen[need.position].source
            used[sort] = used.get(sort, 0) + need.quantity
    answer = []
    for need in needs:
        if need.position not in filling.chosen:
            offered = max((choice.supply - used.get(choice.source, 0) for choice in need.choices), default=0)
            answer.append((need.position, max(1, need.quantity - max(0, offered))))
    return tuple(answer)
