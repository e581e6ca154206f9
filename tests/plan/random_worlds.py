"""Small random workshops: mates, rules, donors, prices, budgets, quantities, machines with holes."""

from __future__ import annotations

import random

from stash.fit.facts import Fitted, Lot, Machine, Mate, Rule
from stash.fit.intervals import interval
from stash.kernel.exact import MICRO
from tests.plan.worlds import build, catalogue, stock

KINDS = ("piston", "cylinder", "bearing")
CONDITIONS = ("new", "excellent", "good", "serviceable", "needs_work", "core", "unknown")


def small_workshop(seed: int):
    """Return (catalogue, stock) of at most three builds, three positions each, and a handful of parts."""
    rng = random.Random(seed)
    models = {f"m{number}": {kind: kind for kind in rng.sample(KINDS, rng.choice((1, 2, 2, 3)))} for number in range(3)}
    designs = {f"{kind[0]}{number}": kind for kind in KINDS for number in range(3)}
    values = {key: {measure: interval(rng.randrange(2) * MICRO) for measure in ("bore", "pin")} for key in designs}
    facts = catalogue(
        models,
        designs,
        quantities={(model, kind): 2 for model, sheet in models.items() for kind in sheet if rng.random() < 0.15},
        prices={key: rng.randrange(1, 9) * 100 for key in designs if rng.random() < 0.4},
        values=values,
        came_on=[
            (rng.choice([key for key in designs if designs[key] == kind]), model, position)
            for model, sheet in models.items()
            for position, kind in sheet.items()
            if rng.random() < 0.8
        ],
        rules=[_rule(rng, number, models, designs) for number in range(rng.randrange(5))],
        safety=[kind for kind in KINDS if rng.random() < 0.2],
        mates=(
            Mate("bore", "bore", "piston", "bore", "cylinder", "bore", "same"),
            Mate("pin", "pin", "piston", "pin", "bearing", "pin", "same"),
        ),
    )
    lots = [_lot(rng, number, designs) for number in range(rng.randrange(2, 7))]
    machines = [_machine(rng, code, models, designs) for code in ("MA", "MB")]
    builds = []
    for number in range(3):
        machine = machines[0] if number == 0 and rng.random() < 0.6 else None
        model = machine.model if machine else rng.choice(list(models))
        budget = rng.randrange(12) * 100 if rng.random() < 0.5 else None
        builds.append(
            build(
                f"b{number}",
                model,
                rng.randrange(1, 4),
                machine=machine.code if machine else "",
                budget_minor=budget,
            )
        )
    machines[0] = Machine("MA", machines[0].model, None, "project", machines[0].fitted)
    return facts, stock(lots, builds, machines)


def _rule(rng, number, models, designs):
    design = rng.choice(list(designs))
    verdict = rng.choice(("bolts_on", "with_companions", "with_work", "wont_fit"))
    companions = ((rng.choice(list(designs)),),) if verdict == "with_companions" else ()
    return Rule(
        f"r{number}",
        verdict,
        rng.choice(("bench", "book", "word")),
        design=design,
        model=rng.choice(list(models)),
        companions=companions,
        minutes=rng.choice((None, 10, 25)),
    )


def _lot(rng, number, designs):
    design = rng.choice(list(designs))
    return Lot(
        f"L{number}",
        designs[design],
        design,
        rng.choice((1, 1, 1, 2)),
        rng.choice(CONDITIONS),
        rng.choice(("looked", "ran", "")),
    )


def _machine(rng, code, models, designs):
    model = rng.choice(list(models))
    fitted = {}
    for position, kind in models[model].items():
        state = rng.choice(("present", "missing", "faulty"))
        design = rng.choice([key for key in designs if designs[key] == kind])
        fitted[position] = Fitted(state, design if state == "present" else "", rng.choice(CONDITIONS[:5]))
    return Machine(code, model, None, "donor", fitted, value_u=rng.randrange(5) * MICRO)
