"""Sizes as they are typed, and the sheet of sums made of them."""

import math

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.bench.quantities import QUANTITIES, in_other_unit, read_quantity
from stash.bench.worksheet import INPUT_BY_KEY, INPUTS, LINES, needed, read_inputs, worked
from stash.errors import InvalidInput

PINT_NAMES = {
    "mm": ("millimeter", "inch"),
    "cm³": ("centimeter**3", "inch**3"),
    "m/s": ("meter/second", "foot/minute"),
    "g": ("gram", "ounce"),
    "°C": ("degC", "degF"),
    "Nm": ("newton*meter", "pound_force*foot"),
}


@pytest.mark.parametrize("quantity", QUANTITIES, ids=lambda each: each.unit)
@settings(deadline=None)
@given(size=st.floats(-1e4, 1e4))
def test_both_units_of_a_quantity_agree_with_a_library_of_units(quantity, size):
    """Source: pint, a general-purpose library of units."""
    one, other = PINT_NAMES[quantity.unit]
    expected = pint.Quantity(size, one).to(other).magnitude
    assert in_other_unit(size, quantity.unit) == (pytest.approx(expected, rel=1e-9, abs=1e-9), quantity.other)
    assert in_other_unit(expected, quantity.other) == (pytest.approx(size, rel=1e-9, abs=1e-8), quantity.unit)


def test_a_size_of_no_second_unit_stays():
    assert in_other_unit(5500, "rpm") is None


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("38", "mm", 38),
        ("38.5 mm", "mm", 38.5),
        ("38,5", "mm", 38.5),
        (".5", "mm", 0.5),
        ("1.5 in", "mm", 38.1),
        ('1 1/2"', "mm", 38.1),
        ("1-1/2 inches", "mm", 38.1),
        ("1/2 in", "mm", 12.7),
        ("5.1 cc", "cm³", 5.1),
        ("3 in3", "cm³", 49.161192),
        ("4 OZ", "g", 113.3980925),
        ("4000 ft/min", "m/s", 20.32),
        ("68 F", "°C", 20),
        ("-4 °F", "°C", -20),
        ("\u22123", "°C", -3),
        ("5500 rpm", "rpm", 5500),
        ("0.5", "", 0.5),
    ],
)
def test_a_size_is_read_in_either_unit(typed, unit, value):
    """Source: 1 in = 25.4 mm and 1 oz = 28.349523125 g by the agreement of 1959; 4000 ft/min is 20.32 m/s."""
    assert read_quantity(typed, unit) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("typed", "unit", "hint"),
    [
        ("much", "mm", "such as 38.5 or in"),
        ("13,300", "rpm", "thousands without a comma"),
        ("1/0 in", "mm", "fraction"),
        ("38 g", "mm", "Use mm or in"),
        ("5 kg", "rpm", "Use rpm."),
        ("3 x", "", "no unit"),
        ("", "mm", "number"),
    ],
)
def test_what_is_no_size_is_refused_with_how_to_mend_it(typed, unit, hint):
    with pytest.raises(InvalidInput) as refused:
        read_quantity(typed, unit)
    assert hint in refused.value.hint


SIZES = {
    "bore_mm": "54", "stroke_mm": "54.5", "chamber_cm3": "11.5", "exhaust_top_mm": "25", "rod_centres_mm": "110",
    "limit_rpm": "6000", "no_load_rpm": "5800", "mass_g": "131", "mass_before_g": "115", "balance_factor": "0.5",
    "gap_mm": "0.3",
    "squish_before_mm": "1", "crown_change_mm": "0.3", "gasket_change_mm": "0.1", "bearing": "6203-2RS/C3",
    "case_metal": "aluminium",
}  # fmt: skip


