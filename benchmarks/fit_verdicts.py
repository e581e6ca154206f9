"""Measures verdicts at the size of a large club: the table of all designs on all models, one row, companions.

Run ``python benchmarks/fit_verdicts.py`` from the project's folder; ``--quick`` takes a tenth of the size. What is
compared is measured in one run, and every answer that is timed twice is also compared.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from benchmarks.fit_catalogue import catalogue
from benchmarks.fit_maxsat import least_positions
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site, part_of_design
from stash.fit.companions import CompanionSet, smallest_change
from stash.fit.intervals import Outcome
from stash.fit.mates import mate_states
from stash.fit.table import VerdictTable
from stash.fit.verdicts import judge_model

TABLE_ROOMS = frozenset({"stash.fit.frames", "stash.fit.table"})
ROOMS = TABLE_ROOMS | {"stash.fit.outright", "stash.fit.surroundings"}
Question = tuple[Part, Site, int | None]


def main() -> None:
    """Measure, and print a table for ``benchmarks/fit.md``."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of the size")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    share = 10 if asked.quick else 1
    facts = catalogue(2000 // share, 10_000 // share, 20_000 // share, asked.seed)
    print(f"{len(facts.models)} models, {len(facts.designs)} designs, {len(facts.rules)} rules, seed {asked.seed}\n")
    print("| measured | result |\n|---|---|")
    _companions(facts, random.Random(asked.seed))
    _table(facts, random.Random(asked.seed))


def _table(facts: Catalogue, rng: random.Random) -> None:
    design, model = facts.designs[0], facts.models[0]
    judge_model(facts, part_of_design(design), model.key, design.kind)  # the indexes are made before either is timed
    sample = [(rng.choice(facts.designs), rng.choice(facts.models).key) for _ in range(2000)]
    judged, plain_s = _timed(
        lambda: [judge_model(facts, part_of_design(row), model, row.kind) for row, model in sample]
    )
    table = VerdictTable(facts)
    cells, table_s = _timed(lambda: sum(len(row.cells) for row in table.rows()))
    for (row, model), findings in zip(sample, judged, strict=True):
        told = [cell.verdict for cell in table.cell(row.key, model, row.kind)]
        _must_agree(told, _run_together([finding.verdict for finding in findings]))
    loop_s = plain_s / len(sample) * cells
    print(f"| plain judge, {len(sample)} cells drawn at random, a cell | {plain_s / len(sample) * 1e6:.0f} µs |")
    print(f"| plain judge, all {cells:,} cells, from that | {loop_s:,.0f} s |")
    print(f"| whole table, cold | {table_s:.1f} s |")
    print(f"| ratio | {loop_s / table_s:.0f} times |")
    again, again_s = _timed(lambda: sum(len(row.cells) for row in table.rows()))
    _must_agree(again, cells)
    print(f"| whole table, warm | {again_s:.1f} s |")
    columns = sum(len(column) for frame in table.frames for column in frame.columns.values())
    print(f"| what the sizes say, as kept: {len(table.frames)} frames | {columns / 1e6:.1f} MB |")
    tables = _kept(table, TABLE_ROOMS) / 1e6
    print(f"| the tables, and what finds a cell's place, when all is known | {tables:.1f} MB |")
    print(f"| the tables and every note of the searches | {_kept(table, ROOMS) / 1e6:.1f} MB |")
    _rows(facts, table, rng)


def _rows(facts: Catalogue, table: VerdictTable, rng: random.Random) -> None:
    keys = [rng.choice(facts.designs).key for _ in range(200)]
    for key in keys:
        table.row(key)
    warm = [_timed(lambda key=key: table.row(key))[1] for key in keys]
    changing, after = [], []
    for rule in rng.sample(facts.rules, 200):
        other = replace(rule, verdict="wont_fit" if rule.verdict != "wont_fit" else "bolts_on")
        key = rule.design or facts.designs_of_kind[rule.kind][0].key
        table.row(key)
        changed, seconds = _timed(lambda other=other: table.with_rule(other))
        changing.append(seconds)
        after.append(_timed(lambda changed=changed, key=key: changed.row(key))[1])
    print(f"| one design on every model, warm, p50 / p95 | {_spread(warm)} |")
    print(f"| one rule changed: the table put right, p50 / p95 | {_spread(changing)} |")
    print(f"| one rule changed: a design it names, first asked, p50 / p95 | {_spread(after)} |")


def _companions(facts: Catalogue, rng: random.Random) -> None:
    questions = _questions(facts, rng, 400)
    smallest_change(facts, *questions[0])  # makes the indexes
    facts.refusals.clear()
    cold = [_timed(lambda question=question: smallest_change(facts, *question)) for question in questions]
    warm = [_timed(lambda question=question: smallest_change(facts, *question))[1] for question in questions]
    few = questions[:60]
    solver = [_timed(lambda question=question: least_positions(facts, *question)) for question in few]
    for (mine, _), (least, _) in zip(cold, solver, strict=False):
        _must_agree(len(mine.changes) if isinstance(mine, CompanionSet) else None, least)
    print(f"| companions, first asked, p50 / p95 | {_spread([seconds for _, seconds in cold])} |")
    print(f"| companions, asked again, p50 / p95 | {_spread(warm)} |")
    print(f"| MaxSAT solver (RC2), same questions, positions only, p50 / p95 | {_spread([s for _, s in solver])} |")
    ratio = sum(seconds for _, seconds in solver) / sum(seconds for _, seconds in cold[: len(few)])
    print(f"| ratio of the sums | {ratio:.0f} times |")


def _questions(facts: Catalogue, rng: random.Random, count: int) -> list[Question]:
    """Parts that break a mate at a position of a model in its first year."""
    found: list[Question] = []
    while len(found) < count:
        design, model = rng.choice(facts.designs), rng.choice(facts.models)
        question = (part_of_design(design), Site(model, design.kind), model.years.from_year)
        if any(state.outcome is Outcome.BREAKS for state in mate_states(facts, *question)):
            found.append(question)
    return found


def _kept(table: VerdictTable, rooms: frozenset[str]) -> int:
    """Count the bytes of everything the table holds beside the facts, and of what the catalogue keeps of refusals.

    Objects of other rooms than those named are left out.
    """
    seen: set[int] = {id(table.catalogue), *map(id, table.catalogue.rules)}
    stack: list[object] = [*vars(table).values(), table.catalogue.refusals, table.catalogue.rulebook.refused_by]
    total = 0
    while stack:
        each = stack.pop()
        if id(each) in seen or isinstance(each, type(table.catalogue)):
            continue
        seen.add(id(each))
        total += sys.getsizeof(each)
        if isinstance(each, dict):
            stack.extend((*each.keys(), *each.values()))
        elif isinstance(each, (list, tuple, set, frozenset)):
            stack.extend(each)
        elif type(each).__module__ in rooms:
            stack.extend(vars(each).values())
    return total


def _run_together(verdicts: list[str]) -> list[str]:
    return [verdict for place, verdict in enumerate(verdicts) if not place or verdicts[place - 1] != verdict]


def _must_agree(mine: object, other: object) -> None:
    if mine != other:
        sys.exit(f"two ways to one answer differ: {mine} and {other}")


def _timed(work: Callable[[], object]) -> tuple[object, float]:
    start = time.perf_counter()
    return work(), time.perf_counter() - start


def _spread(seconds: list[float]) -> str:
    ordered = sorted(seconds)
    return f"{ordered[len(ordered) // 2] * 1e3:.2f} / {ordered[int(len(ordered) * 0.95)] * 1e3:.2f} ms"


if __name__ == "__main__":
    main()
