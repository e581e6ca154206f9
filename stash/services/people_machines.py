"""The collection as a flat list, and the insurance list with photos."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import RowMapping, select

from stash.db.models import ROWS
from stash.db.store import Store
from stash.exchange.flat.listing import Listing, Value
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Machine
from stash.plan.facts import Stock
from stash.services import pictures
from stash.services.people_columns import Column, Wish, column, listed
from stash.services.photos import first_photos
from stash.services.sheets import SheetLine, as_built
from stash.services.titles import kind_name, machine_title, place_path

_NOTE = "Amounts are what was paid and the catalogue prices entered here; they are no appraisal."


@dataclass(frozen=True, slots=True)
class _Owned:
    """A machine with what only its row knows."""

    machine: Machine
    row: RowMapping


def collection_list(store: Store, wish: Wish | None = None) -> Listing:
    """Return the machines, each with what differs from how it left the factory.

    Args:
        store: The database.
        wish: Columns, filters, and whether machines that are gone are listed too.
    """
    asked = wish or Wish()
    catalogue, stock = store.catalogue(), store.stock()

    def lines(owned: _Owned) -> list[SheetLine]:
        return [line for system in as_built(catalogue, stock, owned.machine) for line in system.lines]

    columns: list[Column[_Owned]] = [
        *_common(catalogue, stock),
        column("changed", "not as it left the factory", lambda each: _changed(lines(each)), "texts", 40),
        column("missing", "missing or faulty", lambda each: _short(lines(each)), "texts", 30),
        column("assumed", "assumed stock, not seen", lambda each: _assumed(lines(each)), "whole", 10, usual=False),
        column("originals", "its originals, loose", lambda each: _originals(lines(each), stock), "texts", 34),
        *_money(),
        column("note", "note", lambda each: each.machine.note, wide=40),
    ]
    return listed("The collection", columns, _machines(store, everything=asked.all), asked)


def insurance_list(store: Store, wish: Wish | None = None) -> Listing:
    """Return the insurance list: every machine with a photo, and the loose parts summed up by kind.

    Args:
        store: The database.
        wish: Columns and filters; ``all`` adds machines that are gone.
    """
    asked = wish or Wish()
    columns: list[Column[_Insured]] = [
        column("photo", "photo", lambda each: each.photo, "picture", 14),
        column("code", "stash code", lambda each: each.code, wide=10),
        column("what", "what", lambda each: each.what, wide=34),
        column("serial", "serial number", lambda each: each.serial, wide=18),
        column("quantity", "quantity", lambda each: each.quantity, "whole", 9),
        column("state", "state", lambda each: each.state, wide=12),
        column("place", "place", lambda each: each.place, wide=26),
        column("bought", "acquired", lambda each: each.bought, "date", 11),
        column("from", "from whom", lambda each: each.seller, wide=18),
        column("paid", "paid", lambda each: each.paid, "money", 11, total=True),
        column("price", "catalogue price", lambda each: each.price, "money", 11, total=True),
    ]
    return listed("Insurance list", columns, _insured(store, everything=asked.all), asked, (_NOTE,))


@dataclass(frozen=True, slots=True)
class _Insured:
    code: str
    what: str
    quantity: int
    serial: str = ""
    state: str = ""
    place: str = ""
    bought: dt.date | None = None
    seller: str = ""
    paid: int | None = None
    price: int | None = None
    photo: bytes | None = None


def _insured(store: Store, *, everything: bool) -> Iterator[_Insured]:
    catalogue, stock = store.catalogue(), store.stock()
    photos = first_photos(store)
    for owned in _machines(store, everything=everything):
        machine, row = owned.machine, owned.row
        yield _Insured(
            machine.code,
            machine_title(catalogue, machine),
            1,
            machine.serial,
            machine.state,
            place_path(stock, machine.place),
            row["acquired_on"],
            row["from_whom"] or "",
            row["paid"],
            None,
            pictures.small(store, photos.get(machine.code, "")),
        )
    yield from _parts(store, catalogue, stock)


def _parts(store: Store, catalogue: Catalogue, stock: Stock) -> Iterator[_Insured]:
    sql = ROWS["lots"].__table__
    with store.reading() as session:
        paid = {row.code: row.paid for row in session.execute(select(sql.c.code, sql.c.paid)) if row.paid is not None}
    sums: dict[str, list[int]] = {}
    for lot in stock.lots.values():
        design = catalogue.design.get(lot.design)
        price = (design.price_minor or 0) if design else 0
        if lot.quantity:
            kept = sums.setdefault(lot.kind, [0, 0, 0])
            for at, more in enumerate((lot.quantity, paid.get(lot.code, 0), price * lot.quantity)):
                kept[at] += more
    for kind in sorted(sums, key=lambda each: kind_name(catalogue, each)):
        quantity, spent, price = sums[kind]
        what = f"loose parts: {kind_name(catalogue, kind)}"
        yield _Insured("", what, quantity, paid=spent or None, price=price or None)


def _common(catalogue: Catalogue, stock: Stock) -> list[Column[_Owned]]:
    def maker(each: _Owned) -> Value:
        model = catalogue.model[each.machine.model]
        return catalogue.maker[model.maker].name

    return [
        column("code", "stash code", lambda each: each.machine.code, wide=10),
        column("what", "machine", lambda each: machine_title(catalogue, each.machine), wide=26),
        column("maker", "maker", maker, wide=14, usual=False),
        column("model", "model", lambda each: catalogue.model[each.machine.model].name, wide=16, usual=False),
        column("year", "year", lambda each: each.machine.year, "whole", 7),
        column("serial", "serial number", lambda each: each.machine.serial, wide=18),
        column("state", "state", lambda each: each.machine.state, wide=10),
        column("place", "place", lambda each: place_path(stock, each.machine.place), wide=26),
    ]


def _money() -> list[Column[_Owned]]:
    return [
        column("bought", "acquired", lambda each: each.row["acquired_on"], "date", 11),
        column("from", "from whom", lambda each: each.row["from_whom"] or "", wide=18, usual=False),
        column("paid", "paid", lambda each: each.row["paid"], "money", 11, total=True),
    ]


def _machines(store: Store, *, everything: bool) -> list[_Owned]:
    sql = ROWS["machines"].__table__
    with store.reading() as session:
        rows: dict[str, Any] = {row["code"]: row for row in session.execute(select(sql)).mappings()}
    catalogue, stock = store.catalogue(), store.stock()
    owned = [
        _Owned(machine, rows[machine.code])
        for machine in stock.machines.values()
        if machine.code in rows and (everything or machine.state != "gone")
    ]
    return sorted(owned, key=lambda each: (machine_title(catalogue, each.machine), each.machine.code))


def _changed(lines: Iterable[SheetLine]) -> tuple[str, ...]:
    return tuple(_change(line) for line in lines if line.state == "swapped")


def _change(line: SheetLine) -> str:
    now = ", ".join([line.name or "not known which", *line.values])
    if line.name in line.stock or not line.stock:
        return f"{line.position.name}: {now}"
    return f"{line.position.name}: {now}, where {' or '.join(line.stock)} came"


def _short(lines: Iterable[SheetLine]) -> tuple[str, ...]:
    return tuple(f"{line.position.name}: {line.state}" for line in lines if line.state in {"missing", "faulty"})


def _assumed(lines: Iterable[SheetLine]) -> int:
    return sum(1 for line in lines if line.state == "assumed")


def _originals(lines: Iterable[SheetLine], stock: Stock) -> tuple[str, ...]:
    return tuple(
        f"{line.position.name}: {lot.code}" + (f" in {place_path(stock, lot.place)}" if lot.place else "")
        for line in lines
        for lot in line.originals
    )
