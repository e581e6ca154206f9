"""What each loose part is good for: the gaps it fills, the models it goes on; and the chart of a family."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stash.db.store import Store
from stash.errors import NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design, part_of_lot
from stash.fit.facts import Design, Generation, Lot, Model
from stash.fit.speed import overspeed
from stash.fit.table import Target
from stash.kernel.tables import VERDICTS
from stash.kernel.years import Years
from stash.plan.candidates import Candidate
from stash.plan.gaps import Gap
from stash.plan.judging import Judge
from stash.plan.spots import part_signature
from stash.services.fits import Fill, filled_by
from stash.services.gaps import SharedJudge, gaps, judge
from stash.services.parts import resolve_part


@dataclass(frozen=True, slots=True)
class Use:
    """What one lot is good for.

    Args:
        lot: The lot.
        gaps: ``(gap, position, verdict)`` it would fill, best verdict first.
        models: ``{verdict: model keys}`` for the verdicts that occur, best first; a model counts by its best position
            and its worst year.
        stopped: Models it must not run on for its speed, whatever the verdict; they are not among ``models``.
    """

    lot: Lot
    gaps: tuple[tuple[Gap, str, str], ...]
    models: Mapping[str, tuple[str, ...]]
    stopped: tuple[str, ...] = ()


def uses(store: Store, lots: Iterable[Lot]) -> tuple[Use, ...]:
    """Tell of each lot what it is good for, in the order given."""
    catalogue, referee, filled = store.catalogue(), judge(store), gaps_filled(store)
    return tuple(
        Use(
            lot,
            tuple(
                sorted(
                    ((gap, position, each.verdict) for gap, position, each in filled.get(lot.code, ())),
                    key=lambda each: (VERDICTS.index(each[2]), each[0].key),
                )
            ),
            *models_by_verdict(catalogue, referee, part_of_lot(catalogue, lot)),
        )
        for lot in lots
    )


def gaps_filled(store: Store) -> dict[str, list[tuple[Gap, str, Candidate]]]:
    """Return ``{lot: (gap, position, the lot as a candidate there)}`` in order of gap.

    Where a part must not run for its speed it fills nothing.
    """
    found = gaps(store)
    return store.derived("gaps_filled", (found,), lambda: _filled(store, found))


def _filled(store: Store, found: Iterable[Gap]) -> dict[str, list[tuple[Gap, str, Candidate]]]:
    catalogue, loose = store.catalogue(), store.stock().lots
    filled: dict[str, list[tuple[Gap, str, Candidate]]] = {}
    for gap in found:
        for short in gap.short:
            for candidate in short.candidates:
                if not overspeed(catalogue, gap.model, part_of_lot(catalogue, loose[candidate.lot])):
                    filled.setdefault(candidate.lot, []).append((gap, short.position, candidate))
    return filled


_Models = tuple[dict[str, tuple[str, ...]], tuple[str, ...]]
"""``{verdict: model keys}``, and the models a part must not run on."""


def models_by_verdict(catalogue: Catalogue, referee: SharedJudge, part: Part) -> _Models:
    """Tell which models a part goes on.

    Args:
        catalogue: The facts.
        referee: Answers for them.
        part: The part.

    Returns:
        ``{verdict: model keys}``, best first, a model by its best position and its worst year; and the models it must
        not run on for its speed, which are not among them.
    """
    grades = referee.remember(("grades", part_signature(part)), lambda: _grades(catalogue, referee, part))
    groups: list[list[str]] = [[] for _ in (*VERDICTS, _STOPPED)]
    for model, grade in zip(catalogue.models_with_kind.get(part.kind, ()), grades, strict=True):
        groups[grade].append(model)
    stopped = groups.pop()
    return {verdict: tuple(group) for verdict, group in zip(VERDICTS, groups, strict=True) if group}, tuple(stopped)


_STOPPED = len(VERDICTS)
"""The grade of a model that a part must not run on."""


def _grades(catalogue: Catalogue, referee: Judge, part: Part) -> bytes:
    """Return the place in ``VERDICTS``, or ``_STOPPED``, of each model with the part's kind, in their order."""
    verdicts = referee.on_models(part)
    grades = bytearray()
    for model in catalogue.models_with_kind.get(part.kind, ()):
        if overspeed(catalogue, model, part):
            grades.append(_STOPPED)
            continue
        of_positions = (verdicts[model, position] for position in catalogue.positions_of_kind[model][part.kind])
        grades.append(min(max(map(VERDICTS.index, over_years)) for over_years in of_positions))
    return bytes(grades)


