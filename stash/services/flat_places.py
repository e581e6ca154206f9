"""Where a row's part lies: a place by its code or name, or one that would be made."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from stash.exchange.flat.vocabulary import plain
from stash.kernel.cells import Fault, read_cell
from stash.kernel.codes import parse_code
from stash.kernel.tables import TABLE_BY_NAME
from stash.plan.facts import Stock
from stash.services.flat_asking import Asking
from stash.services.flat_facts import Doubt, Offer
from stash.services.titles import place_path

SHOWN_INSIDE = " \u203a "
"""What stands between the names of nested places wherever the program shows them."""
NEW = "new place: "
"""What a place that would be made begins with, where other rows have a code."""
_NAME = TABLE_BY_NAME["places"].column("name")


class PlaceRef(NamedTuple):
    """A place: its code; or one that would be made: its names, outermost first, and how many are not there yet.

    ``inside`` is the code of the place around those that are not there yet, "" for none.
    """

    code: str = ""
    names: tuple[str, ...] = ()
    missing: int = 0
    inside: str = ""
    doubts: tuple[Doubt, ...] = ()
    wrong: str = ""

    @property
    def cell(self) -> str:
        """The code, or a text that stands for the new place until it has one."""
        return self.code or (NEW + self.shown if self.names else "")

    @property
    def shown(self) -> str:
        """The new place's path as it is shown."""
        return SHOWN_INSIDE.join(self.names)


class PlaceFinder:
    """Finds places by what a sheet calls them.

    Args:
        stock: The places there are.
        separator: What separates nested names in a cell, "" where names are not nested.
        asking: Takes the questions.
    """

    def __init__(self, stock: Stock, separator: str, asking: Asking) -> None:
        self._stock = stock
        self._separator = separator
        self._asking = asking
        self._by_name: dict[str, list[str]] = defaultdict(list)
        self._within: dict[tuple[str, str], list[str]] = defaultdict(list)
        for code, place in sorted(stock.places.items()):
            self._by_name[_same(place.name)].append(code)
            self._within[place.inside, _same(place.name)].append(code)
        self._known: dict[str, PlaceRef] = {}

    def find(self, text: str) -> PlaceRef:
        """Return the place a cell names; of several of one name none, with a question."""
        if text not in self._known:
            self._known[text] = self._find(text)
        return self._known[text]

    def _find(self, text: str) -> PlaceRef:
        if not text:
            return PlaceRef()
        code = parse_code(text)
        if code is not None and str(code) in self._stock.places:
            return PlaceRef(str(code))
        names = self._names(text)
        long = [name for name in names if isinstance(read_cell(_NAME, name), Fault)]
        if long:
            return PlaceRef(wrong=f"the place {long[0][:40]!r}... has no name a place can have")
        return self._nested(names) if len(names) > 1 else self._single(names[0])

    def _names(self, text: str) -> list[str]:
        if SHOWN_INSIDE in text:
            return [part.strip() for part in text.split(SHOWN_INSIDE) if part.strip()]
        parts = [part.strip() for part in text.split(self._separator)] if self._separator else [text]
        return [part for part in parts if part] or [text]

    def _nested(self, names: list[str]) -> PlaceRef:
        inside = ""
        for depth, name in enumerate(names):
            found = self._within.get((inside, _same(name)), [])
            if depth == 0 and not found and len(self._by_name[_same(name)]) == 1:
                found = self._by_name[_same(name)]
            if not found:
                return PlaceRef(names=tuple(names), missing=len(names) - depth, inside=inside)
            inside = found[0]
        return PlaceRef(inside)

    def _single(self, name: str) -> PlaceRef:
        found = self._by_name.get(_same(name), [])
        if len(found) == 1:
            return PlaceRef(found[0])
        if not found:
            return PlaceRef(names=(name,), missing=1)
        key = f"place:{plain(name)}"
        given = self._asking.answer(key)
        text = f"{len(found)} places are called {name!r}"
        offers = tuple(Offer(code, place_path(self._stock, code), "by its name") for code in found)
        self._asking.ask(key, f"{text}. Which one?", offers, answered=given in found)
        return PlaceRef(given) if given in found else PlaceRef(doubts=(Doubt("place", text, key),))


def _same(name: str) -> str:
    return " ".join(name.casefold().split())