def test_every_sum_of_the_sheet_is_done_when_its_sizes_are_there():
    """Source: 54 x 54.5 mm is 124.817 cm³; trapped ratio 5.979; 115 to 131 g moves 0.50 to 0.439; 40 mm N7 is 77 °C."""
    values, wrong = read_inputs(SIZES)
    done = {each.line.key: each for each in worked(values)}
    assert wrong == {}
    assert [key for key, each in done.items() if each.sum is None] == []
    found = {key: each.sum.value for key, each in done.items()}
    assert found["displacement_cm3"] == pytest.approx(124.817, abs=5e-4)
    assert found["compression_ratio_exhaust_closed"] == pytest.approx(5.979, abs=5e-4)
    assert found["balance_factor"] == pytest.approx(0.439, abs=5e-4)
    assert found["squish_mm"] == pytest.approx(0.8)
    assert found["drop_in_temperature_c"] == pytest.approx(77.4, abs=0.05)
    assert all(each.sum.source and each.sum.check for each in done.values())


def test_a_sum_says_what_it_still_needs():
    waiting = {each.line.key: [need.key for need in each.missing] for each in worked({"bore_mm": 38.0})}
    assert waiting["displacement_cm3"] == ["stroke_mm"]
    assert waiting["ring_gap_least_mm"] == []
    assert waiting["shaking_force_n"] == ["mass_g", "stroke_mm", "rod_centres_mm", "limit_rpm"]


def test_sizes_that_make_no_sense_are_told_and_other_sums_stand():
    values, _ = read_inputs(
        {"stroke_mm": "43", "rod_centres_mm": "20", "limit_rpm": "6000", "bearing": "9", "case_metal": "iron"}
    )
    done = {each.line.key: each for each in worked(values)}
    assert done["mean_piston_speed_m_s"].sum.value == pytest.approx(8.6)
    assert "cannot turn" in done["peak_acceleration_m_s2"].problem
    assert "eye centre to eye centre" in done["peak_acceleration_m_s2"].hint
    assert "not a bearing number" in done["drop_in_temperature_c"].problem


def test_an_oven_is_reckoned_from_the_room_and_the_seat_that_are_given():
    """Source: linear expansion; a room 10 K warmer needs a case 10 K warmer, and P7 sits 9 µm tighter than N7 at 40."""
    base = {"bearing": "6203", "case_metal": "magnesium"}

    def case_c(**more):
        return next(each.sum.value for each in worked({**base, **more}) if each.line.key == "drop_in_temperature_c")

    assert case_c(room_c=30.0) == pytest.approx(case_c() + 10)
    assert case_c(seat_class="P7") == pytest.approx(case_c() + 0.009 / (26e-6 * 40))


@pytest.mark.parametrize(
    ("key", "typed"),
    [("bore_mm", "-1"), ("cylinders", "1.5"), ("case_metal", "tin"), ("seat_class", "h6"), ("limit_rpm", "fast")],
)
def test_a_wrong_size_is_told_beside_its_name_and_the_rest_is_read(key, typed):
    values, wrong = read_inputs({key: typed, "stroke_mm": "43", "nothing": "1", "gap_mm": " "})
    assert list(wrong) == [key]
    assert values == {"stroke_mm": 43}


def test_what_may_be_negative_is():
    values, wrong = read_inputs({"crown_change_mm": "-0.2", "room_c": "-5"})
    assert (values, wrong) == ({"crown_change_mm": -0.2, "room_c": -5}, {})


def test_every_input_belongs_to_a_sum_and_the_other_way_round():
    assert needed(LINES) == set(INPUT_BY_KEY)
    assert len(INPUTS) == len(INPUT_BY_KEY)


@given(st.floats(10, 500), st.floats(10, 500))
def test_more_mass_is_as_much_more_force(before, after):
    """Source: inertia force is proportional to the mass; 115 to 135 g is +17.39 %."""
    values = {"mass_before_g": before, "mass_g": after, "stroke_mm": 43.0, "rod_centres_mm": 85.0, "limit_rpm": 6000.0}
    done = {each.line.key: each.sum for each in worked(values)}
    less = {each.line.key: each.sum for each in worked({**values, "mass_g": before})}
    ratio = done["shaking_force_n"].value / less["shaking_force_n"].value
    assert done["shaking_force_change"].value == pytest.approx((ratio - 1) * 100, abs=1e-6)
    assert bool(done["shaking_force_change"].caution) == (after > before and not math.isclose(after, before))
