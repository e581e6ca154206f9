"""What can be had, and from where: loose lots, donors that may be stripped, designs that may be bought.

Equal parts are one ware in tiers: what is the same in cost and condition is one tier, however many lots it lies in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design, part_of_fitted
from stash.fit.facts import Fitted, Lot, Machine
from stash.fit.mates import stock_designs
from stash.plan.facts import Stock
from stash.plan.shelf import sorts_by_kind
from stash.plan.spots import part_signature
from stash.plan.usable import CONDITION_POINTS, condition_rank, condition_refusal

MINOR_PER_VALUE_U = 10_000
"""Millionths of a unit of value in one minor unit of money: a machine's value is money in major units."""


@dataclass(frozen=True)
class Allowed:
    """What the owner allows beyond the shelf.

    Args:
        donors: Donors may be stripped; each costs its value.
        buy: Priced designs may be bought.
        work: Parts that fit with work, and parts that need work, may be used.
        strip: Donors that may be stripped though the others may not.
        purse_minor: Most money spent on buying over all builds together, minor units; None = no limit.
    """

    donors: bool = False
    buy: bool = False
    work: bool = False
    strip: frozenset[str] = frozenset()
    purse_minor: int | None = None

    def may_strip(self, donor: str) -> bool:
        """Tell whether a donor may be stripped."""
        return self.donors or donor in self.strip


@dataclass(frozen=True)
class Tier:
    """So many equal parts at one cost and in one condition.

    Args:
        points: Condition points of one part.
        condition: The condition, where it is one: a donor's part or a bought one.
        lots: The lots and how many may be taken of each, better known ones first; none for a donor or for buying.
        donor: Machine code, "" when not from a donor.
        position: The donor's position.
        assumed: Nobody looked at the donor's part; its stock sheet says so.
        price_minor: What one costs to buy, None when not bought.
        quantity: How many there are; None = no limit.
    """

    points: int
    condition: str = ""
    lots: tuple[tuple[Lot, int], ...] = ()
    donor: str = ""
    position: str = ""
    assumed: bool = False
    price_minor: int | None = None
    quantity: int | None = 0


@dataclass(frozen=True, eq=False)
class Ware:
    """Equal parts, from wherever they can be had, what costs nothing and is best first."""

    part: Part
    signature: Hashable
    tiers: tuple[Tier, ...]

    @property
    def supply(self) -> int:
        """How many can be had at most."""
        return sum(UNLIMITED if tier.quantity is None else tier.quantity for tier in self.tiers)


ARRIVED = Tier(0, "new", quantity=None)
"""A part that is imagined to have arrived."""

UNLIMITED = 1_000_000
"""More than any plan takes."""


def wares_by_kind(
    catalogue: Catalogue, stock: Stock, allowed: Allowed, aside: Mapping[str, int], busy: frozenset[str]
) -> dict[str, tuple[Ware, ...]]:
    """Return everything that can be had, ``{kind: wares}``.

    Args:
        catalogue: The facts.
        stock: What is owned.
        allowed: What may be used beyond the shelf.
        aside: ``{lot: how many}`` promised already.
        busy: Machines that are themselves to be completed, never donors.
    """
    parts: dict[Hashable, Part] = {}
    tiers: dict[Hashable, list[Tier]] = defaultdict(list)
    sources = [_loose(catalogue, stock, allowed, aside)]
    for code, row in sorted(stock.machines.items()):
        if row.state == "donor" and code not in busy and allowed.may_strip(code):
            sources.append(_from_donor(catalogue, row, allowed))
    if allowed.buy:
        sources.append(_bought(catalogue))
    for source in sources:
        for part, tier in source:
            signature = part_signature(part)
            parts.setdefault(signature, part)
            tiers[signature].append(tier)
    answer: dict[str, list[Ware]] = defaultdict(list)
    for signature, found in tiers.items():
        answer[parts[signature].kind].append(Ware(parts[signature], signature, tuple(found)))
    return {kind: tuple(wares) for kind, wares in answer.items()}


def donor_cost_minor(machine: Machine) -> int:
    """Return what stripping a donor costs: its value; nothing where no value is given."""
    return (machine.value_u or 0) // MINOR_PER_VALUE_U


def _loose(
    catalogue: Catalogue, stock: Stock, allowed: Allowed, aside: Mapping[str, int]
) -> Iterator[tuple[Part, Tier]]:
    for kind, sorts in sorts_by_kind(catalogue, stock.lots.values()).items():
        row = catalogue.kind.get(kind)
        for sort in sorts:
            tiers: dict[int, list[tuple[Lot, int]]] = defaultdict(list)
            for lot in sorted(sort.lots, key=lambda each: (condition_rank(each.condition), each.code)):
                left = lot.quantity - aside.get(lot.code, 0)
                if left > 0 and not condition_refusal(row, lot.condition, lot.checked, work=allowed.work):
                    tiers[CONDITION_POINTS[lot.condition]].append((lot, left))
            for points, lots in sorted(tiers.items()):
                yield sort.part, Tier(points, lots=tuple(lots), quantity=sum(units for _, units in lots))


def _from_donor(catalogue: Catalogue, donor: Machine, allowed: Allowed) -> Iterator[tuple[Part, Tier]]:
    """What a donor carries: what somebody saw on it, and where nobody looked, its stock if that is one design only."""
    for position in catalogue.positions[donor.model].values():
        row = donor.fitted.get(position.name)
        assumed = row is None
        if row is None:
            stock = stock_designs(catalogue, donor.model, position.name, donor.year)
            row = Fitted("present", stock[0]) if len(stock) == 1 else Fitted("unknown")
        design = catalogue.design.get(row.design)
        if row.state != "present" or design is None or design.kind != position.kind:
            continue
        condition = row.condition or "unknown"
        if condition_refusal(catalogue.kind.get(position.kind), condition, "", work=allowed.work):
            continue
        part = part_of_fitted(catalogue, design.kind, row)
        points = CONDITION_POINTS[condition]
        yield part, Tier(points, condition, (), donor.code, position.name, assumed, quantity=position.quantity)


def _bought(catalogue: Catalogue) -> Iterator[tuple[Part, Tier]]:
    for design in catalogue.design.values():
        if design.price_minor is not None:
            yield (
                part_of_design(design),
                Tier(CONDITION_POINTS["new"], "new", price_minor=design.price_minor, quantity=None),
            )
