"""The buy list: what is short and nothing on the shelf fills, with the numbers to ask for and what it costs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from stash.db.store import Store
from stash.exchange.flat.listing import Listing
from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_design
from stash.fit.facts import Design, Machine
from stash.fit.speed import overspeed
from stash.fit.wording import VERDICT_WORDS, design_name
from stash.kernel.tables import VERDICTS
from stash.plan.gaps import Gap, Short
from stash.plan.judging import Judge
from stash.services.gaps import gaps, judge
from stash.services.home import gap_title
from stash.services.people_columns import Column, Wish, column, listed
from stash.services.titles import kind_name

_BUYABLE = ("bolts_on", "with_companions", "with_work", "likely")
"""Verdicts worth money, best first; what is unknown, disputed or won't fit is not bought."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One thing to buy.

    Args:
        gap: What it is for.
        position: Where it goes.
        kind: Its kind's key.
        quantity: How many.
        design: The design to buy; None where none is known to fit.
        verdict: What it would be there; "" without a design.
        others: Other designs with the same verdict there.
    """

    gap: Gap
    position: str
    kind: str
    quantity: int
    design: Design | None
    verdict: str
    others: tuple[Design, ...]


def buy_list(store: Store, wish: Wish | None = None) -> Listing:
    """Return the buy list, gap by gap; sums stand below amounts in print.

    Args:
        store: The database.
        wish: Columns and filters.
    """
    catalogue, stock = store.catalogue(), store.stock()
    columns: list[Column[Wanted]] = [
        column("for", "for", lambda each: gap_title(catalogue, stock, each.gap), wide=26),
        column("position", "where", lambda each: each.position, wide=20),
        column("kind", "kind", lambda each: kind_name(catalogue, each.kind), wide=18),
        column("quantity", "how many", lambda each: each.quantity, "whole", 8),
        column("buy", "buy", lambda each: design_name(catalogue, each.design.key) if each.design else "", wide=26),
        column("numbers", "numbers", lambda each: _numbers(catalogue, each.design), "texts", 26),
        column("verdict", "there it", lambda each: VERDICT_WORDS.get(each.verdict, "nothing known fits"), wide=18),
        column("price", "each", lambda each: each.design.price_minor if each.design else None, "money", 10),
        column("cost", "in all", _cost, "money", 10, total=True),
        column("others", "or", lambda each: _or(catalogue, each.others), "texts", 30),
        column("design", "design", lambda each: each.design.key if each.design else "", wide=16, usual=False),
    ]
    return listed("To buy", columns, wanted(store), wish or Wish())


def wanted(store: Store) -> Iterator[Wanted]:
    """Return what is to be bought, gap by gap, positions in the order they fall short.

    A machine that is also the most complete example of a wanted model needs its parts once.
    """
    catalogue, stock, referee = store.catalogue(), store.stock(), judge(store)
    seen: set[tuple[str, str]] = set()
    for gap in gaps(store):
        short = {each.position: each for each in gap.short}
        machine = stock.machines.get(gap.machine or "")
        for position, quantity in gap.still_short:
            if machine is not None and (machine.code, position) in seen:
                continue
            if machine is not None:
                seen.add((machine.code, position))
            yield _wanted(catalogue, referee, gap, short[position], quantity, machine)


def _wanted(
    catalogue: Catalogue, referee: Judge, gap: Gap, short: Short, quantity: int, machine: Machine | None
) -> Wanted:
    found = []
    for design in catalogue.designs_of_kind.get(short.kind, ()):
        if overspeed(catalogue, gap.model, part_of_design(design)):
            continue
        verdict = _verdict(referee, design, gap.model, short.position, machine)
        if verdict in _BUYABLE:
            price = design.price_minor
            found.append(((_BUYABLE.index(verdict), price is None, price or 0, design.key), design, verdict))
    found.sort(key=lambda each: each[0])
    best = found[0] if found else None
    others = tuple(design for _, design, verdict in found[1:4] if verdict == found[0][2])
    return Wanted(gap, short.position, short.kind, quantity, best[1] if best else None, best[2] if best else "", others)


def _verdict(referee: Judge, design: Design, model: str, position: str, machine: Machine | None) -> str:
    part = part_of_design(design)
    if machine is not None:
        return referee.on_machine(part, machine, position).verdict
    return max((found.verdict for found in referee.on_model(part, model, position)), key=VERDICTS.index)


def _numbers(catalogue: Catalogue, design: Design | None) -> tuple[str, ...]:
    rows = catalogue.numbers_of.get(design.key, ()) if design else ()
    return tuple(f"{catalogue.maker[row.maker].name} {row.number}" for row in rows if not row.replaced_by)


def _cost(each: Wanted) -> int | None:
    price = each.design.price_minor if each.design else None
    return None if price is None else price * each.quantity


def _or(catalogue: Catalogue, designs: Iterable[Design]) -> tuple[str, ...]:
    return tuple(design_name(catalogue, design.key) for design in designs)
