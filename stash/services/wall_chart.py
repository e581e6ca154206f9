"""The interchange charts of a family as a wall needs them: a cell's verdict in a word, and what it takes as a note."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from stash.db.store import Store
from stash.errors import NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design
from stash.fit.facts import Design
from stash.fit.findings import Finding
from stash.fit.speed import overspeed
from stash.fit.wording import VERDICT_WORDS, design_name
from stash.kernel.tables import VERDICTS
from stash.plan.judging import Judge
from stash.services.gaps import judge
from stash.services.titles import kind_name, sentence_list

_MOST_NUMBERS = 2


@dataclass(frozen=True, slots=True)
class WallCell:
    """One design at one position of one model.

    Args:
        verdict: What may be promised for every year.
        note: What else must change, what work it takes, what differs by year; "" for none.
        stop: It must not run there whatever the verdict; the note says why.
    """

    verdict: str
    note: str = ""
    stop: bool = False


@dataclass(frozen=True, slots=True)
class WallColumn:
    """A model, with the position where it has several for the kind."""

    era: str
    name: str
    position: str


@dataclass(frozen=True, slots=True)
class WallRow:
    """A design with its numbers and one cell for each column."""

    name: str
    numbers: str
    cells: tuple[WallCell, ...]


@dataclass(frozen=True, slots=True)
class WallChart:
    """One chart.

    Args:
        title: What it shows.
        columns: By generation, in the order models are shown.
        rows: Designs that something is known of in this family.
    """

    title: str
    columns: tuple[WallColumn, ...]
    rows: tuple[WallRow, ...]


def wall_charts(store: Store, family: str, kinds: Sequence[str] = ()) -> tuple[WallChart, ...]:
    """Return the charts of a family.

    Args:
        store: The database.
        family: Its key.
        kinds: Keys of kinds; none for every kind that its models take. A kind of which nothing is known is left out.

    Raises:
        NotFound: There is no such family or kind, or nothing is known of any.
    """
    catalogue, referee = store.catalogue(), judge(store)
    unknown = [kind for kind in kinds if kind not in catalogue.kind]
    if family not in catalogue.family or unknown:
        raise NotFound(f"There is no family {family!r} or no kind {unknown}", "Choose from the catalogue.")
    charts = [_chart(catalogue, referee, family, kind) for kind in kinds or kinds_of(catalogue, family)]
    found = tuple(chart for chart in charts if chart.rows)
    if not found:
        raise NotFound("Nothing is known that such a chart could show", "Add positions, stock lines or rules first.")
    return found


def kinds_of(catalogue: Catalogue, family: str) -> tuple[str, ...]:
    """Return the kinds that models of a family take, by system and name."""
    kinds = {
        kind
        for key, model in catalogue.model.items()
        if catalogue.generation[model.generation].family == family
        for kind in catalogue.positions_of_kind[key]
    }
    return tuple(sorted(kinds, key=lambda kind: (catalogue.kind[kind].system, catalogue.kind[kind].name, kind)))


def _chart(catalogue: Catalogue, referee: Judge, family: str, kind: str) -> WallChart:
    spots = [
        (key, position)
        for key, model in catalogue.model.items()
        if catalogue.generation[model.generation].family == family
        for position in catalogue.positions_of_kind[key].get(kind, ())
    ]
    rows = []
    for design in catalogue.designs_of_kind.get(kind, ()):
        cells = tuple(_cell(catalogue, referee, part_of_design(design), *spot) for spot in spots)
        if any(cell.verdict != "unknown" or cell.note for cell in cells):
            rows.append(WallRow(design_name(catalogue, design.key), _numbers(catalogue, design), cells))
    name = kind_name(catalogue, kind)
    title = f"{name[:1].upper()}{name[1:]} in {catalogue.family[family].name}"
    return WallChart(title, tuple(_columns(catalogue, spots)), tuple(rows))


def _columns(catalogue: Catalogue, spots: Sequence[tuple[str, str]]) -> Iterator[WallColumn]:
    for key, found in groupby(spots, key=lambda spot: spot[0]):
        positions = [position for _, position in found]
        model = catalogue.model[key]
        for position in positions:
            era = catalogue.generation[model.generation].name
            yield WallColumn(era, model.name, position if len(positions) > 1 else "")


def _numbers(catalogue: Catalogue, design: Design) -> str:
    return ", ".join(row.number for row in catalogue.numbers_of.get(design.key, ())[:_MOST_NUMBERS])


def _cell(catalogue: Catalogue, referee: Judge, part: Part, model: str, position: str) -> WallCell:
    findings = referee.on_model(part, model, position)
    worst = max((finding.verdict for finding in findings), key=VERDICTS.index)
    danger = overspeed(catalogue, model, part)
    said = [(finding, _takes(catalogue, finding)) for finding in findings]
    if len(findings) > 1:
        notes = [f"{each.years}: {VERDICT_WORDS[each.verdict]}{' ' + takes if takes else ''}" for each, takes in said]
    else:
        notes = [takes for _, takes in said if takes]
    return WallCell(worst, "; ".join([*([danger] if danger else []), *notes]), bool(danger))


def _takes(catalogue: Catalogue, finding: Finding) -> str:
    """Say what else a finding asks for; "" for nothing."""
    texts = []
    if finding.verdict == "with_companions":
        changes = finding.companions.changes if finding.companions else ()
        items = [f"{design_name(catalogue, change.design)} ({change.position})" for change in changes]
        items += [sentence_list((_named(catalogue, key) for key in item), "or") for item in finding.demanded]
        texts.append("with " + sentence_list(dict.fromkeys(items)) if items else "with other parts")
    if finding.work:
        minutes = f", about {finding.minutes} min" if finding.minutes else ""
        texts.append(f"work: {finding.work}{minutes}")
    return "; ".join(texts)


def _named(catalogue: Catalogue, key: str) -> str:
    return design_name(catalogue, key) if key in catalogue.design else kind_name(catalogue, key)
