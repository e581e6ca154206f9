"""A large invented catalogue for measuring: seeded, so that every run measures the same thing.

Families of sister models in three generations; a generation has a stock sheet that its models share, some with a row of
their own; sizes come in few standard steps, as in the trade, so that most parts of a kind agree with many others.
"""

from __future__ import annotations

import random

from stash.fit.catalogue import Catalogue
from stash.fit.facts import (
    CameOn,
    Design,
    Family,
    Generation,
    Kind,
    Maker,
    Mate,
    Model,
    PositionRow,
    Rule,
)
from stash.fit.intervals import Interval, Known, interval
from stash.kernel.years import ALL_YEARS, Years

MM = 1_000_000
SIZES: dict[str, dict[str, tuple[float, ...]]] = {
    "cylinder": {
        "bore": (36, 38, 39, 40, 42),
        "spigot": (40, 42, 44),
        "deck": (60, 62, 64),
        "studs": (38, 40),
        "foot": (48, 52),
    },
    "piston": {"skirt": (36, 38, 39, 40, 42), "pin": (10, 12), "crown": (22, 24), "groove": (1.5, 2.0)},
    "ring": {"nominal": (36, 38, 39, 40, 42), "height": (1.5, 2.0)},
    "wrist pin": {"od": (10, 12), "length": (30, 32, 34)},
    "pin clip": {"groove": (10, 12)},
    "small-end bearing": {"inside": (10, 12), "outside": (14, 16)},
    "rod": {"eye": (14, 16), "big": (20, 22, 24)},
    "crank": {"pin": (20, 22, 24), "journal": (15, 17), "taper": (12, 13)},
    "main bearing": {"bore": (15, 17), "outside": (35, 40)},
    "seal": {"shaft": (15, 17), "outside": (28, 30)},
    "case": {"seat": (35, 40), "mouth": (40, 42, 44), "recess": (28, 30), "foot": (48, 52)},
    "flywheel": {"taper": (12, 13), "stack": (30, 34), "pole": (90, 94)},
    "module": {"pole": (90, 94), "plug": (2, 3)},
    "limiter": {"plug": (2, 3)},
    "head": {"deck": (60, 62, 64), "thread": (14, 18)},
    "plug": {"thread": (14, 18)},
    "carburettor": {"holes": (40, 44, 48), "spigot": (18, 20, 22), "turn": (0, 90)},
    "flange": {"holes": (40, 44, 48), "port": (38, 40)},
    "boot": {"end": (18, 20, 22), "turn": (0, 90), "passage": (0, 1)},
    "filter holder": {"neck": (0, 1), "lid": (50, 55)},
    "top cover": {"height": (66, 70, 74), "lid": (50, 55)},
    "silencer": {"studs": (38, 40), "screen": (20, 24)},
    "recoil cover": {"depth": (32, 36)},
}
PAIRS: tuple[tuple[str, str, str, str, float, float], ...] = (
    ("piston", "skirt", "cylinder", "bore", -0.2, 0.2),
    ("ring", "nominal", "cylinder", "bore", -0.1, 0.1),
    ("ring", "height", "piston", "groove", -0.1, 0.1),
    ("wrist pin", "od", "piston", "pin", -0.1, 0.1),
    ("wrist pin", "od", "small-end bearing", "inside", -0.1, 0.1),
    ("pin clip", "groove", "wrist pin", "od", -0.1, 0.1),
    ("small-end bearing", "outside", "rod", "eye", -0.1, 0.1),
    ("rod", "big", "crank", "pin", -0.1, 0.1),
    ("crank", "journal", "main bearing", "bore", -0.1, 0.1),
    ("crank", "journal", "seal", "shaft", -0.1, 0.1),
    ("main bearing", "outside", "case", "seat", -0.1, 0.1),
    ("seal", "outside", "case", "recess", -0.1, 0.1),
    ("crank", "taper", "flywheel", "taper", -0.1, 0.1),
    ("flywheel", "pole", "module", "pole", -0.1, 0.1),
    ("module", "plug", "limiter", "plug", -0.1, 0.1),
    ("cylinder", "spigot", "case", "mouth", -0.1, 0.5),
    ("cylinder", "foot", "case", "foot", -0.1, 0.1),
    ("cylinder", "deck", "head", "deck", -0.1, 0.1),
    ("plug", "thread", "head", "thread", 0, 0),
    ("cylinder", "studs", "silencer", "studs", -0.2, 0.2),
    ("cylinder", "studs", "flange", "port", -0.2, 0.2),
    ("carburettor", "holes", "flange", "holes", -0.2, 0.2),
    ("carburettor", "spigot", "boot", "end", -0.5, 0.5),
    ("carburettor", "turn", "boot", "turn", 0, 0),
    ("boot", "passage", "filter holder", "neck", 0, 0),
    ("filter holder", "lid", "top cover", "lid", -0.2, 0.2),
    ("cylinder", "deck", "top cover", "height", 5, 20),
    ("flywheel", "stack", "recoil cover", "depth", 1, 8),
)
MAKERS = tuple(f"maker-{place}" for place in range(6))
ERAS_OF_A_FAMILY = 3


