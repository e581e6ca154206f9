"""The scenario's own facts, read as plain CSV: counts, codes, displacements, references."""

import re
from collections import Counter

import pytest
from stdnum.iso7064 import mod_37_2

from seed_demo import DEMO
from stash.kernel.tables import TABLE_BY_NAME
from tests.seed_demo.rows import sheet_of, stock_of, swept_cm3, values_of

DISPLACEMENT_CM3 = {
    "kittle": 48.77, "kittle-s": 48.77, "kittle-ii": 48.77, "kittle-cargo": 48.77, "pip": 48.77, "pip-de-luxe": 49.28,
    "pip-ii": 48.77, "pip-ii-e": 48.77, "mardle": 47.78, "mardle-t": 47.78, "tansel": 47.78, "mardle-r": 49.64,
    "tansel-r": 49.64, "tansel-rk": 49.64,
}  # fmt: skip
RATED_RPM = {
    "kittle": 5500, "kittle-s": 6500, "kittle-ii": 7000, "kittle-cargo": 5500, "pip": 5500, "pip-de-luxe": 6000,
    "pip-ii": 7000, "pip-ii-e": 5000, "mardle": 6000, "mardle-t": 6000, "tansel": 6000, "mardle-r": 7500,
    "tansel-r": 7500, "tansel-rk": 8500,
}  # fmt: skip


def test_every_table_but_the_vocabulary_of_kinds_is_there_with_its_columns(demo):
    assert set(demo) == set(TABLE_BY_NAME) - {"kinds"}
    for name in demo:
        header = (DEMO / f"{name}.csv").read_text(encoding="utf-8").split("\n", 1)[0].strip().split(",")
        assert tuple(header) == TABLE_BY_NAME[name].names, name


@pytest.mark.parametrize(
    ("table", "rows"),
    [("makers", 2), ("families", 2), ("generations", 4), ("models", 14), ("rules", 40), ("machines", 18), ("lots", 220),
     ("wanted", 6), ("builds", 4)],
)  # fmt: skip
def test_it_has_the_size_of_a_real_collection(demo, table, rows):
    assert len(demo[table]) == rows


def test_there_are_enough_designs_to_be_lost_among(demo):
    assert 120 <= len(demo["designs"]) <= 150


def test_the_machines_are_in_every_state_a_collection_knows(demo):
    states = Counter(row["state"] for row in demo["machines"])
    assert states == {"runner": 5, "display": 2, "project": 4, "donor": 3, "stripped": 3, "loaned": 1}


def test_35_bins_lie_inside_places_and_one_of_them_is_empty(demo):
    inside = {row["inside"] for row in demo["places"]}
    bins = {row["code"] for row in demo["places"] if row["code"] not in inside}
    used = {row["place"] for row in demo["lots"]}
    assert len(bins) == 35
    assert used < bins
    assert len(bins - used) == 1


def test_every_bin_is_in_a_shelf_or_rack_that_is_in_a_room(demo):
    inside = {row["code"]: row["inside"] for row in demo["places"]}
    for code in {row["place"] for row in demo["lots"]}:
        assert not inside[inside[inside[code]]]


def test_every_code_checks_and_names_one_thing_only(demo):
    """Source: ISO/IEC 7064 MOD 37-2, as computed by python-stdnum."""
    codes = [row["code"] for table in ("places", "machines", "lots") for row in demo[table]]
    assert len(set(codes)) == len(codes) == 43 + 18 + 220
    for code in codes:
        assert mod_37_2.is_valid(code), code
        assert re.fullmatch("[0-9A-HJKMNP-TV-Z]{6}", code), code


def test_the_displacements_follow_from_bore_and_stroke(demo):
    """Source: swept volume, pi/4 b^2 s."""
    computed = {row["key"]: swept_cm3(row["bore_mm"], row["stroke_mm"]) for row in demo["models"]}
    assert computed == DISPLACEMENT_CM3


