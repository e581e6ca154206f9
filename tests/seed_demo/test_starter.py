"""The starter vocabulary: complete, with a source for every bound."""

import math
import re

from seed_demo import STARTER
from stash.kernel.tables import TABLE_BY_NAME

SOURCES = ("common practice, no source", "from memory", "ISO 15", "ring makers' service literature")

SAFETY_CRITICAL = {
    "fuel_line", "fuel_tap", "fuel_filter", "fuel_cap", "crank_assembly", "crankcase_half", "flywheel", "limiter",
    "woodruff_key", "recoil_cover", "rewind_spring", "arrestor_screen", "clutch_cover", "handle", "tank_handle",
    "av_mount", "clutch", "clutch_drum", "throttle_cable", "trigger", "brake_band", "brake_lever", "link_plate",
    "stop_switch",
}  # fmt: skip


def test_the_starter_holds_kinds_measures_and_mates_only(starter):
    assert set(starter) == {"kinds", "measures", "mates"}


def test_its_columns_are_those_of_the_tables(starter):
    for name in starter:
        header = (STARTER / f"{name}.csv").read_text(encoding="utf-8").split("\n", 1)[0].strip().split(",")
        assert tuple(header) == TABLE_BY_NAME[name].names, name


def test_every_kind_has_something_to_measure_or_see(starter):
    measured = {row["kind"] for row in starter["measures"]}
    assert {row["key"] for row in starter["kinds"]} == measured


def test_what_can_hurt_someone_is_marked_and_says_what_to_heed(starter):
    marked = {row["key"] for row in starter["kinds"] if row["safety_critical"] == "yes"}
    assert marked == SAFETY_CRITICAL
    assert all(row["caution"] for row in starter["kinds"] if row["safety_critical"] == "yes")


def test_what_burns_or_limits_carries_its_caution(starter):
    caution = {row["key"]: row["caution"] for row in starter["kinds"]}
    assert "no flames" in caution["carburettor"]
    assert "Blocked unless acknowledged" in caution["ignition_module"]
    assert "Never water" in caution["crankcase_half"]
    assert "asbestos" in caution["base_gasket"]
    assert "carbon monoxide" in caution["silencer"]
    assert "local rules or a licensed shop" in caution["arrestor_screen"]


def test_every_measure_says_how_to_take_it_and_how_long_that_takes(starter):
    for row in starter["measures"]:
        assert row["how"], row
        assert int(row["effort_s"]) > 0, row


def test_every_number_has_an_uncertainty_and_every_choice_its_words(starter):
    for row in starter["measures"]:
        if row["type"] == "number":
            assert float(row["uncertainty"]) > 0, row
        if row["type"] == "choice":
            assert len(row["choices"].split(";")) > 1, row


def test_a_key_that_names_a_unit_has_that_unit(starter):
    units = {"mm": "mm", "g": "g", "rpm": "rpm", "deg": "deg", "cm3": "cm³", "kohm": "kΩ", "uf": "µF"}
    for row in starter["measures"]:
        ending = row["key"].rsplit("_", 1)[-1]
        assert row["unit"] == units.get(ending, ""), row


def test_caliper_and_micrometer_have_the_uncertainty_of_their_jaws(starter):
    """Source: common practice, no source; half-width a gives a/sqrt(3), GUM JCGM 100 4.3."""
    uncertainty = {(row["kind"], row["key"]): float(row["uncertainty"] or 0) for row in starter["measures"]}
    assert uncertainty["piston", "skirt_mm"] == 0.03
    assert uncertainty["piston", "pin_bore_mm"] == 0.05
    assert uncertainty["silencer", "stud_spacing_mm"] == 0.1
    assert uncertainty["wrist_pin", "od_mm"] == 0.005
    assert uncertainty["cylinder", "bore_mm"] == 0.015


def test_wear_makes_outsides_smaller_and_insides_larger(starter):
    wear = {(row["kind"], row["key"]): row["wear"] for row in starter["measures"]}
    assert wear["piston", "skirt_mm"] == wear["wrist_pin", "od_mm"] == wear["clutch", "od_rest_mm"] == "smaller"
    assert wear["cylinder", "bore_mm"] == wear["piston", "pin_bore_mm"] == wear["clutch_drum", "id_mm"] == "larger"
    assert wear["intake_boot", "engine_end_id_mm"] == "either"
    assert wear["silencer", "stud_spacing_mm"] == "none"


def test_every_mate_compares_measures_of_one_type(starter):
    types = {(row["kind"], row["key"]): (row["type"], row["unit"]) for row in starter["measures"]}
    for row in starter["mates"]:
        a, b = types[row["kind_a"], row["measure_a"]], types[row["kind_b"], row["measure_b"]]
        assert a == b, row["key"]
        assert a[0] == "number" or row["relation"] == "same", row["key"]


def test_equal_words_mean_equal_choices_on_both_sides_of_a_mate(starter):
    choices = {(row["kind"], row["key"]): row["choices"] for row in starter["measures"]}
    for row in starter["mates"]:
        assert choices[row["kind_a"], row["measure_a"]] == choices[row["kind_b"], row["measure_b"]], row["key"]


def test_every_mate_names_its_source(starter):
    for row in starter["mates"]:
        assert any(source in row["source"] for source in SOURCES), row


def test_a_mate_known_from_a_standard_counts_as_literature(starter):
    for row in starter["mates"]:
        assert (row["evidence"] == "book") == bool(re.search(r"ISO 15\b", row["source"])), row


def test_every_gap_has_a_bound_and_no_bounds_are_crossed(starter):
    for row in starter["mates"]:
        if row["relation"] == "gap":
            assert row["low"] or row["high"], row
        if row["low"] and row["high"]:
            assert float(row["low"]) <= float(row["high"]), row


def test_nominal_sizes_are_told_apart_however_they_are_measured(starter):
    """A bearing, pin or seal of the next size breaks its mate; three standard uncertainties of the reading do not.

    Source: steps of 1 mm and more between sizes, common practice, no source; uncertainties add as squares, GUM
    JCGM 100 5.1.
    """
    uncertainty = {(row["kind"], row["key"]): float(row["uncertainty"] or 0) for row in starter["measures"]}
    for row in starter["mates"]:
        if row["key"] in {"pin-piston", "pin-small-end", "small-end-rod", "exhaust-studs", "carb-flange"}:
            reading = math.hypot(
                uncertainty[row["kind_a"], row["measure_a"]], uncertainty[row["kind_b"], row["measure_b"]]
            )
            assert 3 * reading <= float(row["high"]) < 1, row["key"]


def test_an_oversize_piston_never_holds_in_the_next_bore(starter):
    """Oversizes go in steps of 0.25 mm. Source: common practice, no source."""
    fit = next(row for row in starter["mates"] if row["key"] == "piston-bore")
    assert 0 < float(fit["low"]) < float(fit["high"]) < 0.25


def test_piston_clearance_covers_the_usual_fractions_of_a_bore_from_32_to_60_mm(starter):
    """0.0008 to 0.0020 of the bore. Source: from memory."""
    fit = next(row for row in starter["mates"] if row["key"] == "piston-bore")
    assert float(fit["low"]) <= 0.0008 * 32
    assert float(fit["high"]) >= 0.0020 * 60
