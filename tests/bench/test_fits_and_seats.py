"""Limits and fits, and how hot a case must be."""

import pressfit
import pytest

from stash.bench.bearings import bearing
from stash.bench.iso286 import CLASSES, clearance_um, limits_um
from stash.bench.seats import CASE_METALS, bearing_drop_in_c, drop_in_temperature_c
from stash.errors import InvalidInput

SIZES = (4, 6, 8, 10, 15, 18, 25, 30, 40, 50, 60, 80)


@pytest.mark.parametrize(
    ("nominal", "name", "limits"),
    [
        (40, "N7", (-33, -8)),
        (40, "P7", (-42, -17)),
        (35, "N7", (-33, -8)),
        (15, "k5", (1, 9)),
        (17, "k5", (1, 9)),
        (25, "g6", (-20, -7)),
        (20, "j5", (-4, 5)),
        (40, "M7", (-25, 0)),
        (30, "H6", (0, 13)),
        (40, "J7", (-11, 14)),
        (40, "K7", (-18, 7)),
        (6, "m6", (4, 12)),
    ],
)
def test_limits_agree_with_the_standards_tables(nominal, name, limits):
    """Source: ISO 286-2:2010, as handbooks print it."""
    assert limits_um(nominal, name) == limits


@pytest.mark.parametrize("shaft", ["g6", "h5", "h6", "k5", "k6", "m5", "m6"])
@pytest.mark.parametrize("hole", ["H6", "H7"])
@pytest.mark.parametrize("nominal", SIZES)
def test_fits_on_a_basic_hole_agree_with_a_reference_library(nominal, hole, shaft):
    """Source: ``pressfit``, its tables of ISO 286-1."""
    assert clearance_um(nominal, hole, shaft) == pressfit.fit(f"{nominal} {hole}/{shaft}").clearance_um


@pytest.mark.parametrize(
    ("nominal", "hole", "shaft", "clearance"),
    [(25, "H7", "g6", (7, 41)), (17, "H7", "k6", (-12, 17)), (40, "N7", "h5", (-33, 3))],
)
def test_clearances_agree_with_worked_fits(nominal, hole, shaft, clearance):
    """Source: ISO 286-1:2010, clearance from limits."""
    assert clearance_um(nominal, hole, shaft) == clearance


@pytest.mark.parametrize("letter", ["K7", "M7", "N7", "P7"])
@pytest.mark.parametrize("nominal", SIZES)
def test_transition_and_press_holes_keep_the_width_of_their_grade(nominal, letter):
    """Source: ISO 286-1:2010: every class of one grade has the same width in one band."""
    lower, upper = limits_um(nominal, letter)
    assert upper - lower == limits_um(nominal, "H7").upper_um


def test_sizes_on_a_border_belong_to_the_band_below():
    """Source: ISO 286-1:2010: above, up to and including."""
    assert limits_um(30, "H7") == (0, 21)
    assert limits_um(30.5, "H7") == (0, 25)


@pytest.mark.parametrize(
    ("nominal", "name", "problem"),
    [
        (3, "H7", "outside this table"),
        (81, "H7", "outside this table"),
        (20, "Q7", "not a class"),
        (0, "H7", "not a size"),
    ],
)
def test_what_is_not_in_the_table_is_refused(nominal, name, problem):
    with pytest.raises(InvalidInput, match=problem):
        limits_um(nominal, name)


@pytest.mark.parametrize(("hole", "shaft"), [("g6", "H7"), ("H7", "N7"), ("", "")])
def test_a_fit_names_the_hole_first(hole, shaft):
    with pytest.raises(InvalidInput, match="is not a fit"):
        clearance_um(25, hole, shaft)


def test_classes_are_listed():
    assert {"N7", "P7", "k5", "j5", "m5"} <= set(CLASSES)


@pytest.mark.parametrize(
    ("metal", "celsius", "refused"), [("aluminium", 77, False), ("magnesium", 71, False), ("iron", 140, True)]
)
def test_a_bearing_drops_into_a_light_case_and_an_iron_one_is_refused(metal, celsius, refused):
    """Source: linear expansion by hand: seat 40 N7, interference 33 µm, clearance 20 µm."""
    found = drop_in_temperature_c(40, 33, metal)
    assert round(found.value) == celsius
    assert found.refused == ("Above 120 °C: use a press, a freezer for the bearing, or a shop." if refused else "")
    assert "never with a flame" in found.caution


def test_a_standard_bearing_in_a_seat_class_gives_the_same_sum():
    """Source: ISO 15 (6203: 40 mm outside), ISO 286-2 (N7 at 40: -33 µm), ISO 492 (outer ring: upper deviation 0)."""
    by_class = bearing_drop_in_c(bearing("6203-2RS/C3"), "N7", "aluminium")
    assert by_class.value == drop_in_temperature_c(40, 33, "aluminium").value
    assert bearing_drop_in_c(bearing("6203"), "P7", "magnesium").value > by_class.value - 10


def test_a_loose_seat_needs_only_the_clearance_and_a_cold_room_is_counted_from():
    loose = bearing_drop_in_c(bearing("6202"), "H7", "aluminium", room_c=10)
    assert loose.value == pytest.approx(10 + 0.020 / (23.1e-6 * 35))


@pytest.mark.parametrize(
    "call",
    [
        lambda: drop_in_temperature_c(0, 33, "aluminium"),
        lambda: drop_in_temperature_c(40, -1, "aluminium"),
        lambda: drop_in_temperature_c(40, 33, "cheese"),
        lambda: bearing_drop_in_c(bearing("6203"), "k5", "aluminium"),
    ],
)
def test_seats_that_make_no_sense_are_refused(call):
    with pytest.raises(InvalidInput) as caught:
        call()
    assert caught.value.hint


def test_the_metals_are_those_of_small_crankcases():
    assert set(CASE_METALS) == {"aluminium", "magnesium", "iron"}