def test_the_rated_speeds_are_those_of_the_badges(demo):
    assert {row["key"]: int(row["rated_rpm"]) for row in demo["models"]} == RATED_RPM


def test_stock_cylinders_and_cranks_have_the_bore_and_stroke_of_their_models(demo):
    values = values_of(demo)
    for model in demo["models"]:
        assert {float(values[key]["bore_mm"]) for key in stock_of(demo, model, "cylinder")} == {float(model["bore_mm"])}
        assert {float(values[key]["stroke_mm"]) for key in stock_of(demo, model, "crank assembly")} == {
            float(model["stroke_mm"])
        }


def test_no_stock_module_cuts_above_the_rated_speed(demo):
    values = values_of(demo)
    for model in demo["models"]:
        for key in stock_of(demo, model, "ignition"):
            assert float(values[key].get("rev_limit_rpm", 0)) <= float(model["rated_rpm"])


@pytest.mark.parametrize(
    ("piston", "crank", "bore_mm", "cm3"),
    [("piston-380-a-025", "crank-a1", 38.25, 49.41), ("piston-380-a-050", "crank-a1", 38.5, 50.06),
     ("piston-400-025", "crank-b2", 40.25, 50.26), ("piston-kit-45", "crank-a1", 45, 68.39),
     ("piston-kit-47", "crank-b2", 47, 68.53)],
)  # fmt: skip
def test_one_oversize_and_both_kits_cross_the_line_of_50_cm3(demo, piston, crank, bore_mm, cm3):
    """Mopeds of class L1e have at most 50 cm³. Source: EU regulation 168/2013, annex I."""
    values = values_of(demo)
    assert 0.02 <= bore_mm - float(values[piston]["skirt_mm"]) <= 0.14
    assert swept_cm3(bore_mm, values[crank]["stroke_mm"]) == cm3
    assert (cm3 > 50) == (piston != "piston-380-a-025")


@pytest.mark.parametrize(
    ("bearing", "size"), [("bearing-6202", (15, 35, 11)), ("bearing-6203", (17, 40, 12)),
                          ("bearing-6203-c3", (17, 40, 12)), ("bearing-6203-2rs", (17, 40, 12))]
)  # fmt: skip
def test_the_ball_bearings_have_their_standard_size(demo, bearing, size):
    """Source: boundary dimensions of ISO 15, dimension series 02, bore codes 02 and 03."""
    values = values_of(demo)[bearing]
    assert tuple(float(values[name]) for name in ("id_mm", "od_mm", "width_mm")) == size


def test_a_6203_a_loose_one_and_a_sealed_one_differ_only_in_what_can_be_seen(demo):
    values = values_of(demo)
    told = {(values[key]["clearance"], values[key]["seals"]) for key in values if key.startswith("bearing-6203")}
    assert told == {("normal", "open"), ("C3", "open"), ("normal", "both sides")}


def test_the_look_alike_o_rings_are_two_standard_sizes(demo):
    """Source: ISO 3601-1, sizes 116 and 210."""
    values = values_of(demo)
    assert (values["o-ring-116"]["id_mm"], values["o-ring-116"]["cord_mm"]) == ("18.72", "2.62")
    assert (values["o-ring-210"]["id_mm"], values["o-ring-210"]["cord_mm"]) == ("18.64", "3.53")


def test_every_model_has_about_thirty_positions_and_stock_for_all_but_the_early_seat_mounts(demo):
    holes = []
    for model in demo["models"]:
        sheet = sheet_of(demo, model)
        assert 30 <= len(sheet) <= 35, model["key"]
        for position in sheet:
            years = range(int(model["from_year"]), int(model["to_year"]) + 1)
            holes += [(model["key"], position, year) for year in years if not stock_of(demo, model, position, year)]
    assert holes == [("mardle-t", "seat mounts", 1965), ("mardle-t", "seat mounts", 1966)]


