"""How long the gaps of a whole collection take: cold, and with a judge that remembers.

Run: ``python benchmarks/plan_gaps.py [--machines N] [--lots N]``
"""

from __future__ import annotations

import argparse
import time

from plan_world import generate

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
    for run in ("cold", "warm", "warm"):
        began = time.perf_counter()
        found = gaps(world.catalogue, stock, judge)
        taken = time.perf_counter() - began
        filled = sum(gap.fillable for gap in found)
        print(
            f"{asked.machines} machines, {asked.lots} lots, {run}: {len(found)} gaps, {filled} fillable, {taken:.2f} s"
        )


if __name__ == "__main__":
    main()
