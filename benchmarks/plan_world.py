"""Generated stashes for the plan benchmarks: sister families, look-alike generations, salvage of uneven wear."""

from __future__ import annotations

import random
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.facts import (
    CameOn,
    Design,
    Family,
    Fitted,
    Generation,
    Kind,
    Lot,
    Machine,
    Maker,
    Mate,
    Model,
    PositionRow,
)
from stash.fit.intervals import interval
from stash.kernel.exact import MICRO

KINDS = 23
CONDITIONS = ("new", "excellent", "good", "serviceable", "needs_work", "core", "scrap", "unknown")
CONDITION_ODDS = (4, 10, 30, 30, 10, 5, 3, 8)


@dataclass(frozen=True)
class World:
    """A catalogue with the loose parts and machines that go with it."""

    catalogue: Catalogue
    lots: tuple[Lot, ...]
    machines: tuple[Machine, ...]


def generate(*, families: int, lots: int, machines: int, seed: int, spare_designs: int = 2) -> World:
    """Make a world: three generations a family, three models a generation, 23 kinds, mates in a tree with a few loops.

    A family knows three sizes at each mate; generations differ in a quarter of them, spare designs in one.

    Args:
        families: How many families; designs number about 23 * 3 * spare_designs for each.
        lots: How many loose lots.
        machines: How many owned machines.
        seed: For the generator.
        spare_designs: Designs of each kind in each generation; the first is stock.
    """
    rng = random.Random(seed)
    kinds = [f"kind-{number:02d}" for number in range(KINDS)]
    pairs = [(rng.randrange(number), number) for number in range(1, KINDS)]
    pairs += [tuple(sorted(rng.sample(range(KINDS), 2))) for _ in range(4)]
    mates = [
        Mate(f"mate-{index:02d}", f"mate {index}", kinds[a], f"m{index}", kinds[b], f"m{index}", "same")
        for index, (a, b) in enumerate(pairs)
    ]
    generations, models, designs, came_on, rows = [], [], [], [], []
    for family in range(families):
        known = {index: [10 + rng.randrange(60) for _ in range(3)] for index in range(len(pairs))}
        sizes = {index: rng.choice(found) for index, found in known.items()}
        for ordinal in range(1, 4):
            key = f"f{family}g{ordinal}"
            generations.append(Generation(key, f"f{family}", ordinal, key))
            for index in rng.sample(range(len(pairs)), 6):
                sizes[index] = rng.choice(known[index])
            rows += [PositionRow(key, "", f"at {kind}", kind, 2 if kind.endswith("7") else 1) for kind in kinds]
            models += [Model(f"{key}m{each}", f"{key} {each}", f"maker-{each % 2}", key) for each in range(3)]
            for number, kind in enumerate(kinds):
                touching = [index for index, pair in enumerate(pairs) if number in pair]
                for variant in range(spare_designs):
                    values = {f"m{index}": sizes[index] for index in touching}
                    if variant and touching:
                        index = rng.choice(touching)
                        values[f"m{index}"] = rng.choice(known[index])
                    name = f"{key}-{kind}-{variant}"
                    price = rng.choice((None, rng.randrange(200, 9000)))
                    measured = {measure: interval(value * MICRO) for measure, value in values.items()}
                    designs.append(Design(name, kind, name, "maker-0", key, price, measured))
                came_on.append(CameOn(f"{key}-{kind}-0", f"at {kind}", generation=key))
    catalogue = Catalogue(
        makers=(Maker("maker-0", "Zero"), Maker("maker-1", "One")),
        families=tuple(Family(f"f{family}", f"f{family}") for family in range(families)),
        generations=tuple(generations),
        models=tuple(models),
        kinds=tuple(Kind(kind, kind, safety_critical=kind.endswith("3")) for kind in kinds),
        designs=tuple(designs),
        position_rows=tuple(rows),
        came_on=tuple(came_on),
        mates=tuple(mates),
    )
    return World(
        catalogue,
        tuple(_lot(rng, index, rng.choice(designs)) for index in range(lots)),
        tuple(_machine(rng, index, rng.choice(models), kinds) for index in range(machines)),
    )


def _lot(rng: random.Random, index: int, design: Design) -> Lot:
    return Lot(
        f"L{index:05d}",
        design.kind,
        design.key,
        rng.choice((1, 1, 1, 2, 3)),
        rng.choices(CONDITIONS, CONDITION_ODDS)[0],
        rng.choice(("looked", "measured", "ran", "")),
        f"B{rng.randrange(400):04d}",
    )


def _machine(rng: random.Random, index: int, model: Model, kinds: list[str]) -> Machine:
    fitted = {f"at {kind}": Fitted("missing") for kind in rng.sample(kinds, rng.choice((0, 1, 2, 3, 5)))}
    for kind in rng.sample(kinds, 2):
        fitted.setdefault(f"at {kind}", Fitted("present", f"{model.generation}-{kind}-{rng.randrange(2)}", "good"))
    state = rng.choice(("runner", "project", "project", "display", "donor"))
    return Machine(f"M{index:04d}", model.key, None, state, fitted)
