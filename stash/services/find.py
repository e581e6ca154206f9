"""The one search box: a code, a scanned address, a part number or words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from stash.db.store import Store
from stash.fit.catalogue import Catalogue
from stash.kernel.codes import Code, parse_code
from stash.plan.facts import Stock
from stash.services.parts import near_numbers, numbers_like
from stash.services.standard_parts import hits
from stash.services.titles import kind_name, lot_title, machine_title, model_title, place_path

MOST = 200
"""How many hits are worth showing. Source: project decision."""


@dataclass(frozen=True, slots=True)
class Found:
    """One hit.

    Args:
        type: place, machine, lot, design, model, kind or build.
        code: Its code, or its key where it has no code.
        title: What it is called.
        detail: Where it is, or why it was found.
        sure: The text names this very thing.
    """

    type: str
    code: str
    title: str
    detail: str = ""
    sure: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The hit as plain data."""
        return {"type": self.type, "code": self.code, "title": self.title, "detail": self.detail, "sure": self.sure}


def find(store: Store, text: str) -> tuple[Found, ...]:
    """Look for a thing by code, scanned address, part number or words.

    Args:
        store: The database.
        text: What was typed or scanned; every word must occur.

    Returns:
        Hits, sure ones first, at most ``MOST``.
    """
    catalogue, stock = store.catalogue(), store.stock()
    exact = tuple(dict.fromkeys(_exact(catalogue, stock, text.strip())))
    if any(hit.sure and hit.type in {"place", "machine", "lot"} for hit in exact):
        return exact
    words = text.casefold().split()
    loose = (hit for hit in _worded(catalogue, stock, words) if words)
    known = {(hit.type, hit.code) for hit in exact}
    more = [hit for hit in loose if (hit.type, hit.code) not in known]
    return (*exact, *more)[:MOST]


def scanned_code(text: str) -> Code | None:
    """Return the code in what a scanner sent: the code itself, or an address that ends in ``/Q/CODE``."""
    head, slash, tail = text.strip().rpartition("/")
    if slash and head.upper().endswith("/Q"):
        return parse_code(tail)
    return parse_code(text)


def thing(catalogue: Catalogue, stock: Stock, code: str) -> Found | None:
    """Return what a code is stuck on, None when nothing has it."""
    if code in stock.places:
        place = stock.places[code]
        return Found("place", code, place.name, place_path(stock, place.inside), sure=True)
    if code in stock.machines:
        machine = stock.machines[code]
        return Found("machine", code, machine_title(catalogue, machine), machine.state, sure=True)
    if code in stock.lots:
        lot = stock.lots[code]
        return Found("lot", code, lot_title(catalogue, lot), place_path(stock, lot.place), sure=True)
    return None


def _exact(catalogue: Catalogue, stock: Stock, text: str) -> Iterator[Found]:
    code = scanned_code(text)
    hit = thing(catalogue, stock, str(code)) if code else None
    if hit is not None:
        yield hit
    rows = numbers_like(catalogue, text)
    for row in rows:
        if row.design:
            maker = catalogue.maker[row.maker].name
            yield Found("design", row.design, catalogue.design[row.design].name, f"{maker} {row.number}", sure=True)
    if text in catalogue.design:
        yield Found("design", text, catalogue.design[text].name, "", sure=True)
    if text in catalogue.model:
        yield Found("model", text, model_title(catalogue, text), "", sure=True)
    for type_, key, why, sure in () if rows else hits(catalogue, stock, text):
        title = catalogue.design[key].name if type_ == "design" else lot_title(catalogue, stock.lots[key])
        yield Found(type_, key, title, why, sure=sure)
    for row in () if rows else near_numbers(catalogue, text):
        if row.design:
            yield Found("design", row.design, catalogue.design[row.design].name, f"reads like {row.number}")


def _worded(catalogue: Catalogue, stock: Stock, words: list[str]) -> Iterator[Found]:
    for haystack, hit in _all(catalogue, stock):
        folded = haystack.casefold()
        if all(word in folded for word in words):
            yield hit


def _all(catalogue: Catalogue, stock: Stock) -> Iterator[tuple[str, Found]]:
    for machine in sorted(stock.machines.values(), key=lambda row: row.code):
        title = machine_title(catalogue, machine)
        yield f"{title} {machine.state} {machine.serial}", Found("machine", machine.code, title, machine.state)
    for place in sorted(stock.places.values(), key=lambda row: row.name):
        yield place.name, Found("place", place.code, place.name, place_path(stock, place.inside))
    for model in catalogue.model:
        yield f"{model} {model_title(catalogue, model)}", Found("model", model, model_title(catalogue, model))
    for design in catalogue.design.values():
        numbers = " ".join(row.number for row in catalogue.numbers_of.get(design.key, ()))
        title = design.name or design.key
        haystack = f"{design.key} {title} {kind_name(catalogue, design.kind)} {numbers}"
        yield haystack, Found("design", design.key, title, numbers)
    for lot in sorted(stock.lots.values(), key=lambda row: row.code):
        title = lot_title(catalogue, lot)
        numbers = " ".join(row.number for row in catalogue.numbers_of.get(lot.design, ()))
        haystack = f"{title} {kind_name(catalogue, lot.kind)} {numbers} {lot.number_seen} {lot.note} {lot.condition}"
        yield haystack, Found("lot", lot.code, title, place_path(stock, lot.place))
