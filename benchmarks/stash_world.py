"""A generated stash, as the tables its owner would load: machines, loose parts in bins, wanted models, builds.

The catalogue is ``fit_catalogue``'s. Seeded, so that every run measures the same thing. Run
``python benchmarks/stash_world.py FOLDER --lots 20000`` to get it as CSV files for ``stash load``.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import random
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from benchmarks.fit_catalogue import SIZES, catalogue
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design
from stash.fit.intervals import Interval, Known
from stash.kernel.codes import ALPHABET, code_from_payload
from stash.kernel.exact import micro_text
from stash.kernel.tables import TABLE_BY_NAME

Rows = dict[str, list[dict[str, object]]]
STATES = ("runner", "display", "project", "donor", "stripped")
CONDITIONS = ("new", "excellent", "good", "serviceable", "needs_work", "core", "scrap", "unknown")
LOTS_A_BIN = 40
UNKNOWN_SHARE = 0.03
"""Lots that nobody has identified. Source: project decision."""


def stash(*, machines: int, lots: int, models: int, designs: int, rules: int, seed: int = 1) -> Rows:
    """Make a whole stash.

    Args:
        machines: Owned machines; a tenth of them lack something, and every tenth of those is a build.
        lots: Loose lots, in bins of forty.
        models: Models of the catalogue.
        designs: Designs of the catalogue.
        rules: Rules of the catalogue.
        seed: The same seed makes the same stash.

    Returns:
        ``{table: rows}``, a row as ``{column: value}``; columns that are empty are left out.
    """
    rng = random.Random(seed)
    facts = catalogue(models, designs, rules, seed)
    code = codes()
    bins = [next(code) for _ in range(max(1, lots // LOTS_A_BIN))]
    shelf = next(code)
    rows = dict(_catalogue_rows(facts))
    rows["places"] = [{"code": shelf, "name": "Shelf"}]
    rows["places"] += [{"code": each, "name": f"bin {place}", "inside": shelf} for place, each in enumerate(bins)]
    rows["machines"], rows["fitted"], rows["builds"] = _machines(rng, facts, code, machines)
    rows["lots"] = [_lot(rng, rng.choice(facts.designs), next(code), rng.choice(bins)) for _ in range(lots)]
    rows["wanted"] = [{"model": each.key} for each in rng.sample(facts.models, min(40, models // 4))]
    return rows


def write(rows: Rows, folder: Path) -> None:
    """Write a stash as a folder of CSV files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, found in rows.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            out = csv.DictWriter(file, TABLE_BY_NAME[name].names, lineterminator="\n")
            out.writeheader()
            out.writerows(found)


def codes() -> Iterator[str]:
    """Yield label codes, one after the other."""
    payloads = map("".join, itertools.product(ALPHABET, repeat=5))
    return (str(code) for code in map(code_from_payload, payloads) if code is not None)


def _catalogue_rows(facts: Catalogue) -> Iterator[tuple[str, list[dict[str, object]]]]:
    for name, known in (("makers", facts.makers), ("families", facts.families)):
        yield name, [{"key": row.key, "name": row.name} for row in known]
    yield "generations", [_given(row, "key", "family", "ordinal", "name") for row in facts.generations]
    yield "models", [_given(row, "key", "name", "maker", "generation") | _years(row.years) for row in facts.models]
    yield "kinds", [{"key": _slug(row.key), "name": row.name, "system": "engine"} for row in facts.kinds]
    sizes = [(kind, name) for kind, names in SIZES.items() for name in names]
    yield (
        "measures",
        [{"kind": _slug(kind), "key": name, "name": name, "type": "number", "unit": "mm"} for kind, name in sizes],
    )
    yield "designs", [_design(row) for row in facts.designs]
    yield "numbers", [{"number": f"N-{row.key}", "maker": row.maker, "design": row.key} for row in facts.designs]
    yield "design_measures", [_value(row.key, *pair) for row in facts.designs for pair in row.values.items()]
    yield (
        "positions",
        [_given(row, "generation", "position") | {"kind": _slug(row.kind)} for row in facts.position_rows],
    )
    yield (
        "came_on",
        [
            _given(row, "design", "position", "model") | _years(row.years) | _era(row.model, row.generation)
            for row in facts.came_on
        ],
    )
    yield "mates", [_mate(row) for row in facts.mates]
    yield "rules", [_rule(row) for row in facts.rules]


