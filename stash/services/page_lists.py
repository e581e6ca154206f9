"""Lists as screens show them: loose parts and machines, filtered, a page at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Generic, TypeVar

from stash.db.store import Store
from stash.fit.catalogue import Catalogue
from stash.fit.checks import is_changed
from stash.fit.facts import Lot, Machine
from stash.plan.facts import Stock
from stash.services.titles import kind_name, lot_title, machine_title, place_path

Line = TypeVar("Line")
PAGE_SIZE = 50


@dataclass(frozen=True, slots=True)
class Page(Generic[Line]):
    """One page of a list.

    Args:
        lines: What stands on it.
        total: How many there are on all pages.
        number: Which page, from 1.
        last: How many pages, at least 1.
    """

    lines: tuple[Line, ...]
    total: int
    number: int
    last: int


@dataclass(frozen=True, slots=True)
class LotFilter:
    """Which lots are listed; empty fields do not restrict.

    Args:
        kind: Kind key.
        design: Design key.
        place: Place code, with all places inside it.
        condition: A condition.
        words: Each must occur.
        unidentified: Only those nobody has identified.
        unplaced: Only those not put away yet.
        empty: Also those with nothing left.
    """

    kind: str = ""
    design: str = ""
    place: str = ""
    condition: str = ""
    words: str = ""
    unidentified: bool = False
    unplaced: bool = False
    empty: bool = False


@dataclass(frozen=True, slots=True)
class LotLine:
    """A lot in a list."""

    lot: Lot
    title: str
    kind: str
    place: str


@dataclass(frozen=True, slots=True)
class MachineLine:
    """A machine in a list.

    Args:
        machine: The machine.
        title: What people call it.
        place: Where it stands.
        short: Positions that are missing or faulty.
        open: Positions nobody knows about.
        changed: Positions that carry something other than stock.
    """

    machine: Machine
    title: str
    place: str
    short: tuple[str, ...]
    open: tuple[str, ...]
    changed: tuple[str, ...]


def lots(store: Store, wanted: LotFilter, number: int = 1) -> Page[LotLine]:
    """List loose parts in order of kind, title and code."""
    catalogue, stock = store.catalogue(), store.stock()
    return _page(_wanted_lots(store, wanted), number, lambda lot: lot_line(catalogue, stock, lot))


def lot_codes(store: Store, wanted: LotFilter) -> tuple[str, ...]:
    """Return the codes of the lots a list would show, on all its pages, in its order."""
    return tuple(lot.code for lot in _wanted_lots(store, wanted))


def _wanted_lots(store: Store, wanted: LotFilter) -> Sequence[Lot]:
    catalogue, stock = store.catalogue(), store.stock()
    by_kind = store.derived("lots in order", (catalogue, stock), lambda: _by_kind(catalogue, stock))
    if wanted == LotFilter():
        return store.derived("loose lots in order", by_kind, lambda: _loose(by_kind))
    ordered = by_kind.get(wanted.kind, ()) if wanted.kind else chain.from_iterable(by_kind.values())
    inside = places_within(stock, wanted.place) if wanted.place else frozenset()
    found = [lot for lot in ordered if _is_wanted(lot, wanted, inside)]
    words = wanted.words.casefold().split()
    if words:
        found = [lot for lot in found if all(word in _haystack(catalogue, stock, lot) for word in words)]
    return found


def _by_kind(catalogue: Catalogue, stock: Stock) -> dict[str, list[Lot]]:
    """Return ``{kind: its lots in order}``, in order of the kinds' names."""
    kinds: dict[str, list[Lot]] = {}
    for lot in sorted(stock.lots.values(), key=lambda lot: (lot_title(catalogue, lot), lot.code)):
        kinds.setdefault(lot.kind, []).append(lot)
    return {kind: kinds[kind] for kind in sorted(kinds, key=lambda kind: (kind_name(catalogue, kind), kind))}


def _loose(by_kind: Mapping[str, Sequence[Lot]]) -> list[Lot]:
    return [lot for lots in by_kind.values() for lot in lots if lot.quantity > 0]


