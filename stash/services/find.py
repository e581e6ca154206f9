"""The one search box: a code, a scanned address, a part number or words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from rapidfuzz import fuzz

from stash.db.find_rows import SHORTEST, Hit, matching, nearly
from stash.db.findable import fold
from stash.db.store import Store
from stash.fit.catalogue import Catalogue
from stash.kernel.codes import Code, parse_code
from stash.plan.facts import Stock
from stash.services.parts import near_numbers, numbers_like
from stash.services.standard_parts import hits
from stash.services.titles import lot_title, machine_title, model_title, place_path

MOST = 200
"""How many hits are worth showing. Source: project decision."""
_CANDIDATES, _NEAR = 200, 20
"""How many texts are looked at for a slip, and how many are told. Source: project decision."""
_ALIKE = 75
"""How alike a word must be to one that is there, of 100. Source: project decision."""


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
    words = fold(text).split()
    known = {(hit.type, hit.code) for hit in exact}
    loose = _worded(store, catalogue, stock, words, slips=not exact) if words else ()
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


def _worded(store: Store, catalogue: Catalogue, stock: Stock, words: list[str], *, slips: bool) -> Iterator[Found]:
    """Yield what holds every word; where nothing does and slips are forgiven, what nearly does."""
    with store.reading() as session:
        indexed = store.indexed(session)
        found = matching(session, words, MOST, indexed=indexed)
        near = nearly(session, words, _CANDIDATES) if slips and indexed and not found else []
    for type_, key in found:
        hit = _named(catalogue, stock, type_, key)
        if hit is not None:
            yield hit
    for type_, key in _likest(words, near):
        hit = _named(catalogue, stock, type_, key)
        if hit is not None:
            yield replace(hit, detail="; ".join(filter(None, ("nearly that", hit.detail))))


def _likest(words: list[str], near: list[tuple[Hit, str]]) -> list[Hit]:
    """Return the candidates in which every long word is but a slip away, the likest first."""
    long = [word for word in words if len(word) > SHORTEST]
    ranked = []
    for at, (hit, said) in enumerate(near):
        there = said.split()
        likeness = min(max(fuzz.ratio(word, each) for each in there) for word in long) if there else 0
        short = all(word in said for word in words if word not in long)
        if likeness >= _ALIKE and short:
            ranked.append((-likeness, at, hit))
    return [hit for _, _, hit in sorted(ranked)][:_NEAR]


def _named(catalogue: Catalogue, stock: Stock, type_: str, key: str) -> Found | None:
    """Return a hit as it is shown, None where it went in the meantime."""
    if type_ == "design" and key in catalogue.design:
        design = catalogue.design[key]
        numbers = " ".join(row.number for row in catalogue.numbers_of.get(key, ()))
        return Found("design", key, design.name or key, numbers)
    if type_ == "model" and key in catalogue.model:
        return Found("model", key, model_title(catalogue, key))
    hit = thing(catalogue, stock, key)
    return replace(hit, sure=False) if hit else None
