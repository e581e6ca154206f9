"""What to mind: lines of law, cautions, and what a blend changes."""

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from stash.bench.cautions import ACTIONS, CAUTION_BY_KEY, CAUTIONS, for_action, for_kind, to_say
from stash.bench.comparing import EngineSizes, compare_sums
from stash.bench.engine import displacement_cm3, no_load_margin_rpm
from stash.bench.law import displacement_line, law_lines, owners_line, speed_line
from stash.errors import InvalidInput

STARTER = Path(__file__).parents[2] / "seed_demo" / "starter" / "kinds.csv"


@pytest.mark.parametrize(
    ("bore", "stroke", "crosses"),
    [(38, 43, False), (38.25, 43, False), (38.5, 43, True), (40.25, 39.5, True), (40, 39.5, False)],
)
def test_an_oversize_may_carry_a_moped_over_its_line(bore, stroke, crosses):
    """Source: Regulation (EU) No 168/2013, Annex I, L1e: up to 50 cm³; displacements by geometry."""
    found = displacement_line(displacement_cm3(bore, stroke).value, 48.77)
    assert found.crosses is crosses
    assert found.text.endswith("Check your local rules or a licensed shop.")


def test_the_line_itself_is_within_and_what_was_beyond_crosses_nothing():
    assert not displacement_line(50.0).crosses
    assert displacement_line(50.01).crosses
    over = displacement_line(70, 60)
    assert (over.crosses, "as it was before" in over.text) == (False, True)
    assert (speed_line(50, 45).crosses, speed_line(45).crosses) == (True, False)


@pytest.mark.parametrize(
    "call", [lambda: displacement_line(0), lambda: displacement_line(49, -1), lambda: speed_line(45, 0)]
)
def test_lines_refuse_what_is_no_size(call):
    with pytest.raises(InvalidInput):
        call()


STOCK = EngineSizes(38, 43, 1, 5500, 5500, 115)


def test_a_machine_as_it_left_the_factory_changes_no_sum():
    rows = compare_sums(STOCK, STOCK)
    assert [row.key for row in rows] == [
        "displacement_cm3",
        "mean_piston_speed_m_s",
        "limit_rpm",
        "reciprocating_g",
        "ring_gap_least_mm",
    ]
    assert not any(row.changed or row.note or row.danger for row in rows)


def test_a_blend_shows_what_it_changed_and_what_to_mind():
    """Source: 45 x 43 mm is 68.39 cm³ and 43 mm at 8500 rpm 12.18 m/s, by hand; 131/115 is +13.9 %."""
    rows = {row.key: row for row in compare_sums(EngineSizes(45, 43, 1, 8500, None, 131), STOCK)}
    assert all(row.changed for row in rows.values())
    assert rows["displacement_cm3"].now == pytest.approx(68.39, abs=5e-3)
    assert "another road class" in rows["displacement_cm3"].note
    assert rows["mean_piston_speed_m_s"].now == pytest.approx(12.18, abs=5e-3)
    assert rows["mean_piston_speed_m_s"].note == ""
    assert rows["limit_rpm"].danger
    assert rows["limit_rpm"].note.endswith("Blocked unless acknowledged. (rated 5500 rpm)")
    assert rows["reciprocating_g"].note.startswith("+13.9% mass")


def test_a_limit_below_or_at_rated_is_no_danger_and_an_own_rating_goes_before_stock():
    def limit(now):
        return next(row for row in compare_sums(now, STOCK) if row.key == "limit_rpm")

    assert not limit(EngineSizes(limit_rpm=5000)).danger
    assert not limit(EngineSizes(limit_rpm=7000, rated_rpm=7000)).danger
    assert limit(EngineSizes(limit_rpm=5501)).danger


def test_sums_with_unknown_sizes_are_left_out_or_half_known():
    assert compare_sums(EngineSizes(), EngineSizes()) == ()
    rows = {row.key: row for row in compare_sums(EngineSizes(), STOCK)}
    assert all(row.now is None and row.changed for row in rows.values())
    rows = {row.key: row for row in compare_sums(STOCK, EngineSizes())}
    assert all(row.stock is None and row.changed for row in rows.values())
    assert rows["displacement_cm3"].note == ""


def test_every_kind_that_can_hurt_carries_its_caution():
    """Source: common practice, no source."""
    wanted = {
        "fuel_line": {"vapour", "fuel_line"},
        "carburettor": {"vapour", "function_test"},
        "main_bearing": {"hot_case"},
        "recoil_cover": {"guards", "spring"},
        "limiter": {"function_test", "rev_limit", "law"},
        "ignition_module": {"function_test", "rev_limit"},
        "flywheel": {"rotor"},
        "clutch_cover": {"old_linings", "function_test", "guards"},
        "base_gasket": {"old_linings"},
        "arrestor_screen": {"law"},
        "piston": set(),
    }
    assert {kind: {each.key for each in for_kind(kind)} for kind in wanted} == wanted


