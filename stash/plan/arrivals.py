"""What would complete a build that is one part short, and the one part whose arrival would complete most."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stash.fit.catalogue import Catalogue
from stash.plan.answer import Arrival
from stash.plan.matching import Matching
from stash.plan.options import Option, Options, Vacancy, Variant
from stash.plan.picking import Left, fill_variant, pick_variant

TRIED_TOGETHER = 12
"""How many of the most promising designs are tried on all builds at once, competing for what is left."""


@dataclass(frozen=True)
class _Chance:
    """A build that a design would complete by itself."""

    variant: Variant
    vacancy: Vacancy
    option: Option


class Arrivals:
    """Looks for designs that would complete builds.

    Args:
        catalogue: The facts.
        options: Which ware may go where.
        matching: Pairs options across mates.
        left: What is left once the plan's parts are taken.
    """

    def __init__(self, catalogue: Catalogue, options: Options, matching: Matching, left: Left) -> None:
        self._catalogue = catalogue
        self._options = options
        self._matching = matching
        self._left = left
        self._chances: dict[str, list[_Chance]] = defaultdict(list)

    def designs(self, variant: Variant, vacancy: Vacancy, chosen: Mapping[str, Option]) -> tuple[str, ...]:
        """Name the designs that would fill a position beside what is chosen for the others, in order of key."""
        return tuple(option.ware.part.design for option in self._beside(variant, vacancy, chosen))

    def one_short(self, variant: Variant, vacancy: Vacancy, chosen: Mapping[str, Option]) -> None:
        """Take note of a build that misses one position, and of every design that would complete it.

        Where something usable is left for that position, another part elsewhere may do as well.
        """
        self._note(variant, vacancy, self._beside(variant, vacancy, chosen))
        for other in variant.vacancies if vacancy.options else ():
            if variant.task.pins.get(other.position.name) is None:
                self._note(variant, other, self._instead(variant, other))

    def best(self) -> Arrival | None:
        """Return the design that completes the most worth of the builds noted; None when none completes any."""
        promising = sorted(self._chances, key=lambda design: (-self._worth(design), design))
        tried = [self._together(design) for design in promising[:TRIED_TOGETHER]]
        return min(
            (arrival for arrival in tried if arrival.completes),
            key=lambda arrival: (
                -arrival.value_u,
                -len(arrival.completes),
                arrival.price_minor is None,
                arrival.price_minor or 0,
                arrival.design,
            ),
            default=None,
        )

    def _note(self, variant: Variant, vacancy: Vacancy, options: Sequence[Option]) -> None:
        for option in options:
            self._chances[option.ware.part.design].append(_Chance(variant, vacancy, option))

    def _worth(self, design: str) -> int:
        return sum({chance.variant.task.key: chance.variant.task.value_u for chance in self._chances[design]}.values())

    def _together(self, design: str) -> Arrival:
        """Complete build after build with the design, each taking what it needs of the rest."""
        left = replace(self._left, taken=dict(self._left.taken))
        completed: dict[str, Variant] = {}
        quantity = 0
        chances = sorted(
            self._chances[design], key=lambda chance: (-chance.variant.task.value_u, chance.variant.task.key)
        )
        for chance in chances:
            task = chance.variant.task
            if task.key in completed:
                continue
            only = {chance.vacancy.position.name: (chance.option,)}
            if pick_variant(chance.variant, self._matching, left, only=only) is not None:
                completed[task.key] = chance.variant
                quantity += chance.vacancy.position.quantity
        row = self._catalogue.design[design]
        return Arrival(
            design,
            row.kind,
            quantity,
            tuple(sorted(completed)),
            sum(variant.task.value_u for variant in completed.values()),
            row.price_minor,
        )

    def _beside(self, variant: Variant, vacancy: Vacancy, chosen: Mapping[str, Option]) -> list[Option]:
        """The designs that go with everything chosen for the other positions."""
        name, model = vacancy.position.name, variant.task.model
        if variant.task.pins.get(name) is not None:
            return []
        there = variant.task.carried.union(*((each.ware.part.design, each.ware.part.kind) for each in chosen.values()))
        return [
            option
            for option in self._options.arriving(
                variant, vacancy.position, {other: (each,) for other, each in chosen.items()}
            )
            if all(there.intersection(item) for item in option.demands)
            and all(self._matching.beside(model, other, each, name, (option,))[0] for other, each in chosen.items())
        ]

    def _instead(self, variant: Variant, vacancy: Vacancy) -> list[Option]:
        """The designs that complete a build by arriving at this position, with the rest filled to suit."""
        name = vacancy.position.name
        others = {each.position.name: each.options for each in variant.vacancies if each is not vacancy}
        arriving = self._options.arriving(variant, vacancy.position, others)
        chosen = fill_variant(variant, self._matching, self._left, only={name: arriving})
        if len(chosen) < len(variant.vacancies):
            return []
        return self._beside(variant, vacancy, {other: each for other, each in chosen.items() if other != name})
