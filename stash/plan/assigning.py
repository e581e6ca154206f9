"""Between the programme's columns and parts in hand: a first answer written as columns, columns read as a pick list."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stash.fit.facts import Lot
from stash.plan.model import Model
from stash.plan.options import Option, Vacancy, Variant
from stash.plan.picking import Left, Picked
from stash.plan.wares import Allowed, Tier, Ware


@dataclass(frozen=True)
class Use:
    """Parts that go into one position.

    Args:
        vacancy: The position.
        option: What fills it.
        quantity: How many of them.
        lot: The lot they come from, None for a donor or the shop.
        tier: The tier, None for what was set aside.
    """

    vacancy: Vacancy
    option: Option
    quantity: int
    lot: Lot | None = None
    tier: Tier | None = None

    @property
    def spent_minor(self) -> int:
        """What they cost to buy."""
        return (self.tier.price_minor or 0) * self.quantity if self.tier else 0


def columns_of(model: Model, picked: Mapping[Variant, Picked]) -> list[float]:
    """Write an answer as a value for each column."""
    columns = [0.0] * len(model.programme.upper)
    for variant, found in picked.items():
        columns[model.built[variant]] = 1
        for position, option in found.options.items():
            columns[model.fills[variant][position][option]] = 1
            for tier, amount in found.draws[position]:
                bought = model.bought.get((variant, position), {}).get(option)
                if tier.price_minor is not None and bought is not None:
                    columns[bought] += amount
                else:
                    columns[model.flows[option.ware][option.ware.tiers.index(tier)]] += amount
                if tier.donor:
                    columns[model.stripped[tier.donor]] = 1
    return columns


def uses_of(model: Model, columns: Sequence[float]) -> dict[Variant, list[Use]]:
    """Read the columns as parts for each completed variant, in order of position.

    Tasks with a budget draw first from what costs them nothing: what the others buy is theirs alone.
    """
    chosen = [
        (variant, vacancy, option)
        for variant, z in model.built.items()
        if columns[z]
        for vacancy in variant.vacancies
        for option, x in model.fills[variant][vacancy.position.name].items()
        if columns[x]
    ]
    pool: dict[Ware, list[tuple[Tier, int]]] = {
        ware: [(tier, round(columns[flow])) for tier, flow in zip(ware.tiers, flows, strict=True)]
        for ware, flows in model.flows.items()
    }
    lots_left: dict[str, int] = {}
    uses: dict[Variant, list[Use]] = defaultdict(list)
    for variant, vacancy, option in sorted(chosen, key=lambda each: each[0].task.budget_minor is None):
        uses[variant] += _uses(model, columns, variant, vacancy, option, pool.get(option.ware, []), lots_left)
    return {variant: sorted(found, key=lambda use: use.vacancy.position.name) for variant, found in uses.items()} | {
        variant: [] for variant, z in model.built.items() if columns[z] and variant not in uses
    }


def _uses(
    model: Model,
    columns: Sequence[float],
    variant: Variant,
    vacancy: Vacancy,
    option: Option,
    pool: list[tuple[Tier, int]],
    lots_left: dict[str, int],
) -> list[Use]:
    uses = [Use(vacancy, option, units, lot) for lot, units in option.own]
    needed = vacancy.position.quantity - option.set_aside
    bought = model.bought.get((variant, vacancy.position.name), {}).get(option)
    if bought is not None and columns[bought]:
        amount = round(columns[bought])
        needed -= amount
        shop = next(tier for tier in option.ware.tiers if tier.price_minor is not None)
        uses.append(Use(vacancy, option, amount, tier=shop))
    for place, (tier, there) in enumerate(pool):
        amount = min(needed, there)
        if amount > 0:
            needed -= amount
            pool[place] = (tier, there - amount)
            uses += _from_tier(vacancy, option, tier, amount, lots_left)
    return uses


def _from_tier(vacancy: Vacancy, option: Option, tier: Tier, amount: int, lots_left: dict[str, int]) -> list[Use]:
    if not tier.lots:
        return [Use(vacancy, option, amount, tier=tier)]
    uses = []
    for lot, units in tier.lots:
        taken = min(amount, lots_left.setdefault(lot.code, units))
        if taken:
            lots_left[lot.code] -= taken
            amount -= taken
            uses.append(Use(vacancy, option, taken, lot, tier))
    return uses


def left_after(uses: Mapping[Variant, Sequence[Use]], allowed: Allowed) -> Left:
    """Return what is left once the parts are taken; further donors stay whole."""
    spent = sum(use.spent_minor for found in uses.values() for use in found)
    left = Left(
        stripped=frozenset(use.tier.donor for found in uses.values() for use in found if use.tier),
        buying=allowed.buy,
        purse_minor=None if allowed.purse_minor is None else allowed.purse_minor - spent,
    )
    for found in uses.values():
        for use in found:
            if use.tier is not None:
                key = (use.option.ware, use.option.ware.tiers.index(use.tier))
                left.taken[key] = left.taken.get(key, 0) + use.quantity
    return left
