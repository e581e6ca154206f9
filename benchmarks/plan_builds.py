"""How long plans take on generated stashes, and how good they are.

Run: ``python benchmarks/plan_builds.py [--builds N] [--lots N] [--donors] [--buy] [--seconds S]``

For each size it prints: options and columns, seconds to judge and write down, seconds to the first answer, solver
seconds, status, the plan's value, an independent solver's value, and picking in order with its loss.
"""

from __future__ import annotations

import argparse
import random
import time
from dataclasses import dataclass, replace
from typing import Any

from plan_world import World, generate

import stash.plan.solve as planning
from stash.kernel.exact import MICRO
from stash.plan.facts import Build, Stock
from stash.plan.judging import Judge
from stash.plan.model import Programme
from stash.plan.solve import Plan, Progress, plan
from stash.plan.wares import Allowed


@dataclass
class Timed:
    """A plan with its times in seconds."""

    answer: Plan
    total: float
    first: float
    first_worked: float


def stash_of(world: World, builds: int, seed: int) -> Stock:
    """Put builds on the world's machines that have holes, and on bare models for the rest."""
    rng = random.Random(seed)
    holed = [row for row in world.machines if row.state != "donor" and row.fitted]
    chosen: dict[str, Build] = {}
    for number in range(builds):
        machine = holed[number] if number < len(holed) and number % 5 else None
        model = machine.model if machine else rng.choice(world.catalogue.models).key
        key = f"build-{number:03d}"
        chosen[key] = Build(key, key, model, machine.code if machine else "", rng.randrange(1, 20) * MICRO)
    return Stock(
        machines={row.code: row for row in world.machines}, lots={row.code: row for row in world.lots}, builds=chosen
    )


def timed(world: World, stock: Stock, allowed: Allowed, seconds: float, judge: Judge) -> Timed:
    """Plan once, with the time to the first answer."""
    began, worked, first = time.perf_counter(), time.process_time(), []

    def told(_progress: Progress) -> None:
        if not first:
            first.extend((time.perf_counter() - began, time.process_time() - worked))

    answer = plan(world.catalogue, stock, allowed=allowed, seconds=seconds, judge=judge, progress=told)
    return Timed(answer, time.perf_counter() - began, *first)


def checked(programme: Programme, seconds: float) -> str:
    """Solve the first goal with CP-SAT, which shares nothing with the plan's solver but the programme."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    columns = [model.new_int_var(0, int(upper), str(place)) for place, upper in enumerate(programme.upper)]
    for low, terms, high in programme.rows:
        total = sum(int(weight) * columns[column] for column, weight in terms.items())
        if low == high:
            model.add(total == int(low))
        else:
            model.add(total <= int(high))
    model.maximize(sum(int(weight) // MICRO * columns[column] for column, weight in programme.value.items()))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    return f"CP-SAT {solver.objective_value:.0f} ({solver.status_name(status).lower()}, {solver.wall_time:.1f} s)"


def main() -> None:
    """Print one line a run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--builds", type=int, nargs="*", default=[50, 200, 500])
    parser.add_argument("--lots", type=int, default=20_000)
    parser.add_argument("--families", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--donors", action="store_true")
    parser.add_argument("--buy", action="store_true")
    parser.add_argument("--check", action="store_true", help="ask CP-SAT for the value too (needs ortools)")
    asked = parser.parse_args()
    written: list[Programme] = []
    build_model = planning.build_model

    def kept(*given: Any) -> Any:
        model = build_model(*given)
        written.append(replace(model.programme, rows=list(model.programme.rows)))
        return model

    planning.build_model = kept
    for builds in asked.builds:
        world = generate(families=asked.families, lots=asked.lots, machines=builds + 100, seed=builds)
        stock = stash_of(world, builds, seed=builds)
        judge = Judge(world.catalogue)
        for run in ("cold", "warm"):
            found = timed(world, stock, Allowed(asked.donors, asked.buy), asked.seconds, judge)
            answer = found.answer
            loss = 1 - answer.naive_value_u / answer.value_u if answer.value_u else 0.0
            print(
                f"{builds} builds, {asked.lots} lots, {run}: first {found.first:.2f} s "
                f"({found.first_worked:.2f} s of one core), solver {answer.seconds:.2f} s, "
                f"total {found.total:.2f} s, {answer.status}, {len(answer.completed)} completed, "
                f"value {answer.value_u // MICRO} of at most {answer.bound_u // MICRO}, "
                f"in order {answer.naive_value_u // MICRO} (loss {loss:.1%})",
                flush=True,
            )
        if asked.check:
            print("   " + checked(written[-1], asked.seconds), flush=True)


if __name__ == "__main__":
    main()
