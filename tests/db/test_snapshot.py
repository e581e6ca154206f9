"""Rows turned into facts: exact, complete, and the same on both engines."""

from dataclasses import fields

import pytest
from hypothesis import HealthCheck, given, settings

from stash.db.store import open_store
from stash.fit import facts
from stash.fit.intervals import Interval
from stash.kernel.exact import micro_text
from stash.kernel.tables import TABLE_BY_NAME
from stash.kernel.years import Years
from stash.plan.facts import Build, BuildPart, Place, Wanted
from stash.services.tables import load
from tests.services.random_tables import Tables, raw, valid_tables
from tests.services.test_tables import GOOD, A, B, C, D
from tests.services.test_tables import raw as raw_texts

MORE = {
    "generations": (
        "key,family,ordinal,name,from_year,to_year,tell\ng1,k,1,first,1965,1969,grey\ng2,k,2,second,1970,,\n"
    ),
    "models": (
        "key,name,maker,generation,from_year,cylinders,bore_mm,stroke_mm,rated_rpm\n"
        "m1,One,fen,g1,1966,1,38.000001,43.2,5500\nm2,Two,rud,g2,,,,,\n"
    ),
    "positions": "generation,model,position,kind,quantity\ng1,,carburettor,carb,1\ng1,,boot,boot,2\n,m2,inlet,boot,0\n"
    "g2,,carburettor,carb,1\n",
    "fitted_measures": f"machine,position,measure,value\n{C},carburettor,venturi_mm,14.02\n{C},carburettor,turn,left\n",
    "places": f"code,name,inside,note,counted_on\n{A},shelf,,,\n{B},bin,{A},red,2024-05-31\n",
    "law_lines": "key,name,up_to_cm3,note\nlarge,large,125,\nsmall,small,49.9,hearsay\n",
    "wanted": "model,value,note\nm2,2.5,blue\n",
}


@pytest.fixture
def furnished(store):
    report = load(store, raw_texts(GOOD | MORE), "ann")
    assert report.ok, report.errors
    return store


def test_a_design_has_its_values_as_intervals_and_words(furnished):
    design = furnished.catalogue().design["c14"]
    assert (design.kind, design.name, design.price_minor, design.maker) == ("carb", "C 14", 1850, "")
    assert design.values == {"venturi_mm": Interval(13_950_000, 14_050_000), "turn": "left", "choke": "yes"}


def test_a_model_is_exact_to_a_millionth(furnished):
    model = furnished.catalogue().model["m1"]
    assert (model.bore_u, model.stroke_u, model.rated_rpm_u) == (38_000_001, 43_200_000, 5_500_000_000)
    assert (model.years, model.cylinders) == (Years(1966, None), 1)
    assert furnished.catalogue().model["m2"].bore_u is None


def test_the_rest_of_the_catalogue_is_as_the_rows_say(furnished):
    catalogue = furnished.catalogue()
    assert catalogue.generation["g1"] == facts.Generation("g1", "k", 1, "first", Years(1965, 1969), "grey")
    assert catalogue.measure["carb", "turn"].choices == ("left", "right")
    assert facts.Number("FN-1-A", "fen", "c14", "FN-1-B") in catalogue.numbers
    assert facts.PositionRow("", "m2", "inlet", "boot", 0) in catalogue.position_rows
    assert catalogue.came_on == (facts.CameOn("c14", "carburettor", "g1", "", Years(None, None)),)
    assert catalogue.mates == (facts.Mate("turn", "turned alike", "carb", "turn", "boot", "turn", "same"),)
    rule = facts.Rule("r1", "with_companions", "bench", design="c15", model="m1", companions=(("b1",), ("boot",)))
    assert catalogue.rules == (rule,)
    assert (catalogue.makers, catalogue.families) == (
        (facts.Maker("fen", "Fenn"), facts.Maker("rud", "Rudd")),
        (facts.Family("k", "Kittle"),),
    )
    assert catalogue.kind["boot"] == facts.Kind("boot", "boot")


def test_the_stock_is_as_the_rows_say(furnished):
    stock = furnished.stock()
    part = facts.Fitted("present", "c14", "", {"venturi_mm": Interval(14_020_000, 14_020_000), "turn": "left"})
    assert stock.machines == {C: facts.Machine(C, "m1", fitted={"carburettor": part})}
    assert stock.lots == {D: facts.Lot(D, "carb", "c15", 3, place=B, values={"turn": "right"})}
    assert stock.places == {A: Place(A, "shelf"), B: Place(B, "bin", A, "red", "2024-05-31")}
    assert stock.wanted == (Wanted("m2", 2_500_000, "blue"),)
    assert [(line.key, line.limit, line.text, line.source) for line in stock.law_lines] == [
        ("small", 49.9, "small", "hearsay"),
        ("large", 125.0, "large", "as noted by the owner"),
    ]


def test_without_lines_of_ones_own_the_moped_line_stands(store):
    """Source: Regulation (EU) No 168/2013, Annex I, L1e: 50 cm³."""
    assert [(line.key, line.limit) for line in store.stock().law_lines] == [("moped_cm3", 50.0)]


def test_a_build_on_a_machine_knows_its_model(furnished):
    build = Build("b", "finish it", "m1", C, parts=(BuildPart("carburettor", "", D),))
    assert furnished.stock().builds == {"b": build}


@pytest.mark.parametrize("engine", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_every_row_and_cell_of_random_tables_is_in_the_facts(make_url_of, engine):
    health = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large]

    @settings(max_examples=20 if engine == "sqlite" else 4, deadline=None, suppress_health_check=health)
    @given(valid_tables())
    def holds(tables: Tables):
        store = open_store(make_url_of(engine))
        load(store, raw(tables), "ann")
        catalogue, stock = store.catalogue(), store.stock()
        store.close()
        for name, rows in (
            ("makers", catalogue.makers),
            ("models", catalogue.models),
            ("designs", catalogue.designs),
            ("rules", catalogue.rules),
            ("mates", catalogue.mates),
            ("machines", stock.machines.values()),
            ("lots", stock.lots.values()),
            ("builds", stock.builds.values()),
        ):
            key = TABLE_BY_NAME[name].identity[0]
            assert {getattr(row, key): shown(row) for row in rows} == {
                row[key]: told(row, rows) for row in tables[name]
            }
        values = {
            (design.key, measure): value if isinstance(value, str) else middle(value, tables, design.key, measure)
            for design in catalogue.designs
            for measure, value in design.values.items()
        }
        assert values == {(row["design"], row["measure"]): row["value"] for row in tables["design_measures"]}
        fitted = {(code, spot) for code, machine in stock.machines.items() for spot in machine.fitted}
        assert fitted == {(row["machine"], row["position"]) for row in tables["fitted"]}

    holds()


def shown(row):
    """The texts of a fact that have the name of a column."""
    return {field.name: value for field in fields(row) if isinstance(value := getattr(row, field.name), str)}


def told(row, facts_of_table):
    """What a row says of those."""
    names = shown(next(iter(facts_of_table)))
    said = {name: row[name] for name in names if name in row}
    if "budget" in row:  # a build on a machine is of that machine's model
        said["model"] = row["model"] or next(b.model for b in facts_of_table if b.key == row["key"])
    return said


def middle(value: Interval, tables: Tables, design: str, measure: str) -> str:
    """The value an interval was made from."""
    row = next(r for r in tables["design_measures"] if (r["design"], r["measure"]) == (design, measure))
    return micro_text(value.low_u + round(float(row["minus"] or 0) * 1_000_000))
