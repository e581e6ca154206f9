"""Picking by hand: task after task, each taking the best of what is left. Also the plan's first answer.

Nothing here looks ahead, so an early task may take the part that two later ones wait for; the plan shows what that
costs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import compress

from stash.plan.filling import Choice, Need, fill
from stash.plan.matching import Matching
from stash.plan.options import Option, Variant
from stash.plan.wares import UNLIMITED, Tier, Ware


@dataclass
class Left:
    """What is left of every tier while parts are taken.

    Args:
        taken: ``{(ware, place of the tier): how many are gone}``.
        stripped: Donors that may be taken from; None = any.
        buying: Whether what is bought may be taken.
        purse_minor: Money left for buying, minor units; None = no limit.
    """

    taken: dict[tuple[Ware, int], int] = field(default_factory=dict)
    stripped: frozenset[str] | None = None
    buying: bool = True
    purse_minor: int | None = None

    def tiers(self, ware: Ware) -> Iterable[tuple[int, Tier, int]]:
        """Yield (place, tier, how many are left) of the tiers that may be taken from."""
        for place, tier in enumerate(ware.tiers):
            if tier.donor and self.stripped is not None and tier.donor not in self.stripped:
                continue
            if tier.price_minor is not None and not self.buying:
                continue
            left = UNLIMITED if tier.quantity is None else tier.quantity - self.taken.get((ware, place), 0)
            yield place, tier, left

    def supply(self, ware: Ware) -> int:
        """Return how many of a ware are left."""
        return sum(left for _, _, left in self.tiers(ware))

    def take(self, ware: Ware, quantity: int) -> list[tuple[Tier, int]]:
        """Take so many, from the first tiers first."""
        took = []
        for place, tier, left in self.tiers(ware):
            amount = min(quantity, left)
            if amount > 0:
                self.taken[ware, place] = self.taken.get((ware, place), 0) + amount
                quantity -= amount
                took.append((tier, amount))
        return took

    def put_back(self, ware: Ware, taken: Iterable[tuple[Tier, int]]) -> None:
        """Put back what was taken."""
        for tier, amount in taken:
            self.taken[ware, ware.tiers.index(tier)] -= amount


def fill_variant(
    variant: Variant, matching: Matching, left: Left, *, only: Mapping[str, Sequence[Option]] | None = None
) -> dict[str, Option]:
    """Fill a variant from what is left, leaving as few positions empty as possible.

    Args:
        variant: The variant.
        matching: Pairs options across mates.
        left: What is left.
        only: ``{position: options}`` to use in place of the variant's own.

    Returns:
        ``{position: option}`` of what is filled.
    """
    needs = []
    for vacancy in variant.vacancies:
        options = (only or {}).get(vacancy.position.name, vacancy.options)
        choices = tuple(
            Choice(option.ware, option.ware.part, left.supply(option.ware) + option.set_aside, option.demands)
            for option in options
        )
        needs.append((vacancy, options, choices))
    by_choice = {
        choice: option for _, options, choices in needs for choice, option in zip(choices, options, strict=True)
    }

    def beside(one: str, here: Choice[Ware], other: str, choices: list[Choice[Ware]]) -> list[Choice[Ware]]:
        if not matching.meet(variant.task.model, one, other):
            return choices
        options = [by_choice[choice] for choice in choices]
        return list(compress(choices, matching.beside(variant.task.model, one, by_choice[here], other, options)))

    filling = fill(
        [
            Need(vacancy.position.name, vacancy.position.kind, vacancy.position.quantity, choices)
            for vacancy, _, choices in needs
        ],
        beside,
        variant.task.carried,
    )
    return {name: by_choice[choice] for name, choice in filling.chosen.items()}


@dataclass(frozen=True)
class Picked:
    """A completed variant: what fills each position, and what was taken for it.

    Args:
        options: ``{position: option}``.
        draws: ``{position: [(tier, how many)]}``, beyond what is set aside.
    """

    options: Mapping[str, Option]
    draws: Mapping[str, Sequence[tuple[Tier, int]]]


def pick_in_order(variants: Sequence[Variant], matching: Matching, left: Left) -> dict[Variant, Picked]:
    """Complete what can be completed, in the order given, at most one variant of a task.

    Args:
        variants: What to complete.
        matching: Pairs options across mates.
        left: What is there; what remains when it is done.
    """
    done: set[str] = set()
    picked: dict[Variant, Picked] = {}
    for variant in variants:
        if variant.task.key in done:
            continue
        found = pick_variant(variant, matching, left)
        if found is not None:
            done.add(variant.task.key)
            picked[variant] = found
    return picked


def pick_variant(
    variant: Variant, matching: Matching, left: Left, *, only: Mapping[str, Sequence[Option]] | None = None
) -> Picked | None:
    """Complete one variant from what is left, None when that can't be done.

    Args:
        variant: The variant.
        matching: Pairs options across mates.
        left: What is there; its parts are taken from it when it is completed.
        only: ``{position: options}`` to use in place of the variant's own.
    """
    chosen = fill_variant(variant, matching, left, only=only)
    return _take(variant, chosen, left) if len(chosen) == len(variant.vacancies) else None


def _take(variant: Variant, chosen: Mapping[str, Option], left: Left) -> Picked | None:
    """Take the parts if the task's budget and the purse allow, else put them back."""
    draws = {
        vacancy.position.name: left.take(
            chosen[vacancy.position.name].ware, vacancy.position.quantity - chosen[vacancy.position.name].set_aside
        )
        for vacancy in variant.vacancies
    }
    spent = sum((tier.price_minor or 0) * amount for found in draws.values() for tier, amount in found)
    if all(limit is None or spent <= limit for limit in (variant.task.budget_minor, left.purse_minor)):
        if left.purse_minor is not None:
            left.purse_minor -= spent
        return Picked(chosen, draws)
    for position, found in draws.items():
        left.put_back(chosen[position].ware, found)
    return None
