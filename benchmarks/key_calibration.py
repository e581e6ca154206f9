"""Does identification mean what it says? Simulated parts, stated against observed.

Run from the project's folder: ``python benchmarks/key_calibration.py``; it writes ``benchmarks/key.md``.

Parts are drawn from invented kinds whose designs look alike: sizes on a grid, tells shared by several. Each part is
worn and measured as the model says, or worse (wear and error half as large again), and asked question by question until
the questions end.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Kind, Measure
from stash.fit.intervals import Interval, interval
from stash.key.identify import Identification, identify

PARTS_PER_KIND = 100
KINDS = 12
STRANGERS = 0.05
SLIPS = 0.01
TELL_ERRORS = 0.03
MEASURES = (
    Measure("part", "skirt_mm", "skirt", "number", "mm", (), 30_000, "smaller", 15.0),
    Measure("part", "pin_mm", "pin bore", "number", "mm", (), 50_000, "larger", 20.0),
    Measure("part", "height_mm", "height", "number", "mm", (), 30_000, "none", 40.0),
    Measure("part", "window", "window", "yes_no", effort_s=3.0),
    Measure("part", "form", "form", "choice", "", ("round", "square", "flat"), effort_s=5.0),
)
WEAR_MM = {"skirt_mm": -0.05, "pin_mm": 0.02, "height_mm": 0.0}
RANGES_MM = {"skirt_mm": (30.0, 46.0), "pin_mm": (8.0, 15.0), "height_mm": (17.0, 31.0)}
BINS = ((0.0, 0.2), (0.2, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 0.99), (0.99, 1.01))


@dataclass(frozen=True)
class Run:
    """One part, identified."""

    truth: str
    answer: Identification
    asked: int
    seconds: float


def a_kind(rng: random.Random) -> Catalogue:
    """Eight designs whose sizes lie on a coarse grid, so that many share most of them."""
    designs = []
    for at in range(8):
        sizes = {
            "skirt_mm": rng.choice((37.95, 38.15, 38.20, 38.45)),
            "pin_mm": rng.choice((10.0, 10.2, 12.0)),
            "height_mm": rng.choice((22.0, 22.2, 24.0, 25.5)),
        }
        values: dict[str, Interval | str] = {
            key: interval(round(size * 1e6), 10_000, 10_000) for key, size in sizes.items()
        }
        values["window"] = rng.choice(("yes", "no"))
        values["form"] = rng.choice(("round", "square", "flat"))
        designs.append(Design(f"d{at}", "part", values=values))
    return Catalogue(kinds=(Kind("part", "part"),), measures=MEASURES, designs=tuple(designs))


def reading(rng: random.Random, measure: Measure, design: Design | None, worse: float) -> float | str:
    """What is read off a part: of a design, or of a stranger when there is none."""
    known = design.values[measure.key] if design else None
    if measure.type != "number":
        words = measure.choices or ("yes", "no")
        if not isinstance(known, str):
            return rng.choice(words)
        return rng.choice([word for word in words if word != known]) if rng.random() < TELL_ERRORS * worse else known
    low, high = RANGES_MM[measure.key]
    if not isinstance(known, Interval) or rng.random() < SLIPS * worse:
        return round(rng.uniform(low, high), 4)
    size = rng.uniform(known.low_u, known.high_u) / 1e6
    wear = WEAR_MM[measure.key] * worse * rng.expovariate(1.0)
    return round(size + wear + rng.gauss(0.0, (measure.uncertainty_u or 0) / 1e6 * worse), 4)


def run(rng: random.Random, catalogue: Catalogue, worse: float) -> Run:
    """Draw a part and ask until the questions end."""
    design = None if rng.random() < STRANGERS else rng.choice(catalogue.designs)
    answers: dict[str, float | str | bool | None] = {}
    begun = time.perf_counter()
    found = identify(catalogue, "part", answers)
    while found.next is not None:
        measure = catalogue.measure["part", found.next.measure]
        answers[measure.key] = reading(rng, measure, design, worse)
        found = identify(catalogue, "part", answers)
    return Run(design.key if design else "", found, len(answers), time.perf_counter() - begun)


def runs(worse: float) -> Iterator[Run]:
    """All parts of all kinds; the same draw every time."""
    rng = random.Random(20)
    for _ in range(KINDS):
        catalogue = a_kind(rng)
        for _ in range(PARTS_PER_KIND):
            yield run(rng, catalogue, worse)


def calibration(done: list[Run]) -> list[str]:
    """Every probability stated, of designs and of "none of these", against how often it was so."""
    stated = [(share, name == each.truth) for each in done for name, share in each.answer.ranking]
    stated += [(each.answer.none_of_these, not each.truth) for each in done]
    lines = ["| stated between | how many | mean stated | observed | standard error |", "|---|---|---|---|---|"]
    for low, high in BINS:
        rows = [(share, so) for share, so in stated if low <= share < high]
        if rows:
            mean = sum(share for share, _ in rows) / len(rows)
            observed = sum(so for _, so in rows) / len(rows)
            error = math.sqrt(max(mean * (1 - mean), 1e-9) / len(rows))
            lines.append(
                f"| {low:.2f} and {min(high, 1):.2f} | {len(rows)} | {mean:.4f} | {observed:.4f} | {error:.4f} |"
            )
    return lines


def endings(done: list[Run]) -> list[str]:
    """How the questions ended, and how often that was right."""
    lines = ["| ended | share | right | questions asked |", "|---|---|---|---|"]
    for stop in ("clear", "tie", "none"):
        rows = [each for each in done if each.answer.stop == stop]
        if not rows:
            continue
        right = sum(each.truth == ("" if stop == "none" else each.answer.ranking[0][0]) for each in rows)
        asked = sum(each.asked for each in rows) / len(rows)
        lines.append(
            f"| {stop} | {len(rows) / len(done):.1%} | {right / len(rows):.1%} | {asked:.2f} of {len(MEASURES)} |"
        )
    return lines


def main() -> None:
    """Write the tables."""
    about = (
        f"{KINDS} invented kinds of 8 look-alike designs, {PARTS_PER_KIND} simulated parts each, "
        f"{STRANGERS:.0%} of them of no design on record, {SLIPS:.0%} slips, {TELL_ERRORS:.0%} wrong tells. "
        "Made by `benchmarks/key_calibration.py`."
    )
    pages = ["# Identification: stated against observed", "", about, ""]
    for worse, title in ((1.0, "Parts as the model takes them"), (1.5, "Wear, errors and slips half as large again")):
        done = list(runs(worse))
        pages += [f"## {title}", "", *calibration(done), "", *endings(done), ""]
        whole = sum(each.seconds for each in done) / sum(each.asked + 1 for each in done)
        print(f"{title}: {len(done)} parts, {whole * 1000:.1f} ms an answer")
    Path(__file__).with_name("key.md").write_text("\n".join(pages), encoding="utf-8")


if __name__ == "__main__":
    main()