def test_a_model_row_can_take_a_position_away(demo):
    sheet = sheet_of(demo, next(row for row in demo["models"] if row["key"] == "tansel-rk"))
    assert "filter holder" not in sheet
    assert sheet["air filter"] == "air_filter"


def test_the_rules_are_spread_over_what_people_say(demo):
    sorts = Counter(row["key"].split("-", 1)[0] for row in demo["rules"])
    assert sorts == {"straight": 14, "sister": 7, "oneway": 5, "work": 5, "with": 5, "disputed": 2, "never": 2}
    verdict = {"straight": "bolts_on", "sister": "bolts_on", "work": "with_work", "with": "with_companions",
               "never": "wont_fit"}  # fmt: skip
    for row in demo["rules"]:
        assert row["verdict"] == verdict.get(row["key"].split("-", 1)[0], row["verdict"]), row["key"]


def test_every_rule_says_why_on_whose_word_and_when(demo):
    for row in demo["rules"]:
        assert row["reason"], row
        assert row["evidence"], row
        assert row["source"], row
        assert re.fullmatch(r"\d{4}-\d\d-\d\d", row["said_on"]), row
    assert {row["evidence"] for row in demo["rules"]} == {"bench", "book", "word"}


def test_a_sister_crossing_goes_from_one_maker_to_the_other(demo):
    maker = {row["key"]: row["maker"] for row in demo["designs"]}
    model_maker = {row["key"]: row["maker"] for row in demo["models"]}
    for row in demo["rules"]:
        if row["key"].startswith("sister-"):
            assert {maker[row["design"]], row["maker"] or model_maker[row["model"]]} == {"fennaby", "ruddlow"}


def test_every_reference_of_measures_numbers_mates_and_rules_resolves(both):
    kinds = {row["key"] for row in both["kinds"]}
    measures = {(row["kind"], row["key"]) for row in both["measures"]}
    kind = {row["key"]: row["kind"] for row in both["designs"]}
    mates = {row["key"] for row in both["mates"]}
    assert set(kind.values()) <= kinds
    assert all((kind[row["design"]], row["measure"]) in measures for row in both["design_measures"])
    assert all(row["design"] in kind for row in both["numbers"])
    for row in both["rules"]:
        assert not row["because_mate"] or row["because_mate"] in mates
        assert all(key in kind for key in re.split("[;|]", row["companions"]) if key), row


def test_lots_and_fitted_parts_are_of_the_kind_of_their_design_and_position(both):
    kind = {row["key"]: row["kind"] for row in both["designs"]}
    assert all(kind[row["design"]] == row["kind"] for row in both["lots"] if row["design"])
    model = {row["key"]: row for row in both["models"]}
    sheets = {row["code"]: sheet_of(both, model[row["model"]]) for row in both["machines"]}
    for row in both["fitted"]:
        assert (
            kind.get(row["design"], sheets[row["machine"]][row["position"]]) == sheets[row["machine"]][row["position"]]
        )


def test_it_all_happened_between_1960_and_1985(demo):
    for table in ("generations", "models", "came_on"):
        for row in demo[table]:
            assert all(1960 <= int(row[name]) <= 1985 for name in ("from_year", "to_year") if row[name])


def test_nothing_in_it_looks_like_somebody_to_write_to_or_call(demo):
    """No addresses, telephone numbers or links; the only people are the two invented club mates."""
    contact = re.compile(r"[\w.]+@[\w.]+|https?:|www\.|\+\d{2}|\d{5,} ?\d{4,}|\b(street|road|avenue) \d", re.IGNORECASE)
    named = set()
    for rows in demo.values():
        for row in rows:
            text = " | ".join(row.values())
            assert not contact.search(text), text
            named |= set(re.findall(r"\b(?:Odile Marrack|Bert Hallow)\b", text))
    assert named == {"Odile Marrack", "Bert Hallow"}
