"""Rows to facts: one frozen picture of the catalogue and one of the stock, for the pure rooms to decide on.

References were checked when the rows were written. Empty texts are "", sizes are millionths.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from stash.bench.law import law_lines, owners_line
from stash.db.models import ROWS
from stash.fit import facts
from stash.fit.catalogue import Catalogue
from stash.fit.intervals import Known, interval
from stash.kernel.cells import list_items
from stash.kernel.exact import to_micro
from stash.kernel.years import Years
from stash.key.standard import same_parts
from stash.plan.facts import Build, BuildPart, Place, Stock, Wanted

Values = dict[str, dict[str, Known]]
"""``{design key or lot code: {measure key: value}}``."""


def catalogue(session: Session) -> Catalogue:
    """Read the whole catalogue."""
    numbers = _number_measures(session)
    designs = tuple(_designs(session, numbers))
    return Catalogue(
        makers=tuple(facts.Maker(r.key, r.name) for r in _rows(session, "makers")),
        families=tuple(facts.Family(r.key, r.name) for r in _rows(session, "families")),
        generations=tuple(
            facts.Generation(r.key, r.family, r.ordinal, r.name, Years(r.from_year, r.to_year), r.tell or "")
            for r in _rows(session, "generations")
        ),
        models=tuple(_model(r) for r in _rows(session, "models")),
        kinds=tuple(
            facts.Kind(r.key, r.name, r.system or "", r.safety_critical, r.caution or "", _firsts(r.matched_set))
            for r in _rows(session, "kinds")
        ),
        measures=tuple(_measure(r) for r in _rows(session, "measures")),
        designs=designs,
        same_parts=same_parts(designs),
        numbers=tuple(
            facts.Number(r.number, r.maker, r.design or "", r.replaced_by or "") for r in _rows(session, "numbers")
        ),
        position_rows=tuple(
            facts.PositionRow(r.generation or "", r.model or "", r.position, r.kind, r.quantity)
            for r in _rows(session, "positions")
        ),
        came_on=tuple(
            facts.CameOn(r.design, r.position, r.generation or "", r.model or "", Years(r.from_year, r.to_year))
            for r in _rows(session, "came_on")
        ),
        mates=tuple(mate_fact(r) for r in _rows(session, "mates")),
        rules=tuple(rule_fact(r) for r in _rows(session, "rules")),
    )


def stock(session: Session) -> Stock:
    """Read everything owned, kept, wanted and planned."""
    numbers = _number_measures(session)
    machines = {r.code: r for r in _rows(session, "machines")}
    return Stock(
        machines=dict(_machines(session, machines, numbers)),
        lots=dict(_lots(session, numbers)),
        places={
            r.code: Place(r.code, r.name, r.inside or "", r.note or "", _iso(r.counted_on))
            for r in _rows(session, "places")
        },
        builds=dict(_builds(session, machines)),
        law_lines=law_lines(
            owners_line(r.key, r.name, float(r.up_to_cm3), r.note or "") for r in _rows(session, "law_lines")
        ),
        wanted=tuple(Wanted(r.model, _micro(r.value), r.note or "") for r in _rows(session, "wanted")),
    )


def _rows(session: Session, table: str) -> Iterator[Row[Any]]:
    """All rows of a table in order of their primary key, so that two snapshots of the same rows are equal."""
    sql = ROWS[table].__table__
    yield from session.execute(select(*sql.columns).order_by(*sql.primary_key))


def _micro(value: Decimal | None) -> int | None:
    return None if value is None else to_micro(value)


def _iso(value: Any) -> str:
    return value.isoformat() if value else ""


def _number_measures(session: Session) -> frozenset[tuple[str, str]]:
    """The (kind, measure) whose values are numbers; those of all others are words."""
    return frozenset((r.kind, r.key) for r in _rows(session, "measures") if r.type == "number")


def _known(text: str, *, number: bool, minus: Decimal | None = None, plus: Decimal | None = None) -> Known:
    if not number:
        return text
    return interval(to_micro(Decimal(text)), _micro(minus) or 0, _micro(plus) or 0)


def _firsts(cell: str | None) -> tuple[str, ...]:
    return tuple(item[0] for item in list_items(cell))


def _model(r: Any) -> facts.Model:
    return facts.Model(
        key=r.key,
        name=r.name,
        maker=r.maker,
        generation=r.generation,
        years=Years(r.from_year, r.to_year),
        cylinders=r.cylinders,
        bore_u=_micro(r.bore_mm),
        stroke_u=_micro(r.stroke_mm),
        rated_rpm_u=_micro(r.rated_rpm),
    )


def _measure(r: Any) -> facts.Measure:
    return facts.Measure(
        kind=r.kind,
        key=r.key,
        name=r.name,
        type=r.type,
        unit=r.unit or "",
        choices=_firsts(r.choices),
        uncertainty_u=_micro(r.uncertainty),
        wear=r.wear or "",
        effort_s=None if r.effort_s is None else float(r.effort_s),
        how=r.how or "",
    )


def _designs(session: Session, numbers: frozenset[tuple[str, str]]) -> Iterator[facts.Design]:
    values: dict[str, list[Any]] = defaultdict(list)
    for row in _rows(session, "design_measures"):
        values[row.design].append(row)
    for r in _rows(session, "designs"):
        yield facts.Design(
            key=r.key,
            kind=r.kind,
            name=r.name,
            maker=r.maker or "",
            generation=r.generation or "",
            price_minor=r.price,
            values={
                v.measure: _known(v.value, number=(r.kind, v.measure) in numbers, minus=v.minus, plus=v.plus)
                for v in values[r.key]
            },
        )


def mate_fact(r: Any) -> facts.Mate:
    """Return a row of ``mates`` as a fact."""
    return facts.Mate(
        key=r.key,
        name=r.name,
        kind_a=r.kind_a,
        measure_a=r.measure_a,
        kind_b=r.kind_b,
        measure_b=r.measure_b,
        relation=r.relation,
        low_u=_micro(r.low),
        high_u=_micro(r.high),
        position_a=r.position_a or "",
        position_b=r.position_b or "",
        evidence=r.evidence or "",
        source=r.source or "",
    )


def rule_fact(r: Any) -> facts.Rule:
    """Return a row of ``rules`` as a fact."""
    return facts.Rule(
        key=r.key,
        verdict=r.verdict,
        evidence=r.evidence,
        design=r.design or "",
        kind=r.kind or "",
        part_maker=r.part_maker or "",
        part_generation=r.part_generation or "",
        model=r.model or "",
        generation=r.generation or "",
        family=r.family or "",
        maker=r.maker or "",
        position=r.position or "",
        machine=r.machine or "",
        years=Years(r.from_year, r.to_year),
        companions=list_items(r.companions),
        work=r.work or "",
        minutes=r.minutes,
        because_mate=r.because_mate or "",
        reason=r.reason or "",
        tell=r.tell or "",
        source=r.source or "",
        said_on=_iso(r.said_on),
    )


def _lots(session: Session, numbers: frozenset[tuple[str, str]]) -> Iterator[tuple[str, facts.Lot]]:
    values: dict[str, list[Any]] = defaultdict(list)
    for row in _rows(session, "lot_measures"):
        values[row.lot].append(row)
    for r in _rows(session, "lots"):
        yield (
            r.code,
            facts.Lot(
                code=r.code,
                kind=r.kind,
                design=r.design or "",
                quantity=r.quantity,
                condition=r.condition,
                checked=r.checked or "",
                place=r.place or "",
                values={v.measure: _known(v.value, number=(r.kind, v.measure) in numbers) for v in values[r.code]},
                from_machine=r.from_machine or "",
                from_position=r.from_position or "",
                number_seen=r.number_seen or "",
                note=r.note or "",
                counted_on=_iso(r.counted_on),
                about=bool(r.about),
            ),
        )


@dataclass(frozen=True, slots=True)
class _Positions:
    """What kind each position of a model takes; a model's own row goes before its generation's."""

    own: Mapping[tuple[str, str], str]
    of_generation: Mapping[tuple[str, str], str]
    generation: Mapping[str, str]

    @classmethod
    def read(cls, session: Session) -> _Positions:
        rows = list(_rows(session, "positions"))
        return cls(
            {(r.model, r.position): r.kind for r in rows if r.model},
            {(r.generation, r.position): r.kind for r in rows if r.generation},
            {r.key: r.generation for r in _rows(session, "models")},
        )

    def kind(self, model: str, position: str) -> str:
        generation = self.generation[model]
        return self.own.get((model, position)) or self.of_generation.get((generation, position), "")


def _machines(
    session: Session, machines: Mapping[str, Any], numbers: frozenset[tuple[str, str]]
) -> Iterator[tuple[str, facts.Machine]]:
    positions = _Positions.read(session)
    values: dict[tuple[str, str], dict[str, Known]] = defaultdict(dict)
    for v in _rows(session, "fitted_measures"):
        kind = positions.kind(machines[v.machine].model, v.position)
        values[v.machine, v.position][v.measure] = _known(v.value, number=(kind, v.measure) in numbers)
    fitted: dict[str, dict[str, facts.Fitted]] = defaultdict(dict)
    for r in _rows(session, "fitted"):
        part = facts.Fitted(r.state, r.design or "", r.condition or "", values[r.machine, r.position])
        fitted[r.machine][r.position] = part
    for m in machines.values():
        yield (
            m.code,
            facts.Machine(
                code=m.code,
                model=m.model,
                year=m.year,
                state=m.state,
                fitted=fitted[m.code],
                place=m.place or "",
                value_u=_micro(m.value),
                serial=m.serial or "",
                note=m.note or "",
            ),
        )


def _builds(session: Session, machines: Mapping[str, Any]) -> Iterator[tuple[str, Build]]:
    parts: dict[str, list[BuildPart]] = defaultdict(list)
    for r in sorted(_rows(session, "build_parts"), key=lambda r: (r.build, r.position, r.design or "", r.lot or "")):
        parts[r.build].append(BuildPart(r.position, r.design or "", r.lot or "", r.note or ""))
    for b in _rows(session, "builds"):
        yield (
            b.key,
            Build(
                key=b.key,
                name=b.name,
                model=b.model or machines[b.machine].model,
                machine=b.machine or "",
                value_u=_micro(b.value),
                budget_minor=b.budget,
                status=b.status,
                parts=tuple(parts[b.key]),
                note=b.note or "",
            ),
        )