def catalogue(models: int, designs: int, rules: int, seed: int = 1) -> Catalogue:
    """Make a catalogue of about so many rows.

    Args:
        models: Number of models.
        designs: Number of designs.
        rules: Number of rules.
        seed: The same seed makes the same catalogue.
    """
    rng = random.Random(seed)
    families = [Family(f"family-{place}", f"family {place}") for place in range(max(1, models // 50))]
    eras = [
        Generation(f"{family.key}-{ordinal}", family.key, ordinal, f"generation {ordinal}")
        for family in families
        for ordinal in range(1, ERAS_OF_A_FAMILY + 1)
    ]
    rows = [_model(rng, place, eras[place % len(eras)]) for place in range(models)]
    nominal = {
        era.key: {kind: {name: rng.choice(steps) for name, steps in sizes.items()} for kind, sizes in SIZES.items()}
        for era in eras
    }
    for era in eras:
        _agree(rng, nominal[era.key])
    parts = [_design(rng, place, eras, nominal) for place in range(designs)]
    by_place: dict[tuple[str, str], list[Design]] = {}
    for part in parts:
        by_place.setdefault((part.generation, part.kind), []).append(part)
    return Catalogue(
        makers=tuple(Maker(key, key) for key in MAKERS),
        families=tuple(families),
        generations=tuple(eras),
        models=tuple(rows),
        kinds=tuple(Kind(kind, kind) for kind in SIZES),
        designs=tuple(parts),
        position_rows=tuple(PositionRow(era.key, "", kind, kind) for era in eras for kind in SIZES),
        came_on=tuple(_stock(rng, eras, rows, by_place)),
        mates=tuple(
            Mate(f"{a} {x} - {b} {y}", f"{a} to {b}", a, x, b, y, "gap", round(low * MM), round(high * MM))
            for a, x, b, y, low, high in PAIRS
        ),
        rules=tuple(_rule(rng, place, parts, rows, eras, families) for place in range(rules)),
    )


def _model(rng: random.Random, place: int, era: Generation) -> Model:
    first = 1960 + 10 * era.ordinal + rng.randrange(4)
    return Model(
        f"model-{place}", f"model {place}", rng.choice(MAKERS), era.key, Years(first, first + rng.randrange(3, 8))
    )


def _agree(rng: random.Random, sheet: dict[str, dict[str, float]]) -> None:
    """Make the nominal sizes of a sheet agree across its mates, most of the time, as a factory does."""
    for a, x, b, y, low, high in PAIRS:
        fitting = [step for step in SIZES[b][y] if low <= step - sheet[a][x] <= high]
        if fitting:
            sheet[b][y] = rng.choice(fitting)


def _design(
    rng: random.Random, place: int, eras: list[Generation], nominal: dict[str, dict[str, dict[str, float]]]
) -> Design:
    kinds = tuple(SIZES)
    kind = kinds[place % len(kinds)]
    era = eras[(place // len(kinds)) % len(eras)]
    values: dict[str, Known] = {}
    for name, steps in SIZES[kind].items():
        if place >= len(kinds) * len(eras) and rng.random() < 0.15:
            continue
        changed = place >= len(kinds) * len(eras) and rng.random() < 0.3
        size = rng.choice(steps) if changed else nominal[era.key][kind][name]
        values[name] = interval(round(size * MM))
        if changed and rng.random() < 0.1:
            values[name] = Interval(round(size * MM) - 200_000, round(size * MM) + 200_000)
    price = rng.choice([None, *range(500, 9000, 500)])
    return Design(f"d{place}", kind, f"{kind} {place}", rng.choice(MAKERS), era.key, price, values)


def _stock(
    rng: random.Random, eras: list[Generation], rows: list[Model], by_place: dict[tuple[str, str], list[Design]]
) -> list[CameOn]:
    found = [CameOn(by_place[era.key, kind][0].key, kind, era.key) for era in eras for kind in SIZES]
    for row in rows:
        if rng.random() < 0.3:
            kind = rng.choice(tuple(SIZES))
            years = Years(row.years.from_year, (row.years.from_year or 0) + 2) if rng.random() < 0.3 else ALL_YEARS
            found.append(CameOn(rng.choice(by_place[row.generation, kind]).key, kind, "", row.key, years))
    return found


def _rule(
    rng: random.Random,
    place: int,
    parts: list[Design],
    rows: list[Model],
    eras: list[Generation],
    families: list[Family],
) -> Rule:
    verdict = rng.choices(("bolts_on", "with_work", "with_companions", "wont_fit"), (60, 15, 10, 15))[0]
    evidence = rng.choice(("bench", "book", "measured", "word"))
    part = rng.choice(parts)
    wide = rng.random() < 0.03
    target = rng.random()
    model = rng.choice(rows).key if target < 0.8 else ""
    generation = rng.choice(eras).key if 0.8 <= target < 0.95 else ""
    family = rng.choice(families).key if target >= 0.95 else ""
    return Rule(
        f"r{place}",
        verdict,
        evidence,
        design="" if wide else part.key,
        kind=part.kind if wide else "",
        part_maker=part.maker if wide else "",
        model=model,
        generation=generation,
        family=family,
        years=Years(1970 + rng.randrange(15)) if rng.random() < 0.1 else ALL_YEARS,
        companions=((rng.choice(parts).key,),) if verdict == "with_companions" else (),
        source="invented",
    )
