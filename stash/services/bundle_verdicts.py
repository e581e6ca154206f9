"""Which verdicts would be others if some catalogue rows were taken in: both catalogues are asked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from stash.db.rows import CATALOGUE_TABLES
from stash.db.store import Store, open_store
from stash.exchange import RawTable, RawTables
from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_design
from stash.fit.facts import Design
from stash.kernel.tables import TABLES
from stash.kernel.years import Years
from stash.plan.judging import Judge
from stash.services.gaps import judge
from stash.services.tables import export, load

MOST = 200_000
"""Verdicts compared at most; a catalogue with more is compared in part, and that is said. Source: project decision."""


@dataclass(frozen=True, slots=True)
class Changed:
    """A verdict that would be another one.

    Args:
        design: The design.
        model: The model.
        position: The position.
        years: In which years, as text.
        before: The verdict now; "" where the design or model is not known here.
        after: The verdict then.
    """

    design: str
    model: str
    position: str
    years: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """What would change, and whether not everything was compared."""

    changed: tuple[Changed, ...]
    unsure: bool


def changed_verdicts(store: Store, tables: RawTables) -> Comparison:
    """Compare every verdict of every design known here on every model known here, as is and with rows taken in.

    Args:
        store: The database; nothing is written to it.
        tables: The rows, found sound before.
    """
    with TemporaryDirectory() as folder:
        tried = open_store(str(Path(folder) / "tried.sqlite"))
        try:
            load(tried, _raw(store), "tried", ledger=False)
            load(tried, tables, "tried", ledger=False)
            return _compared(store.catalogue(), judge(store), tried.catalogue())
        finally:
            tried.close()


def _raw(store: Store) -> RawTables:
    names = {table.name: table.names for table in TABLES}
    whole = {name: rows for name, rows in export(store).items() if name in CATALOGUE_TABLES}
    machine = names["rules"].index("machine")
    for row in whole["rules"]:
        row[machine] = ""  # machines are not tried; a rule about one says nothing of models
    return {name: RawTable(names[name], list(enumerate(rows, 1))) for name, rows in whole.items()}


def _compared(before: Catalogue, referee: Judge, after: Catalogue) -> Comparison:
    later = Judge(after)
    found: list[Changed] = []
    for seen, (design, model, position) in enumerate(_questions(before, after)):
        if seen >= MOST:
            return Comparison(tuple(found), unsure=True)
        known = position in before.positions[model]
        old = _verdicts(referee, design, model, position) if known else {}
        new_design = after.design[design.key]
        new = _verdicts(later, new_design, model, position)
        if old != new:
            found += _differences(design, model, position, old, new)
    return Comparison(tuple(found), unsure=False)


def _questions(before: Catalogue, after: Catalogue) -> Iterator[tuple[Design, str, str]]:
    for design in before.design.values():
        for model in after.models_with_kind.get(after.design[design.key].kind, ()):
            if model in before.model:
                for position in after.positions_of_kind[model][after.design[design.key].kind]:
                    yield design, model, position


def _verdicts(referee: Judge, design: Design, model: str, position: str) -> dict[Years, str]:
    findings = referee.on_model(part_of_design(design), model, position)
    return {finding.years: finding.verdict for finding in findings}


def _differences(
    design: Design, model: str, position: str, old: dict[Years, str], new: dict[Years, str]
) -> Iterator[Changed]:
    for years, verdict in new.items():
        was = {old[each] for each in old if each.common(years) is not None}
        if was != {verdict}:
            yield Changed(design.key, model, position, str(years), " or ".join(sorted(was)), verdict)
