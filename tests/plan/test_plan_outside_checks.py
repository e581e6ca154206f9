"""The plan against other people's numbers and other people's solvers."""

from __future__ import annotations

import random
from itertools import product

import numpy as np
import pytest

from stash.fit.facts import Lot
from stash.plan.solve import plan
from stash.plan.wares import Allowed
from tests.plan.worlds import build, catalogue, stock

scipy_optimize = pytest.importorskip("scipy.optimize", reason="an outside solver, for checking only")


def assignment(costs):
    """Builds of one position each, every part bought at its price in one build only: an assignment problem.

    Each task must be done by one worker and each worker does at most one: a worker is a lot of quantity 1 and the
    minutes it takes are its cost, so the plan's third goal is the sum the assignment minimises.
    """
    from stash.fit.facts import Rule

    workers, jobs = len(costs), len(costs[0])
    facts = catalogue(
        {f"m{job}": {"seat": "part"} for job in range(jobs)},
        {f"d{worker}": "part" for worker in range(workers)},
        rules=[
            Rule(f"{worker}-{job}", "with_work", "bench", design=f"d{worker}", model=f"m{job}", minutes=minutes)
            for worker, row in enumerate(costs)
            for job, minutes in enumerate(row)
        ],
    )
    lots = [Lot(f"L{worker}", "part", f"d{worker}", 1, "new") for worker in range(workers)]
    return facts, stock(lots, [build(f"b{job}", f"m{job}") for job in range(jobs)])


EXAMPLES = {
    # Source: OR-Tools documentation, "Solving an assignment problem", five workers and four tasks.
    265: [[90, 80, 75, 70], [35, 85, 55, 65], [125, 95, 90, 95], [45, 110, 95, 115], [50, 100, 90, 100]],
    # Source: SciPy documentation, linear_sum_assignment.
    5: [[4, 1, 3], [2, 0, 5], [3, 2, 2]],
    # Source: c = i j over one to ten; the rearrangement inequality pairs large with small: n (n + 1) (n + 2) / 6.
    220: [[i * j for j in range(1, 11)] for i in range(1, 11)],
}


@pytest.mark.parametrize(("least", "costs"), EXAMPLES.items())
def test_with_one_position_a_build_the_plan_is_the_assignment_others_found(least, costs):
    answer = plan(*assignment(costs), allowed=Allowed(work=True))
    rows, columns = scipy_optimize.linear_sum_assignment(np.array(costs))
    assert answer.minutes == least == np.array(costs)[rows, columns].sum()
    assert len(answer.completed) == len(costs[0])


@pytest.mark.parametrize("seed", range(12))
def test_on_medium_shelves_another_solver_completes_no_more_and_no_less(seed):
    """Value as a set-packing programme over every whole way to build, solved by SciPy's ``milp``."""
    rng = random.Random(seed)
    models = {f"m{number}": {f"k{kind}": f"k{kind}" for kind in rng.sample(range(6), 3)} for number in range(14)}
    designs = {f"k{kind}-{number}": f"k{kind}" for kind in range(6) for number in range(4)}
    came = [
        (design, model, kind)
        for model, sheet in models.items()
        for kind in sheet
        for design in rng.sample([key for key, value in designs.items() if value == kind], 2)
    ]
    lots = [
        Lot(f"L{number}", designs[key], key, 1, "good") for number, key in enumerate(rng.choices(list(designs), k=30))
    ]
    builds = [build(f"b{number:02d}", f"m{number}", rng.randrange(1, 9)) for number in range(14)]
    answer = plan(catalogue(models, designs, came_on=came), stock(lots, builds))
    assert answer.status == "optimal"
    assert answer.value_u == _packed(models, came, lots, builds)


def _packed(models, came, lots, builds):
    columns, worth = [], []
    supply = {key: sum(lot.quantity for lot in lots if lot.design == key) for key in {lot.design for lot in lots}}
    rows = {key: place for place, key in enumerate([*supply, *(row.key for row in builds)])}
    for row in builds:
        options = [
            [design for design, model, position in came if (model, position) == (row.model, kind) and design in supply]
            for kind in models[row.model]
        ]
        for way in product(*options):
            column = np.zeros(len(rows))
            column[rows[row.key]] = 1
            for design in way:
                column[rows[design]] += 1
            columns.append(column)
            worth.append(row.value_u)
    most = [*supply.values(), *([1] * len(builds))]
    found = scipy_optimize.milp(
        -np.array(worth),
        integrality=np.ones(len(worth)),
        bounds=scipy_optimize.Bounds(0, 1),
        constraints=scipy_optimize.LinearConstraint(np.array(columns).T, -np.inf, most),
    )
    return round(-found.fun)
