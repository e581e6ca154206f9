"""The plan over all builds at once: what to complete, from which parts, and how good that is.

::

    tasks ── variants ── narrowed ── programme ── stages ── pick lists
              (options)  (matching)   (model)                (assigning)  ── explained
                             └──────── picked in order: first answer, and what not looking ahead costs
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.plan.answer import Plan, PlannedBuild, PlannedPart
from stash.plan.assigning import Use, columns_of, left_after, uses_of
from stash.plan.explain import Explainer
from stash.plan.facts import Stock
from stash.plan.highs import ENDLESS
from stash.plan.judging import Judge
from stash.plan.matching import Matching
from stash.plan.meeting import Meetings
from stash.plan.model import build_model
from stash.plan.options import Options, Variant
from stash.plan.picking import Left, Picked, pick_in_order
from stash.plan.spare import surplus
from stash.plan.stages import GOALS, Control, solve
from stash.plan.tasks import Task, tasks_of
from stash.plan.wares import Allowed, donor_cost_minor, wares_by_kind


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a plan has come.

    Args:
        goal: What is being improved: value, money, minutes or condition.
        best: The best so far: value in millionths, money in minor units, minutes, points.
        bound: What can't be bettered, in the same unit.
    """

    goal: str
    best: int
    bound: int


def _tell_nobody(_progress: Progress) -> None:
    pass


def plan(
    catalogue: Catalogue,
    stock: Stock,
    *,
    builds: Collection[str] | None = None,
    gaps: Collection[str] = (),
    allowed: Allowed = Allowed(),  # noqa: B008 - frozen
    seconds: float = 10.0,
    judge: Judge | None = None,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Plan:
    """Plan all builds together.

    Args:
        catalogue: The facts.
        stock: What is owned and planned.
        builds: Keys of the builds to plan; None = every open one.
        gaps: Keys of gaps to plan too.
        allowed: What may be used beyond the shelf: donors, buying, work.
        seconds: Solver time at most; the best plan found by then is returned, with how far it may be from best.
        judge: Remembers verdicts from call to call while the catalogue stays the same.
        progress: Told of the first answer and of every better one; it may be called from the solver's thread.
        cancelled: Asked now and then; True ends the search with the best plan so far.

    Returns:
        The plan.

    Raises:
        NotFound: No such build or gap.
    """
    judge = judge or Judge(catalogue)
    tasks, aside = tasks_of(catalogue, stock, builds, gaps)
    busy = frozenset(task.machine.code for task in tasks if task.machine is not None)
    wares = wares_by_kind(catalogue, stock, allowed, aside, busy)
    options = Options(judge, wares, allowed)
    matching = Matching(Meetings(catalogue, judge.comparing))
    variants = {task.key: options.variants(task) for task in tasks}
    possible = [
        narrow for found in variants.values() for variant in found if (narrow := matching.narrowed(variant)) is not None
    ]
    costs = {
        code: donor_cost_minor(machine)
        for code, machine in stock.machines.items()
        if machine.state == "donor" and code not in busy and allowed.may_strip(code)
    }
    naive = pick_in_order(possible, matching, Left(purse_minor=allowed.purse_minor))
    first = _first_answer(possible, matching, naive, allowed)
    tell = _teller(progress or _tell_nobody)
    tell("value", _worth(first), sum({variant.task.key: variant.task.value_u for variant in possible}.values()))
    model = build_model(possible, matching, costs, allowed.purse_minor)
    solved = solve(model.programme, columns_of(model, first), Control(seconds, tell, cancelled or bool))
    uses = uses_of(model, solved.columns)
    done = {variant.task.key: variant for variant in uses}
    explainer = Explainer(catalogue, stock, options, matching, left_after(uses, allowed), uses)
    built = [
        _complete(done[task.key], uses[done[task.key]], explainer.refused(task))
        if task.key in done
        else explainer.incomplete(task, variants[task.key])
        for task in tasks
    ]
    every = [variant for found in variants.values() for variant in found]
    waiting = [variant for variant in every if variant.task.key not in done]
    return Plan(
        status="optimal" if all(solved.proven.values()) else "feasible",
        value_u=round(solved.reached["value"]),
        bound_u=round(solved.bounds["value"]),
        money_minor=round(solved.reached["money"]),
        minutes=round(solved.reached["minutes"]),
        condition=round(solved.reached["condition"]),
        proven=tuple((goal, solved.proven[goal]) for goal in GOALS),
        builds=tuple(built),
        surplus=surplus(catalogue, stock, judge, options, waiting, uses, aside),
        best_arrival=explainer.arrivals.best(),
        donors=explainer.donors(costs, uses, every, built),
        naive_completed=tuple(sorted(variant.task.key for variant in naive)),
        naive_value_u=_worth(naive),
        seconds=solved.seconds,
    )


def _first_answer(
    variants: Sequence[Variant], matching: Matching, naive: Mapping[Variant, Picked], allowed: Allowed
) -> Mapping[Variant, Picked]:
    """The better of picking in order and picking by worth per part contended for."""
    demand: dict[object, float] = {}
    for variant in variants:
        for vacancy in variant.vacancies:
            for option in vacancy.options:
                share = vacancy.position.quantity / len(vacancy.options)
                demand[option.ware] = demand.get(option.ware, 0.0) + share

    def price(variant: Variant) -> float:
        return sum(
            vacancy.position.quantity
            * min(demand[option.ware] / max(1, option.ware.supply) for option in vacancy.options)
            for vacancy in variant.vacancies
        )

    ordered = sorted(variants, key=lambda variant: -variant.task.value_u / (1e-9 + price(variant)))
    other = pick_in_order(ordered, matching, Left(purse_minor=allowed.purse_minor))
    return other if _worth(other) > _worth(naive) else naive


def _worth(picked: Mapping[Variant, Picked]) -> int:
    return sum(variant.task.value_u for variant in picked)


def _teller(progress: Callable[[Progress], None]) -> Callable[[str, float, float], None]:
    def tell(goal: str, best: float, bound: float) -> None:
        progress(Progress(goal, round(best), round(bound) if abs(bound) < ENDLESS else 0))

    return tell


def _complete(variant: Variant, uses: Sequence[Use], refused: tuple[tuple[str, str], ...]) -> PlannedBuild:
    task = variant.task
    options = {use.vacancy.position.name: use.option for use in uses}
    return PlannedBuild(
        build=task.key,
        model=task.model,
        machine=task.machine.code if task.machine else None,
        complete=True,
        value_u=task.value_u,
        money_minor=sum(use.spent_minor for use in uses),
        minutes=sum(option.minutes for option in options.values()),
        parts=tuple(_part(task, use) for use in uses),
        refused=refused,
    )


def _part(task: Task, use: Use) -> PlannedPart:
    tier, lot, option = use.tier, use.lot, use.option
    return PlannedPart(
        position=use.vacancy.position.name,
        design=option.ware.part.design,
        quantity=use.quantity,
        verdict=option.verdict,
        lot=lot.code if lot else None,
        place=lot.place if lot else "",
        donor=(tier.donor or None) if tier else None,
        donor_position=tier.position if tier else "",
        assumed=tier.assumed if tier else False,
        buy=tier is not None and tier.price_minor is not None,
        price_minor=use.spent_minor,
        condition=lot.condition if lot else (tier.condition if tier else ""),
        minutes=option.minutes,
        companions=option.demands,
        decided=use.vacancy.position.name in task.pins,
        flag=option.flag,
    )
