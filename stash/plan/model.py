"""The plan as a mixed-integer linear programme, in plain form.

::

    z  a variant is completed           sum of a task's z <= 1
    x  an option fills a vacancy        sum over the vacancy's options = z
    b  parts bought for a task with a budget
    f  parts taken from a ware's tier   what the options take, less b = sum of f; bought f <= what tasks without
                                        a budget take
    y  a donor is stripped              f from the donor <= quantity * y

    mates       an option's group <= the sum of the groups it goes with, at each position it meets
    companions  an option <= the sum of what may accompany it
    budgets     price * b <= budget * z
    purse       price * all that is bought <= purse

All amounts are whole numbers in the smallest unit: value in millionths, money in minor units.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from stash.plan.chains import Pairing
from stash.plan.matching import Matching
from stash.plan.options import Option, Vacancy, Variant
from stash.plan.usable import CONDITION_POINTS
from stash.plan.wares import Ware

INFINITY = float("inf")
Terms = dict[int, float]
"""``{column: coefficient}``."""


@dataclass
class Programme:
    """Columns with bounds, rows with bounds, and the four objectives in their order.

    Args:
        upper: Upper bound of each column; every lower bound is 0, and every column is whole.
        rows: ``(lowest, terms, highest)``.
        goals: Value (to be as large as possible), then money, minutes and condition (as small as possible).
    """

    upper: list[float] = field(default_factory=list)
    rows: list[tuple[float, Terms, float]] = field(default_factory=list)
    value: Terms = field(default_factory=dict)
    money: Terms = field(default_factory=dict)
    minutes: Terms = field(default_factory=dict)
    condition: Terms = field(default_factory=dict)

    def column(self, upper: float) -> int:
        """Add a column."""
        self.upper.append(upper)
        return len(self.upper) - 1

    def row(self, lowest: float, terms: Terms, highest: float) -> None:
        """Add a row."""
        self.rows.append((lowest, terms, highest))


@dataclass
class Model:
    """The programme with what its columns stand for.

    Args:
        programme: The numbers.
        built: ``{variant: z}``.
        fills: ``{variant: {position: {option: x}}}``.
        stripped: ``{donor: y}``.
        flows: ``{ware: f of each tier}``, in the tiers' order.
        bought: ``{(variant, position): {option: b}}`` for tasks with a budget.
    """

    programme: Programme
    built: dict[Variant, int] = field(default_factory=dict)
    fills: dict[Variant, dict[str, dict[Option, int]]] = field(default_factory=dict)
    stripped: dict[str, int] = field(default_factory=dict)
    flows: dict[Ware, list[int]] = field(default_factory=dict)
    bought: dict[tuple[Variant, str], dict[Option, int]] = field(default_factory=dict)


def build_model(
    variants: Sequence[Variant], matching: Matching, donor_costs: Mapping[str, int], purse_minor: int | None = None
) -> Model:
    """Write the plan down.

    Args:
        variants: What may be completed, narrowed.
        matching: Pairs options across mates.
        donor_costs: ``{donor: what stripping it costs, minor units}``.
        purse_minor: Most money spent on buying, minor units; None = no limit.
    """
    model = Model(Programme())
    writer = _Writer(model, donor_costs)
    for variant in variants:
        writer.write_variant(variant)
        for pairing in matching.pairings(variant.task.model, _domains(variant)):
            writer.write_pairing(variant, pairing)
    writer.write_tasks()
    writer.write_supply()
    if purse_minor is not None:
        writer.write_purse(purse_minor)
    return model


def _domains(variant: Variant) -> dict[str, Sequence[Option]]:
    return {vacancy.position.name: vacancy.options for vacancy in variant.vacancies}


class _Writer:
    def __init__(self, model: Model, donor_costs: Mapping[str, int]) -> None:
        self._model = model
        self._programme = model.programme
        self._donor_costs = donor_costs
        self._taken: dict[Ware, Terms] = defaultdict(dict)
        self._spent: dict[Variant, Terms] = defaultdict(dict)
        self._unbudgeted: dict[Ware, Terms] = defaultdict(dict)

    def write_variant(self, variant: Variant) -> None:
        """Its z, its x, and the companions its rules demand."""
        programme = self._programme
        z = self._model.built[variant] = programme.column(1)
        programme.value[z] = variant.task.value_u
        places = self._model.fills[variant] = {}
        for vacancy in variant.vacancies:
            columns = places[vacancy.position.name] = {option: programme.column(1) for option in vacancy.options}
            programme.row(0, {**dict.fromkeys(columns.values(), 1.0), z: -1.0}, 0)
            for option, x in columns.items():
                self._write_option(variant, vacancy, option, x)
        for position, columns in places.items():
            for option, x in columns.items():
                for item in option.demands:
                    self._write_demand(variant, position, x, item)

    def _write_option(self, variant: Variant, vacancy: Vacancy, option: Option, x: int) -> None:
        """What an option takes, and what it costs by itself."""
        programme, ware = self._programme, option.ware
        taken = vacancy.position.quantity - option.set_aside
        own = sum(units * CONDITION_POINTS.get(lot.condition, 5) for lot, units in option.own)
        if option.minutes:
            programme.minutes[x] = option.minutes
        if own:
            programme.condition[x] = own
        if not taken:
            return
        self._taken[ware][x] = taken
        price = next((tier.price_minor for tier in ware.tiers if tier.price_minor is not None), None)
        if price and variant.task.budget_minor is not None:
            bought = programme.column(taken)
            programme.row(-INFINITY, {bought: 1.0, x: -taken}, 0)
            self._taken[ware][bought] = -1
            self._spent[variant][bought] = price
            self._model.bought.setdefault((variant, vacancy.position.name), {})[option] = bought
            programme.money[bought] = price
        else:
            self._unbudgeted[ware][x] = -taken

    def _write_demand(self, variant: Variant, position: str, x: int, item: tuple[str, ...]) -> None:
        """An option comes only with one of the companions demanded, unless the machine carries it."""
        if variant.task.carried.intersection(item):
            return
        company = {
            other_x: -1.0
            for other, columns in self._model.fills[variant].items()
            if other != position
            for other_option, other_x in columns.items()
            if {other_option.ware.part.design, other_option.ware.part.kind}.intersection(item)
        }
        self._programme.row(-INFINITY, {x: 1.0, **company}, 0)

    def write_pairing(self, variant: Variant, pairing: Pairing) -> None:
        """Each group comes only with its partners, from both sides."""
        here, there = self._model.fills[variant][pairing.one], self._model.fills[variant][pairing.other]
        back = [
            frozenset(place for place, partners in enumerate(pairing.partners) if other in partners)
            for other in range(len(pairing.others))
        ]
        self._write_side(pairing.ones, here, pairing.partners, pairing.others, there)
        self._write_side(pairing.others, there, back, pairing.ones, here)

    def _write_side(
        self,
        groups: Sequence[Sequence[Option]],
        columns: Mapping[Option, int],
        partners: Iterable[frozenset[int]],
        far_groups: Sequence[Sequence[Option]],
        far_columns: Mapping[Option, int],
    ) -> None:
        """Groups with the same partners share a row."""
        alike: dict[frozenset[int], list[Option]] = defaultdict(list)
        for group, found in zip(groups, partners, strict=True):
            alike[found].extend(group)
        for found, options in alike.items():
            if len(found) < len(far_groups):
                terms = {columns[option]: 1.0 for option in options}
                terms.update({far_columns[option]: -1.0 for place in found for option in far_groups[place]})
                self._programme.row(-INFINITY, terms, 0)

    def write_tasks(self) -> None:
        """At most one variant of each task; each within its budget."""
        variants: dict[str, Terms] = defaultdict(dict)
        for variant, z in self._model.built.items():
            variants[variant.task.key][z] = 1.0
            if variant in self._spent:
                budget = variant.task.budget_minor or 0
                self._programme.row(-INFINITY, {**self._spent[variant], z: -float(budget)}, 0)
        for terms in variants.values():
            if len(terms) > 1:
                self._programme.row(0, terms, 1)

    def write_supply(self) -> None:
        """What is taken of each ware is there, or comes from a donor or the shop."""
        sources: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for ware, taken in self._taken.items():
            self._write_ware(ware, taken, sources)
        for donor, flows in sources.items():
            y = self._model.stripped[donor] = self._programme.column(1)
            if self._donor_costs.get(donor):
                self._programme.money[y] = self._donor_costs[donor]
            for flow, quantity in flows:
                self._programme.row(-INFINITY, {flow: 1.0, y: -float(quantity)}, 0)

    def write_purse(self, purse_minor: int) -> None:
        """All that is bought together costs no more than is to be spent."""
        donors = set(self._model.stripped.values())
        bought = {column: price for column, price in self._programme.money.items() if column not in donors}
        if bought:
            self._programme.row(-INFINITY, bought, purse_minor)

    def _write_ware(self, ware: Ware, taken: Terms, sources: dict[str, list[tuple[int, int]]]) -> None:
        programme, flows = self._programme, Terms()
        most = sum(amount for amount in taken.values() if amount > 0)
        for tier in ware.tiers:
            flow = programme.column(most if tier.quantity is None else min(most, tier.quantity))
            flows[flow] = -1.0
            self._model.flows.setdefault(ware, []).append(flow)
            if tier.points:
                programme.condition[flow] = tier.points
            if tier.price_minor:
                programme.money[flow] = tier.price_minor
                programme.row(-INFINITY, {flow: 1.0, **self._unbudgeted[ware]}, 0)
            if tier.donor:
                sources[tier.donor].append((flow, tier.quantity or 0))
        programme.row(0, {**taken, **flows}, 0)