def test_systems_metals_and_actions_add_theirs_in_the_order_of_the_list():
    assert [each.key for each in for_kind("brake_thing", system="controls")] == ["function_test"]
    assert [each.key for each in for_kind("crankcase_half", metal="magnesium", action="drain")] == [
        "vapour",
        "hot_case",
        "magnesium",
    ]
    assert [each.key for each in for_action("run")] == ["gas"]
    assert for_action("look") == ()
    assert sorted(ACTIONS) == ["clean", "drain", "heat", "run"]


def test_the_cautions_name_only_kinds_and_systems_of_the_starter_vocabulary():
    with STARTER.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    kinds, systems = {row["key"] for row in rows}, {row["system"] for row in rows}
    for caution in CAUTIONS:
        assert caution.kinds <= kinds
        assert caution.systems <= systems


def test_every_caution_is_found_by_its_key_and_somewhere():
    assert [CAUTION_BY_KEY[each.key] for each in CAUTIONS] == list(CAUTIONS)
    assert all(each.text and (each.kinds or each.systems or each.actions or each.metals) for each in CAUTIONS)
    assert "Check your local rules or a licensed shop" in CAUTION_BY_KEY["law"].text


FULL = EngineSizes(54, 54.5, 1, 6000, 6000, 115, 110, 8.5, 25, "6203", "aluminium")


def test_every_sum_whose_sizes_are_known_is_compared():
    """Source: seat 40 mm N7 in aluminium 77 °C; 0.0035 x 54 mm; the other ways of reckoning in their own tests."""
    rows = {row.key: row for row in compare_sums(FULL, FULL)}
    assert len(rows) == 10
    assert rows["drop_in_temperature_c"].now == pytest.approx(77.4, abs=0.05)
    assert rows["ring_gap_least_mm"].now == pytest.approx(0.189)
    assert all(row.source for row in rows.values())
    assert not any(row.told for row in rows.values())


def test_a_case_that_must_not_be_heated_so_far_says_so():
    rows = {row.key: row for row in compare_sums(replace(FULL, case_metal="iron"), FULL)}
    assert "Above 120 °C" in rows["drop_in_temperature_c"].note
    assert rows["drop_in_temperature_c"].told


def test_sizes_that_make_no_sense_give_no_sum_and_are_told():
    rows = {row.key: row for row in compare_sums(replace(FULL, rod_centres_mm=20), FULL)}
    assert rows["peak_acceleration_m_s2"].now is None
    assert "cannot turn" in rows["peak_acceleration_m_s2"].note
    assert rows["peak_acceleration_m_s2"].told


def test_a_force_needs_the_mass_as_well():
    rows = {row.key for row in compare_sums(replace(FULL, reciprocating_g=None), EngineSizes())}
    assert "shaking_force_n" not in rows
    assert "peak_acceleration_m_s2" in rows


def test_a_line_of_ones_own_takes_the_place_of_the_moped_line():
    """Source: the trap of the third oversize: 38.50 x 43 mm is 50.06 cm³, by hand."""
    over = replace(STOCK, bore_mm=38.5)
    assert "above 50 cm³" in compare_sums(over, STOCK)[0].note
    lines = law_lines([owners_line("b", "large", 125, ""), owners_line("a", "small", 49.9, "my own reading")])
    assert [line.key for line in lines] == ["a", "b"]
    note = compare_sums(over, STOCK, lines)[0].note
    assert "above 49.9 cm³ (small: my own reading)" in note
    assert note.endswith("Check your local rules or a licensed shop.")
    assert "125" not in note
    assert law_lines([])[0].limit == 50


def test_a_caution_is_said_once_whatever_the_owner_wrote_of_the_kind():
    vapour, test = CAUTION_BY_KEY["vapour"].text, CAUTION_BY_KEY["function_test"].text
    assert to_say("carburettor", f"{vapour} {test}", system="intake") == (vapour, test)
    assert to_say("carburettor", "Mind the glass float. " + vapour) == ("Mind the glass float. " + vapour, test)
    assert to_say("pin_clip", "Never reuse a clip.") == ("Never reuse a clip.",)
    assert to_say("pin_clip") == ()
    assert CAUTION_BY_KEY["magnesium"].text in to_say("crankcase_half", metal="magnesium")
    assert CAUTION_BY_KEY["gas"].text in to_say("", action="run")


@pytest.mark.parametrize(
    ("limit", "rated", "danger"), [(13300, 13300, False), (13600, 13300, True), (13300, 13600, False)]
)
def test_limits_as_makers_set_them(limit, rated, danger):
    """Limits of 13,300 and 13,600 rpm: common practice, no source."""
    row = next(
        row
        for row in compare_sums(EngineSizes(limit_rpm=limit, rated_rpm=rated), EngineSizes())
        if row.key == "limit_rpm"
    )
    assert row.danger == danger


def test_a_no_load_setting_stays_below_the_limiter():
    """Source: common practice, no source."""
    below = no_load_margin_rpm(13600, 13300)
    assert (below.value, below.refused) == (300, "")
    assert "Set it richer" in no_load_margin_rpm(13300, 13300).refused
