"""Why a build is not completed, and which donors are worth stripping."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from stash.fit.catalogue import Catalogue
from stash.fit.speed import overspeed
from stash.kernel.exact import money_text
from stash.plan.answer import DonorNote, Missing, PlannedBuild
from stash.plan.arrivals import Arrivals
from stash.plan.assigning import Use
from stash.plan.facts import Stock
from stash.plan.matching import Matching
from stash.plan.options import Option, Options, Vacancy, Variant
from stash.plan.picking import Left, fill_variant
from stash.plan.shelf import sorts_by_kind
from stash.plan.tasks import Task
from stash.plan.usable import condition_refusal, verdict_refusal
from stash.plan.wares import Ware

Uses = Mapping[Variant, Sequence[Use]]


class Explainer:
    """Explains a plan from what is left once its parts are taken.

    Args:
        catalogue: The facts.
        stock: What is owned.
        options: Which ware may go where.
        matching: Pairs options across mates.
        left: What is left.
        uses: What is taken.
    """

    def __init__(
        self, catalogue: Catalogue, stock: Stock, options: Options, matching: Matching, left: Left, uses: Uses
    ) -> None:
        self._catalogue = catalogue
        self._options = options
        self._matching = matching
        self._left = left
        self._sorts = sorts_by_kind(catalogue, stock.lots.values())
        self._takers: dict[Ware, dict[str, None]] = defaultdict(dict)
        for variant, found in uses.items():
            for use in found:
                self._takers[use.option.ware][variant.task.title] = None
        self.arrivals = Arrivals(catalogue, options, matching, left)

    def incomplete(self, task: Task, variants: Sequence[Variant]) -> PlannedBuild:
        """Say what a build still misses when what is left over goes in: of its variants, the one that misses least.

        Where everything could be had by buying, the budget stands in the way, and what would be bought is missing.
        """
        variants = [self._matching.mendable(variant) for variant in variants]
        variant, chosen = self._fullest(variants, self._left)
        if len(chosen) == len(variant.vacancies):
            variant, chosen = self._fullest(variants, Left(self._left.taken, self._left.stripped, buying=False))
        empty = [vacancy for vacancy in variant.vacancies if vacancy.position.name not in chosen]
        if len(empty) == 1:
            self.arrivals.one_short(variant, empty[0], chosen)
        return PlannedBuild(
            build=task.key,
            model=task.model,
            machine=task.machine.code if task.machine else None,
            complete=False,
            value_u=task.value_u,
            missing=tuple(self._missing(variant, vacancy, chosen) for vacancy in empty),
            ready=tuple(sorted(chosen)),
            refused=self.refused(task),
        )

    def _fullest(self, variants: Sequence[Variant], left: Left) -> tuple[Variant, Mapping[str, Option]]:
        """The variant that misses least, and what fills it."""
        filled = [(variant, fill_variant(variant, self._matching, left)) for variant in variants]
        return min(filled, key=lambda found: len(found[0].vacancies) - len(found[1]))

    def refused(self, task: Task) -> tuple[tuple[str, str], ...]:
        """Return ``(position, why)`` of what is decided and can't be followed."""
        found = []
        sheet = self._catalogue.positions[task.model]
        for name, pin in sorted(task.pins.items()):
            problem = pin.problem
            if not problem and pin.part is not None:
                against = self._options.breaks_with_kept(task, sheet[name], pin.part)
                problem = "it does not go with what is fitted at: " + ", ".join(against) if against else ""
            if problem:
                found.append((name, problem))
        return tuple(found)

    def _missing(self, variant: Variant, vacancy: Vacancy, chosen: Mapping[str, Option]) -> Missing:
        position = vacancy.position
        return Missing(
            position=position.name,
            kind=position.kind,
            quantity=position.quantity,
            why=self._why(variant, vacancy),
            designs=self.arrivals.designs(variant, vacancy, chosen),
            look_at=self._look_at(variant, vacancy),
        )

    def _why(self, variant: Variant, vacancy: Vacancy) -> str:
        task, name = variant.task, vacancy.position.name
        refused = dict(self.refused(task)).get(name)
        if refused:
            return f"what is decided can't be followed: {refused}"
        if not vacancy.options:
            return "the part decided on is not there" if name in task.pins else "nothing that can be had fits"
        quantity = vacancy.position.quantity
        dear = self._too_dear(task, vacancy)
        if dear:
            return dear
        if any(self._left.supply(option.ware) + option.set_aside >= quantity for option in vacancy.options):
            return "what is left does not go with the other parts"
        takers = sorted({title for option in vacancy.options for title in self._takers.get(option.ware, ())})
        if takers:
            return "what fits goes into " + ", ".join(takers)
        return "a donor has it, but stripping it is not worth it" if self._on_donors(vacancy) else "not enough of it"

    def _too_dear(self, task: Task, vacancy: Vacancy) -> str:
        """Why it can't be bought, "" where money does not stand in the way."""
        prices = [tier.price_minor for option in vacancy.options for tier in option.ware.tiers if tier.price_minor]
        if not prices:
            return ""
        least = min(prices) * vacancy.position.quantity
        if task.budget_minor is not None:
            return (
                f"buying it for {money_text(least)} takes the build over its budget of {money_text(task.budget_minor)}"
            )
        if self._left.purse_minor is not None and least > self._left.purse_minor:
            return f"buying it for {money_text(least)} takes all builds together over what may be spent"
        return ""

    def _on_donors(self, vacancy: Vacancy) -> bool:
        return any(tier.donor for option in vacancy.options for tier in option.ware.tiers)

    def _look_at(self, variant: Variant, vacancy: Vacancy) -> tuple[tuple[str, str], ...]:
        """Loose lots that would do if they were in order, or if it were settled that they fit."""
        found = []
        kind = self._catalogue.kind.get(vacancy.position.kind)
        for sort in self._sorts.get(vacancy.position.kind, ()):
            verdict = self._options.verdict(variant, vacancy.position, sort.part)
            if verdict in {"unknown", "wont_fit"}:
                continue
            refusal = overspeed(self._catalogue, variant.task.model, sort.part) or verdict_refusal(verdict)
            for lot in sort.lots:
                why_not = refusal or condition_refusal(kind, lot.condition, lot.checked)
                if why_not:
                    found.append((lot.code, why_not))
        return tuple(found)

    def donors(
        self, costs: Mapping[str, int], uses: Uses, variants: Sequence[Variant], built: Sequence[PlannedBuild]
    ) -> tuple[DonorNote, ...]:
        """Say of each donor whether the plan strips it, and why or why not."""
        gives: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
        for variant, found in uses.items():
            for use in found:
                if use.tier is not None and use.tier.donor:
                    gives[use.tier.donor].append((use.tier.position, use.option.ware.part.design, variant.task.key))
        could: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
        for variant in variants:
            for vacancy in variant.vacancies:
                for option in vacancy.options:
                    for tier in option.ware.tiers:
                        could[tier.donor][variant.task.key].add(vacancy.position.name)
        missing = {each.build: [lack.position for lack in each.missing] for each in built if not each.complete}
        titles = {variant.task.key: variant.task.title for variant in (*variants, *uses)}
        return tuple(
            DonorNote(code, code in gives, cost, tuple(sorted(gives[code])) if code in gives else (), why)
            for code, cost in sorted(costs.items())
            for why in (_donor_why(gives.get(code, []), could.get(code, {}), missing, titles),)
        )


def _donor_why(
    gives: Sequence[tuple[str, str, str]],
    could: Mapping[str, set[str]],
    missing: Mapping[str, Sequence[str]],
    titles: Mapping[str, str],
) -> str:
    """Why a donor is stripped, or what stripping it would not change; builds by their titles."""
    if gives:
        return "gives parts to " + ", ".join(sorted({titles[build] for _, _, build in gives}))
    if not could:
        return "carries nothing usable that any of these builds needs"
    unfinished = sorted(set(could) & set(missing))
    if not unfinished:
        return "what could use its parts is completed without it, at no more cost: " + ", ".join(
            sorted(titles[build] for build in could)
        )
    said = []
    for build in unfinished[:_BUILDS_NAMED]:
        still = [position for position in missing[build] if position not in could[build]]
        said.append(
            f"{titles[build]} would still miss {', '.join(still)}"
            if still
            else f"{titles[build]} lacks what goes with its parts"
        )
    return "; ".join(said)


_BUILDS_NAMED = 3
"""How many unfinished builds a donor's note names."""