def lot_line(catalogue: Catalogue, stock: Stock, lot: Lot) -> LotLine:
    """Return a lot as a list shows it."""
    return LotLine(lot, lot_title(catalogue, lot), kind_name(catalogue, lot.kind), place_path(stock, lot.place))


def machines(store: Store, state: str = "", words: str = "", number: int = 1) -> Page[MachineLine]:
    """List machines in order of model, year and code."""
    catalogue, stock = store.catalogue(), store.stock()
    order = {key: position for position, key in enumerate(catalogue.model)}
    asked = words.casefold().split()
    found = [
        machine
        for machine in stock.machines.values()
        if (not state or machine.state == state)
        and all(
            word in f"{machine_title(catalogue, machine)} {machine.serial} {machine.code}".casefold() for word in asked
        )
    ]
    found.sort(key=lambda machine: (order[machine.model], machine.year or 0, machine.code))
    return _page(found, number, lambda machine: machine_line(catalogue, stock, machine))


def machine_line(catalogue: Catalogue, stock: Stock, machine: Machine) -> MachineLine:
    """Return a machine as a list shows it."""
    sheet = catalogue.positions[machine.model]
    by_state = {
        state: tuple(name for name in sheet if name in machine.fitted and machine.fitted[name].state == state)
        for state in ("missing", "faulty", "unknown")
    }
    return MachineLine(
        machine,
        machine_title(catalogue, machine),
        place_path(stock, machine.place),
        (*by_state["missing"], *by_state["faulty"]),
        by_state["unknown"],
        tuple(name for name in sheet if is_changed(catalogue, machine, name)),
    )


def machine_states(store: Store) -> dict[str, int]:
    """Count machines by state, most first.

    Returns:
        ``{state: machines}``.
    """
    counts: dict[str, int] = {}
    for machine in store.stock().machines.values():
        counts[machine.state] = counts.get(machine.state, 0) + 1
    return dict(sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])))


def places_within(stock: Stock, code: str) -> frozenset[str]:
    """Return a place and all places inside it, however deep."""
    inside: dict[str, list[str]] = {}
    for place in stock.places.values():
        inside.setdefault(place.inside, []).append(place.code)
    found, waiting = set[str](), [code]
    while waiting:
        each = waiting.pop()
        if each not in found:
            found.add(each)
            waiting.extend(inside.get(each, ()))
    return frozenset(found)


def alike(stock: Stock, lot: Lot) -> tuple[Lot, ...]:
    """Return the other lots that could be put together with a lot, in order of code."""
    return tuple(
        other
        for other in stock.lots_of.get((lot.kind, lot.design), ())
        if other.code != lot.code and other.condition == lot.condition and other.values == lot.values
    )


def _is_wanted(lot: Lot, wanted: LotFilter, inside: frozenset[str]) -> bool:
    return (
        (lot.quantity > 0 or wanted.empty)
        and wanted.kind in {"", lot.kind}
        and wanted.design in {"", lot.design}
        and wanted.condition in {"", lot.condition}
        and (not wanted.place or lot.place in inside)
        and (not wanted.unidentified or not lot.design)
        and (not wanted.unplaced or not lot.place)
    )


def _haystack(catalogue: Catalogue, stock: Stock, lot: Lot) -> str:
    numbers = " ".join(row.number for row in catalogue.numbers_of.get(lot.design, ()))
    said = (lot_title(catalogue, lot), kind_name(catalogue, lot.kind), numbers, lot.code, lot.number_seen, lot.note)
    return " ".join((*said, lot.condition, place_path(stock, lot.place))).casefold()


Thing = TypeVar("Thing")


def _page(found: Sequence[Thing], number: int, line: Callable[[Thing], Line]) -> Page[Line]:
    last = max(1, -(-len(found) // PAGE_SIZE))
    at = min(max(1, number), last)
    shown = found[(at - 1) * PAGE_SIZE : at * PAGE_SIZE]
    return Page(tuple(line(each) for each in shown), len(found), at, last)
