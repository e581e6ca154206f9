"""How long the gaps of a whole collection take: cold, and after one change with a judge that remembers.

Run: ``python benchmarks/plan_gaps.py [--machines N] [--lots N]``
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

from plan_world import generate

from stash.fit.facts import Fitted
from stash.plan.facts import Stock, Wanted
from stash.plan.gaps import gaps
from stash.plan.judging import Judge


def main() -> None:
    """Print one line a run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--machines", type=int, default=500)
    parser.add_argument("--lots", type=int, default=20_000)
    parser.add_argument("--families", type=int, default=20)
    asked = parser.parse_args()
    world = generate(families=asked.families, lots=asked.lots, machines=asked.machines, seed=1)
    stock = Stock(
        machines={row.code: row for row in world.machines},
        lots={row.code: row for row in world.lots},
        wanted=tuple(Wanted(model.key) for model in world.catalogue.models[:20]),
    )
    judge = Judge(world.catalogue)
    lot, machine = world.lots[0], next(row for row in world.machines if row.state != "donor")
    some = next(iter(world.catalogue.positions[machine.model]))
    one_lot = replace(stock, lots={**stock.lots, lot.code: replace(lot, quantity=lot.quantity + 1)})
    holed = replace(machine, fitted={**machine.fitted, some: Fitted("missing")})
    one_machine = replace(stock, machines={**stock.machines, machine.code: holed})
    for run, given in (("cold", stock), ("one lot changed", one_lot), ("one machine changed", one_machine)):
        began, worked = time.perf_counter(), time.process_time()
        found = gaps(world.catalogue, given, judge)
        taken, worked = time.perf_counter() - began, time.process_time() - worked
        filled = sum(gap.fillable for gap in found)
        print(
            f"{asked.machines} machines, {asked.lots} lots, {run}: {len(found)} gaps, {filled} fillable, "
            f"{taken:.2f} s ({worked:.2f} s of one core)"
        )


if __name__ == "__main__":
    main()
