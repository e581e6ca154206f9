"""The bench sums against worked examples, reference libraries and their own laws."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from stash.bench import engine, rings, units
from stash.bench.sums import not_negative, positive
from stash.errors import InvalidInput

sizes = st.floats(1, 200)


@pytest.mark.parametrize(("bore", "stroke", "cm3"), [(54, 54.5, 124.817), (38, 43, 48.767)])
def test_displacement_agrees_with_worked_examples(bore, stroke, cm3):
    """Source: handbook examples, recomputed by hand."""
    found = engine.displacement_cm3(bore, stroke)
    assert found.value == pytest.approx(cm3, abs=5e-4)
    assert (found.unit, found.refused) == ("cm³", "")


@pytest.mark.parametrize(("bore", "cm3"), [(48, 65), (50, 71), (51.4, 75)])
def test_the_usual_oversizes_on_a_36_stroke_give_what_the_trade_says(bore, cm3):
    """Source: common practice, no source."""
    assert round(engine.displacement_cm3(bore, 36).value) == cm3


def test_displacement_in_the_old_units_agrees_with_a_unit_library():
    """Source: ``pint``; 2.125 x 2.146 in twin."""
    registry = pint.UnitRegistry()
    theirs = (math.pi / 4 * (2.125 * registry.inch) ** 2 * 2.146 * registry.inch * 2).to("cm^3").magnitude
    ours = engine.displacement_cm3(units.mm_from_in(2.125), units.mm_from_in(2.146), 2).value
    assert ours == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("ours", "theirs", "unit", "to"),
    [
        (units.mm_from_in, units.in_from_mm, "inch", "mm"),
        (units.cm3_from_in3, units.in3_from_cm3, "inch**3", "cm**3"),
        (units.m_s_from_ft_min, units.ft_min_from_m_s, "foot/minute", "m/s"),
        (units.g_from_oz, units.oz_from_g, "ounce", "g"),
        (units.nm_from_lbf_ft, units.lbf_ft_from_nm, "force_pound*foot", "N*m"),
        (units.c_from_f, units.f_from_c, "degF", "degC"),
    ],
)
def test_conversions_agree_with_a_unit_library_both_ways(ours, theirs, unit, to):
    """Source: ``pint``."""
    registry = pint.UnitRegistry()
    for number in (0.5, 1.0, 33.75, 4000.0):
        assert ours(number) == pytest.approx(registry.Quantity(number, unit).to(to).magnitude, rel=1e-9)
        assert theirs(ours(number)) == pytest.approx(number, rel=1e-12)


def test_four_thousand_feet_a_minute_is_the_guide():
    """Source: Jennings, Two-Stroke Tuner's Handbook, 1973; 1 in³ is 16.387064 cm³ by definition of the inch."""
    assert units.m_s_from_ft_min(4000) == pytest.approx(engine.SPEED_GUIDE_M_S)
    assert units.cm3_from_in3(1) == pytest.approx(units.mm_from_in(1) ** 3 / 1000)


def test_compression_over_the_full_stroke_and_from_exhaust_closing_are_two_sums():
    """Source: worked examples of a tuner's handbook: 8.54 and 5.97, here to three decimals."""
    full = engine.compression_ratio_full_stroke(54, 28, 8.5)
    trapped = engine.compression_ratio_exhaust_closed(54, 25, 11.5)
    assert (full.value, trapped.value) == (pytest.approx(8.544, abs=5e-4), pytest.approx(5.979, abs=5e-4))
    assert (full.name, trapped.name) == (
        "compression ratio, full stroke",
        "compression ratio, from exhaust-port closing",
    )


def test_mean_piston_speed_agrees_with_the_handbook_and_warns_above_its_guide():
    """Source: Jennings, Two-Stroke Tuner's Handbook, 1973: 2.68 in at 9000 rpm, 4020 ft/min."""
    found = engine.mean_piston_speed_m_s(units.mm_from_in(2.68), 9000)
    assert found.value == pytest.approx(20.42, abs=5e-3)
    assert units.ft_min_from_m_s(found.value) == pytest.approx(4020)
    assert "4000 ft/min" in found.caution
    assert engine.mean_piston_speed_m_s(43, 7000).caution == ""


def piston_height(stroke, rod, angle):
    crank = stroke / 2
    return crank * math.cos(angle) + math.sqrt(rod**2 - (crank * math.sin(angle)) ** 2)


def test_peak_acceleration_is_the_second_derivative_of_the_pistons_height():
    """Source: central difference of the exact slider-crank position; 43 mm, 85 mm, 6000 rpm: 10634.79 m/s²."""
    found = engine.peak_acceleration_m_s2(43, 85, 6000).value
    step, speed = 1e-4, 6000 * math.tau / 60
    heights = [piston_height(0.043, 0.085, k * step) for k in (-1, 0, 1)]
    numeric = -(heights[0] - 2 * heights[1] + heights[2]) / step**2 * speed**2
    assert found == pytest.approx(10634.79, abs=5e-3)
    assert found == pytest.approx(numeric, rel=1e-5)