def _given(row: object, *names: str) -> dict[str, object]:
    return {name: getattr(row, name) for name in names}


def _years(years: tuple[int | None, int | None]) -> dict[str, object]:
    return {name: year for name, year in zip(("from_year", "to_year"), years, strict=True) if year is not None}


def _era(model: str, generation: str) -> dict[str, object]:
    return {} if model else {"generation": generation}


def _slug(kind: str) -> str:
    return kind.replace(" ", "_")


def _design(row: Design) -> dict[str, object]:
    price = {} if row.price_minor is None else {"price": f"{row.price_minor / 100:.2f}"}
    return _given(row, "key", "name", "maker", "generation") | {"kind": _slug(row.kind)} | price


def _value(design: str, measure: str, value: Known) -> dict[str, object]:
    if not isinstance(value, Interval):
        return {"design": design, "measure": measure, "value": value}
    middle = (value.low_u + value.high_u) // 2
    given = {"design": design, "measure": measure, "value": micro_text(middle)}
    spread = {"minus": micro_text(middle - value.low_u), "plus": micro_text(value.high_u - middle)}
    return given | (spread if value.low_u < value.high_u else {})


def _mate(row: object) -> dict[str, object]:
    given = _given(row, "name", "measure_a", "measure_b", "relation", "low_u", "high_u", "kind_a", "kind_b", "key")
    low, high = (micro_text(int(str(given.pop(name)))) for name in ("low_u", "high_u"))
    kinds = {name: _slug(str(given[name])) for name in ("kind_a", "kind_b")}
    return given | kinds | {"key": _slug(str(given["key"])).replace("_-_", "-"), "low": low, "high": high}


def _rule(row: object) -> dict[str, object]:
    names = ("key", "verdict", "design", "part_maker", "model", "generation", "family", "evidence", "source", "kind")
    given = _given(row, *names)
    given["kind"] = _slug(str(given["kind"]))
    companions = ";".join("|".join(item) for item in getattr(row, "companions"))  # noqa: B009 (a row of any table)
    return given | _years(getattr(row, "years")) | {"companions": companions}  # noqa: B009


def _machines(
    rng: random.Random, facts: Catalogue, code: Iterator[str], count: int
) -> tuple[list[dict[str, object]], list[dict[str, object]], list[dict[str, object]]]:
    machines, fitted, builds = [], [], []
    for place in range(count):
        model, key = rng.choice(facts.models), next(code)
        year = model.years.from_year
        machines.append({"code": key, "model": model.key, "year": year, "state": rng.choice(STATES)})
        for position in rng.sample(sorted(facts.positions[model.key]), 3):
            stock = facts.stock_rows[model.key][position]
            fitted.append({"machine": key, "position": position, "state": "present", "design": stock[0].design})
        if place % 10 == 0:
            fitted[-1] |= {"state": "missing", "design": ""}
            fitted[-2] |= {"state": "faulty"}
        if place % 100 == 0:
            builds.append({"key": f"build-{place}", "name": f"build {place}", "machine": key, "status": "open"})
    return machines, fitted, builds


def _lot(rng: random.Random, part: Design, code: str, place: str) -> dict[str, object]:
    known: Mapping[str, object] = {} if rng.random() < UNKNOWN_SHARE else {"design": part.key}
    return {
        "code": code,
        "kind": _slug(part.kind),
        **known,
        "quantity": rng.choices((1, 2, 3, 8), (6, 2, 1, 1))[0],
        "condition": rng.choice(CONDITIONS),
        "checked": rng.choice(("", "looked", "measured", "ran")),
        "place": place,
        "number_seen": f"N-{part.key}" if rng.random() < 0.5 else "",
        "note": f"from the {rng.choice(('red', 'blue', 'rusty', 'last'))} donor",
    }


def main(given: Iterable[str] | None = None) -> None:
    """Write a stash into a folder."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--lots", type=int, default=20_000)
    asked = parser.parse_args(None if given is None else list(given))
    share = max(1, asked.lots // 10)
    write(stash(machines=500, lots=asked.lots, models=share // 10, designs=share // 2, rules=share), asked.folder)


if __name__ == "__main__":
    main()
