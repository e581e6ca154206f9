"""How long plans take on generated stashes, and how good they are.

Run: ``python benchmarks/plan_builds.py [--builds N] [--lots N] [--donors] [--buy] [--seconds S]``

For each size it prints: options and columns, seconds to judge and write down, seconds to the first answer, solver
seconds, status, the plan's value, an independent solver's value, and picking in order with its loss.
"""

from __future__ import annotations

import argparse
import random
import time
from dataclasses import dataclass

from plan_world import World, generate

from stash.kernel.exact import MICRO
from stash.plan.facts import Build, Stock
from stash.plan.judging import Judge
from stash.plan.solve import Plan, Progress, plan
from stash.plan.wares import Allowed


@dataclass
class Timed:
    """A plan with its times in seconds."""

    answer: Plan
    total: float
    first: float


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
    began, first = time.perf_counter(), []

    def told(_progress: Progress) -> None:
        if not first:
            first.append(time.perf_counter() - began)

    answer = plan(world.catalogue, stock, allowed=allowed, seconds=seconds, judge=judge, progress=told)
    return Timed(answer, time.perf_counter() - began, first[0])


def main() -> None:
    """Print one line a run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--builds", type=int, nargs="*", default=[50, 200, 500])
    parser.add_argument("--lots", type=int, default=20_000)
    parser.add_argument("--families", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--donors", action="store_true")
    parser.add_argument("--buy", action="store_true")
    asked = parser.parse_args()
    for builds in asked.builds:
        world = generate(families=asked.families, lots=asked.lots, machines=builds + 100, seed=builds)
        stock = stash_of(world, builds, seed=builds)
        judge = Judge(world.catalogue)
        for run in ("cold", "warm"):
            found = timed(world, stock, Allowed(asked.donors, asked.buy), asked.seconds, judge)
            answer = found.answer
            loss = 1 - answer.naive_value_u / answer.value_u if answer.value_u else 0.0
            print(
                f"{builds} builds, {asked.lots} lots, {run}: first {found.first:.2f} s, solver {answer.seconds:.2f} s, "
                f"total {found.total:.2f} s, {answer.status}, {len(answer.completed)} completed, "
                f"value {answer.value_u // MICRO} of at most {answer.bound_u // MICRO}, "
                f"in order {answer.naive_value_u // MICRO} (loss {loss:.1%})",
                flush=True,
            )


if __name__ == "__main__":
    main()