@given(st.floats(0, 360))
def test_the_shaking_force_is_mass_times_acceleration_to_second_order(angle):
    """Source: exact slider-crank acceleration by central difference; higher orders are under 2 % of the peak."""
    found = engine.shaking_force_n(115, 43, 85, 6000, angle).value
    step, speed, at = 1e-4, 6000 * math.tau / 60, math.radians(angle)
    heights = [piston_height(0.043, 0.085, at + k * step) for k in (-1, 0, 1)]
    exact = -0.115 * (heights[0] - 2 * heights[1] + heights[2]) / step**2 * speed**2
    assert found == pytest.approx(exact, abs=0.02 * 0.115 * 10634.79)


def test_a_heavier_piston_shakes_in_proportion_and_unbalances():
    """Source: proportion by hand: 135/115 = 1.1739, 0.50 x 115/131 = 0.439."""
    light, heavy = (engine.shaking_force_n(mass, 43, 85, 6000).value for mass in (115, 135))
    assert heavy / light - 1 == pytest.approx(0.1739, abs=5e-5)
    assert engine.balance_factor_after(0.5, 115, 131).value == pytest.approx(0.439, abs=5e-4)


@given(sizes, sizes, st.integers(1, 6))
def test_displacement_grows_with_each_size_and_with_cylinders(bore, stroke, cylinders):
    one = engine.displacement_cm3(bore, stroke, cylinders).value
    assert engine.displacement_cm3(bore * 1.01, stroke, cylinders).value > one
    assert engine.displacement_cm3(bore, stroke, 2 * cylinders).value == pytest.approx(2 * one)


@given(st.floats(30, 60), st.floats(30, 60), st.floats(3, 20))
def test_the_chamber_can_be_found_back_from_the_ratio(bore, stroke, chamber):
    """Source: root finding by ``scipy.optimize.brentq``."""
    ratio = engine.compression_ratio_full_stroke(bore, stroke, chamber).value
    found = optimize.brentq(lambda v: engine.compression_ratio_full_stroke(bore, stroke, v).value - ratio, 0.5, 50)
    assert found == pytest.approx(chamber, rel=1e-6)


def test_ring_gaps_follow_the_service_literature():
    """Source: ring makers' service literature, cast-iron: 0.0035 x bore at least, above 0.008 suspect the bore."""
    assert rings.ring_gap_least_mm(40).value == pytest.approx(0.14)
    assert rings.ring_gap_per_bore(40, 0.20).value == pytest.approx(0.005)
    tight, least, wide = (rings.ring_gap_per_bore(40, gap) for gap in (0.10, 0.14, 0.33))
    assert (tight.refused, tight.caution) == ("Too tight to run: file it to 0.14 mm or more.", "")
    assert (least.refused, least.caution) == ("", "")
    assert (wide.refused, wide.caution) == ("", "Wide: suspect the bore before the ring, and measure it.")


def test_squish_takes_every_change_one_to_one():
    """Source: geometry."""
    found = rings.squish_after_mm(1.0, compression_height_change_mm=0.3, gasket_change_mm=0.1)
    assert (found.value, found.caution, found.refused) == (pytest.approx(0.8), "", "")
    assert rings.squish_after_mm(1.0, compression_height_change_mm=0.6).caution.startswith("Less than 0.6 mm")
    assert rings.squish_after_mm(1.0, cylinder_height_change_mm=-1.0).refused == "The piston would touch the head."


@pytest.mark.parametrize(
    "call",
    [
        lambda: engine.displacement_cm3(0, 43),
        lambda: engine.displacement_cm3(38, -1),
        lambda: engine.displacement_cm3(38, 43, 0),
        lambda: engine.displacement_cm3(float("nan"), 43),
        lambda: engine.mean_piston_speed_m_s(43, float("inf")),
        lambda: engine.compression_ratio_full_stroke(54, 28, 0),
        lambda: engine.balance_factor_after(1.2, 115, 131),
        lambda: engine.balance_factor_after(-0.1, 115, 131),
        lambda: engine.peak_acceleration_m_s2(43, 20, 6000),
        lambda: rings.ring_gap_per_bore(40, -0.1),
    ],
)
def test_sizes_that_make_no_sense_are_refused_with_how_to_mend_them(call):
    with pytest.raises(InvalidInput) as caught:
        call()
    assert caught.value.hint


def test_zero_is_no_size_but_may_be_a_gap():
    not_negative(gap_mm=0)
    with pytest.raises(InvalidInput, match="gap_mm: 0 is not a size"):
        positive(gap_mm=0)


def test_every_sum_says_where_it_comes_from_and_how_to_check_it():
    found = [
        engine.displacement_cm3(38, 43),
        engine.compression_ratio_full_stroke(38, 43, 6),
        engine.compression_ratio_exhaust_closed(38, 30, 6),
        engine.mean_piston_speed_m_s(43, 6000),
        engine.peak_acceleration_m_s2(43, 85, 6000),
        engine.shaking_force_n(115, 43, 85, 6000),
        engine.balance_factor_after(0.5, 115, 131),
        rings.ring_gap_least_mm(38),
        rings.ring_gap_per_bore(38, 0.2),
        rings.squish_after_mm(1),
    ]
    assert len({each.key for each in found}) == len(found)
    assert all(each.source and each.check and each.name for each in found)
