"""How a measure is taken: every measure of the starter vocabulary that a tool takes has its drawing."""

import csv
import re
from pathlib import Path

import pytest

from stash.fit.facts import Measure
from stash.key.taking import TAKINGS, way_of

ROOT = Path(__file__).parents[2]
STARTER = ROOT / "seed_demo" / "starter" / "measures.csv"
DRAWINGS = ROOT / "templates" / "macros" / "drawings.html"
NO_TOOL = {"piston_height_mm", "stroke_mm", "pair_number", "stack_mm", "year", "capacity_uf", "resistance_kohm"}


def starter():
    with STARTER.open(encoding="utf-8", newline="") as file:
        return [
            Measure(row["kind"], row["key"], row["name"], row["type"], row["unit"], how=row["how"])
            for row in csv.DictReader(file)
        ]


@pytest.mark.parametrize(
    "measure", [row for row in starter() if row.type == "number"], ids=lambda row: f"{row.kind}-{row.key}"
)
def test_every_size_of_the_starter_vocabulary_has_a_way_to_take_it(measure):
    assert (way_of(measure) == "") == (measure.key in NO_TOOL)


@pytest.mark.parametrize(
    ("kind", "key", "way"),
    [
        ("piston", "skirt_mm", "outside"),
        ("carburettor", "venturi_mm", "inside"),
        ("silencer", "stud_spacing_mm", "centres"),
        ("connecting_rod", "centres_mm", "centres"),
        ("cylinder", "exhaust_top_mm", "depth"),
        ("piston", "pin_bore_mm", "pin_bore"),
        ("piston", "compression_height_mm", "crown"),
        ("cylinder", "height_mm", "height"),
        ("head_gasket", "thickness_mm", "micrometer"),
        ("cylinder", "bore_mm", "bore_gauge"),
        ("crank_assembly", "taper_large_mm", "taper"),
        ("stud", "thread", "thread"),
        ("piston", "mass_g", "mass"),
        ("sprocket", "teeth_n", "count"),
        ("piston", "window", ""),
    ],
)
def test_the_words_decide_the_way(kind, key, way):
    assert next(way_of(row) for row in starter() if (row.kind, row.key) == (kind, key)) == way


@pytest.mark.parametrize(
    ("name", "unit", "how", "way"),
    [
        ("end gap", "mm", "Feelers, ring square in its bore", "feeler"),
        ("ring gap", "mm", "", "feeler"),
        ("hole spacing", "mm", "", "centres"),
        ("hub bore", "mm", "", "inside"),
        ("weight", "g", "", "mass"),
        ("volume", "cm³", "", "volume"),
        ("colour", "", "", ""),
        ("hub bore", "mm", "as stamped", ""),
    ],
)
def test_an_owners_own_measure_is_understood_by_its_words_or_its_name(name, unit, how, way):
    assert way_of(Measure("kind", "key", name, "number", unit, how=how)) == way


def test_every_way_is_drawn_and_told():
    drawn = set(re.findall(r'way == "(\w+)"', DRAWINGS.read_text(encoding="utf-8")))
    assert drawn == set(TAKINGS)
    assert {way_of(row) for row in starter()} - {""} <= drawn
    assert "style=" not in DRAWINGS.read_text(encoding="utf-8")