@dataclass(frozen=True, slots=True)
class InShort:
    """What a part fits, without the reasons: quick however many models and machines there are.

    Args:
        part: The part.
        models: ``{verdict: models}``, best first, a model by its best position and its worst year.
        stopped: Models it must not run on for its speed; they are not among ``models``.
        gaps: The gaps a loose lot of it would fill, best verdict first.
        machines: How many owned machines take its kind.
    """

    part: Part
    models: Mapping[str, tuple[str, ...]]
    stopped: tuple[str, ...]
    gaps: tuple[Fill, ...]
    machines: int

    @property
    def sites(self) -> int:
        """How many models and machines it would be judged on."""
        return sum(map(len, self.models.values())) + len(self.stopped) + self.machines


def in_short(store: Store, ref: str) -> InShort:
    """Say what a part fits, without the reasons.

    Args:
        store: The database.
        ref: A lot code, a design key, a part number or a standard designation.

    Raises:
        NotFound: Nothing goes by that name.
        InvalidInput: A number of two makers.
    """
    catalogue, stock = store.catalogue(), store.stock()
    part, referee = resolve_part(catalogue, stock, ref), judge(store)
    takers = frozenset(catalogue.models_with_kind.get(part.kind, ()))
    machines = sum(machine.model in takers and machine.state != "gone" for machine in stock.machines.values())
    models, stopped = models_by_verdict(catalogue, referee, part)
    return InShort(part, models, stopped, filled_by(catalogue, stock, part, referee), machines)


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the chart: one design at one position of one model.

    Args:
        verdicts: By years.
        danger: Why it must not run there whatever the verdict; "" when nothing speaks against it.
    """

    verdicts: tuple[tuple[Years, str], ...]
    danger: str = ""

    @property
    def worst(self) -> str:
        """The worst of its verdicts: what may be promised for every year."""
        return max((verdict for _, verdict in self.verdicts), key=VERDICTS.index)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the chart: a position of a model."""

    model: Model
    generation: Generation
    position: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Which design of a kind goes where in a family.

    Args:
        columns: Positions of models by generation.
        rows: ``(design, one cell for each column)``; designs nothing is known of in this family are left out.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[Design, tuple[Cell, ...]], ...]


def chart(store: Store, family: str, kind: str) -> Chart:
    """Return the interchange chart of a family and kind.

    Args:
        store: The database.
        family: Family key.
        kind: Kind key.

    Raises:
        NotFound: There is no such family or kind.
    """
    catalogue, referee = store.catalogue(), judge(store)
    if family not in catalogue.family or kind not in catalogue.kind:
        raise NotFound(f"There is no family {family!r} or no kind {kind!r}", "Choose from the catalogue.")
    columns = tuple(
        Column(model, catalogue.generation[model.generation], position)
        for model in catalogue.model.values()
        if catalogue.generation[model.generation].family == family
        for position in catalogue.positions_of_kind[model.key].get(kind, ())
    )
    rows = []
    places: tuple[int, ...] = ()
    for design in catalogue.designs_of_kind.get(kind, ()):
        part = part_of_design(design)
        row = referee.of_design(design.key)
        places = places or row.places(Target(each.model.key, each.position) for each in columns)
        cells = tuple(
            Cell(
                tuple((found.years, found.verdict) for found in row.cells[place]),
                overspeed(catalogue, each.model.key, part),
            )
            for place, each in zip(places, columns, strict=True)
        )
        if any(cell.worst != "unknown" or len(cell.verdicts) > 1 for cell in cells):
            rows.append((design, cells))
    return Chart(columns, tuple(rows))
