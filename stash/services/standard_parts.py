"""Standard parts in answers: a designation names a part, and what differs from stock is told."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from stash.bench.standard import STANDARD_KINDS, StandardPart, read_standard, standard_values, to_mind
from stash.errors import InvalidInput, NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design, part_of_lot
from stash.fit.facts import Lot, Machine
from stash.fit.intervals import Known, interval
from stash.fit.mates import stock_designs
from stash.fit.verdicts import Finding
from stash.kernel.exact import parse_decimal, to_micro
from stash.key.standard import named, plain
from stash.plan.facts import Stock

BEARING = "main_bearing"
"""The kind, in the starter vocabulary, of which suffixes for clearance and closing decide something."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a number on a part says of it.

    Args:
        part: What the designation says.
        kind: The kind it belongs to.
        design: The design on record that it names, "" when none does.
        cells: ``{measure: cell}`` the kind can have.
    """

    part: StandardPart
    kind: str
    design: str
    cells: dict[str, str]


def seen(catalogue: Catalogue, text: str, kind: str = "") -> Seen | None:
    """Return what a number on a part says of it, None when it designates no standard part of one kind on record.

    Args:
        catalogue: The facts.
        text: What stands on it, such as ``6203-2RS/C3``.
        kind: The kind it must be, "" for any.
    """
    part = read_standard(text)
    if part is None or not part.whole or part.kind not in catalogue.kind or kind not in {"", part.kind}:
        return None
    exact = [hit.design for hit in named(catalogue, text) if hit.exact]
    cells = {key: cell for key, cell in part.values.items() if _can_have(catalogue, part.kind, key, cell)}
    return Seen(part, part.kind, exact[0] if exact else "", cells)


def part_named(catalogue: Catalogue, text: str) -> Part | None:
    """Return the part a designation stands for: a design on record, or else a part of its sizes alone."""
    found = seen(catalogue, text)
    if found is None:
        return None
    if found.design:
        return part_of_design(catalogue.design[found.design])
    known = _known(catalogue, found)
    return Part(found.kind, values=known, own=frozenset(known))


def part_of_loose(catalogue: Catalogue, lot: Lot) -> Part:
    """Return the part a lot stands for; where nobody identified it, its number may say what it is."""
    part = part_of_lot(catalogue, lot)
    found = None if lot.design else seen(catalogue, lot.number_seen, lot.kind)
    if found is None:
        return part
    design = catalogue.design.get(found.design)
    known = _known(catalogue, found)
    values = {**(design.values if design else {}), **known, **lot.values}
    return replace(part, design=found.design, values=values, own=part.own | known.keys())


def noted(
    catalogue: Catalogue, part: Part, model: str, position: str, finding: Finding, machine: Machine | None
) -> Finding:
    """Return a finding with what to mind where a bearing of another closing or clearance came on."""
    if part.kind != BEARING or finding.verdict == "wont_fit":
        return finding
    year = machine.year if machine else finding.years.from_year
    ours = plain(part.values)
    stock = stock_designs(catalogue, model, position, year)
    said = [to_mind(plain(catalogue.design[key].values), ours) for key in stock if key != part.design]
    if part.design in stock or not said or not all(said):
        return finding
    texts = dict.fromkeys(text for texts in said for text in texts)
    told = ". ".join(text[:1].upper() + text[1:] for text in texts) + "."
    return replace(finding, note=f"{finding.note} {told}".strip())


class Hit(NamedTuple):
    """A design or a lot that a designation finds: its type, key or code, why, and whether it is that very part."""

    type: str
    code: str
    detail: str
    sure: bool


def hits(catalogue: Catalogue, stock: Stock, text: str) -> Iterator[Hit]:
    """Find what a typed designation names: designs, the same part first, and loose lots stamped with it."""
    part = read_standard(text)
    if part is None:
        return
    for found in named(catalogue, text):
        told = "; ".join(found.differs) or f"{part.name}, {part.source}"
        yield Hit("design", found.design, told, found.exact)
    for lot in sorted(stock.lots.values(), key=lambda row: row.code):
        stamped = read_standard(lot.number_seen) if lot.number_seen and not lot.design else None
        if stamped is not None and (stamped.kind, stamped.name) == (part.kind, part.name):
            yield Hit("lot", lot.code, f"stamped {lot.number_seen}", sure=False)


def cells_of(kind: str, text: str) -> dict[str, str]:
    """Return what a designation says of a part of a kind, as cells of its measures; empty when nothing."""
    try:
        return standard_values(kind, text) if kind in STANDARD_KINDS else {}
    except (InvalidInput, NotFound):
        return {}


def _can_have(catalogue: Catalogue, kind: str, key: str, cell: str) -> bool:
    measure = catalogue.measure.get((kind, key))
    return measure is not None and (measure.type != "choice" or cell in measure.choices)


def _known(catalogue: Catalogue, found: Seen) -> dict[str, Known]:
    values: dict[str, Known] = {}
    for key, cell in found.cells.items():
        number = parse_decimal(cell) if catalogue.measure[found.kind, key].type == "number" else None
        values[key] = cell if number is None else interval(to_micro(number))
    return values
