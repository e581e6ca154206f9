"""Standard parts against the tables of a general-purpose reference library and values printed in the standards.

The library's files are read, not imported: its drawing half is not needed here.
"""

import csv
import importlib.util
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.bench import bearings, circlips, o_rings, standard, threads
from stash.errors import InvalidInput, NotFound

CARRIER = importlib.util.find_spec("bd_warehouse")
needs_carrier = pytest.mark.skipif(CARRIER is None, reason="pip install --no-deps bd_warehouse")


def carried(name):
    with (Path(CARRIER.submodule_search_locations[0]) / "data" / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@needs_carrier
def test_bearing_sizes_agree_with_the_reference_library():
    """Source: ``bd_warehouse``, deep-groove ball bearings (ISO 15)."""
    compared = 0
    for row in carried("single_row_deep_groove_ball_bearing_parameters.csv"):
        basic = row["SKT:Designation"].strip("* ")
        if basic in bearings.BEARINGS:
            ours = bearings.BEARINGS[basic]
            assert (ours.bore_mm, ours.outside_mm, ours.width_mm) == tuple(float(row[f"SKT:{each}"]) for each in "dDB")
            compared += 1
    assert compared >= 15


@needs_carrier
@pytest.mark.parametrize("series", ["2", "3"])
def test_bearings_of_a_series_have_the_outside_of_their_angular_contact_siblings(series):
    """Source: ISO 15: boundary dimensions follow the dimension series, not the type; ``bd_warehouse`` 72xx and 73xx."""
    compared = 0
    for row in carried("single_row_angular_contact_ball_bearing_parameters.csv"):
        sibling = row["SKT:Designation"].strip("* ").split()[0]
        ours = bearings.BEARINGS.get("6" + sibling[1:])
        if sibling.startswith(f"7{series}") and ours:
            assert (ours.bore_mm, ours.outside_mm, ours.width_mm) == tuple(float(row[f"SKT:{each}"]) for each in "dDB")
            compared += 1
    assert compared >= 4 - (series == "2")


@pytest.mark.parametrize(
    ("number", "sizes"),
    [
        ("608", (8, 22, 7)),
        ("6000", (10, 26, 8)),
        ("6200", (10, 30, 9)),
        ("6300", (10, 35, 11)),
        ("6202", (15, 35, 11)),
        ("6203", (17, 40, 12)),
    ],
)
def test_bearings_have_the_sizes_the_standard_prints(number, sizes):
    """Source: ISO 15:2017."""
    found = bearings.bearing(number)
    assert (found.bore_mm, found.outside_mm, found.width_mm) == sizes


def test_the_bore_code_gives_the_bore_of_every_bearing_in_the_table():
    """Source: common practice, no source."""
    assert all(bearings.bore_by_code_mm(basic) == row.bore_mm for basic, row in bearings.BEARINGS.items())
    assert [bearings.bore_by_code_mm(basic) for basic in ("6200", "6001", "6302", "6203", "6310", "62/22", "608")] == [
        10, 12, 15, 17, 50, 22, 8,
    ]  # fmt: skip


def test_within_a_bore_the_heavier_series_is_larger():
    """Source: ISO 15:2017, diameter series 8 < 9 < 0 < 2 < 3."""
    for code in ("00", "01", "02", "03", "04", "05", "06"):
        outsides = [bearings.BEARINGS[series + code].outside_mm for series in ("618", "619", "60", "62", "63")]
        assert all(small < large for small, large in pairwise(outsides))


@pytest.mark.parametrize(
    ("text", "canonical", "seals", "clearance"),
    [
        ("6203", "6203", "open", "normal"),
        ("6203/C3", "6203/C3", "open", "C3"),
        ("6203 C3", "6203/C3", "open", "C3"),
        ("6203-2RS", "6203-2RS", "both sides", "normal"),
        ("6203-2RSH/C3", "6203-2RS/C3", "both sides", "C3"),
        ("62032rs1c3", "6203-2RS/C3", "both sides", "C3"),
        ("6202 ZZ C4", "6202-2Z/C4", "both sides", "C4"),
        ("6202Z", "6202-Z", "one side", "normal"),
        ("6202-RS CN", "6202-RS", "one side", "normal"),
        ("6004.2RSR.C2", "6004-2RS/C2", "both sides", "C2"),
        ("608-2RZ", "608-2RZ", "both sides", "normal"),
        ("  608 zz", "608-2Z", "both sides", "normal"),
        ("6902-2Z", "61902-2Z", "both sides", "normal"),
        ("6204 TN9/C5", "6204/C5", "open", "C5"),
    ],
)
def test_what_is_engraved_is_read_however_it_is_written(text, canonical, seals, clearance):
    """Source: common practice, no source; clearance classes ISO 5753-1."""
    found = bearings.read_designation(text)
    assert (str(found), found.seals, found.clearance, found.unread) == (canonical, seals, clearance, ())
    assert str(bearings.read_designation(canonical)) == canonical


def test_cage_snap_ring_and_strange_letters_are_kept():
    found = bearings.read_designation("6203 NR TN9 C3 WT77")
    assert (found.cage, found.groove, found.unread) == ("polymer", "groove and ring", ("WT77",))


def test_look_alike_bearings_are_told_apart_in_words():
    assert bearings.differences("6203", "6203 C3") == ("clearance: normal against C3",)
    assert bearings.differences("6203-2RS", "6203") == ("closed: seal, both sides against open",)
    assert bearings.differences("6203-2RSH/C3", "62032RS1 C3") == ()
    assert bearings.differences("6202 NR TN", "6203 XY") == (
        "basic designation: 6202 against 6203",
        "cage: polymer against not said",
        "snap ring: groove and ring against none",
        "other letters: none against XY",
    )


def test_a_bearing_is_found_from_its_sizes():
    assert [row.basic for row in bearings.bearings_by_size(15.02, 34.97, 11.05)] == ["6202"]
    assert [row.basic for row in bearings.bearings_by_size(7, 19, 6)] == ["607"]
    assert bearings.bearings_by_size(15, 36, 11) == ()


def test_a_bearing_outside_the_table_still_tells_its_bore():
    with pytest.raises(NotFound) as caught:
        bearings.bearing("6310-2Z")
    assert caught.value.hint.startswith("Its bore is 50 mm")


@pytest.mark.parametrize("text", ["", "C3", "bearing", "12"])
def test_what_is_no_bearing_number_is_refused(text):
    with pytest.raises(InvalidInput):
        bearings.read_designation(text)
    with pytest.raises(InvalidInput):
        bearings.bore_by_code_mm(text)


@given(
    st.sampled_from(sorted(bearings.BEARINGS)),
    st.sampled_from(["", "-2RS", "-Z", "-2RZ"]),
    st.sampled_from(["", "/C3", "/C5"]),
)
def test_a_canonical_designation_reads_back_as_itself(basic, seal, clearance):
    assert str(bearings.read_designation(basic + seal + clearance)) == basic + seal + clearance


@needs_carrier
@pytest.mark.parametrize(("name", "form"), [("din471.csv", "shaft"), ("din472.csv", "bore")])
def test_circlips_agree_with_the_reference_library(name, form):
    """Source: ``bd_warehouse``; rows with a groove no wider than the ring (shaft 48, bore 82) are misprints."""
    compared = 0
    for row in carried(name):
        ours = circlips.CIRCLIPS.get((form, float(row["d1"])))
        thickness, groove, width = (float(row[each]) for each in ("s", "d2", "m"))
        if ours and thickness < width:
            assert (ours.thickness_mm, ours.groove_mm, ours.groove_width_mm) == (thickness, groove, width)
            compared += 1
    assert compared >= 35


def test_circlips_have_the_sizes_the_standards_print():
    """Source: DIN 471, DIN 472."""
    shaft, bore = circlips.circlip("shaft", 15), circlips.circlip("bore", 40)
    assert (shaft.thickness_mm, shaft.groove_mm, str(shaft)) == (1.0, 14.3, "DIN 471 15 x 1")
    assert (bore.thickness_mm, bore.groove_mm, bore.groove_width_mm) == (1.75, 42.5, 1.85)
    assert bore.standard == "DIN 472"


def test_a_groove_is_wider_than_its_ring_and_cut_into_its_part():
    for ring in circlips.CIRCLIPS.values():
        assert ring.thickness_mm < ring.groove_width_mm
        assert (ring.groove_mm < ring.nominal_mm) == (ring.form == "shaft")


def test_a_circlip_that_is_not_made_names_its_neighbours():
    with pytest.raises(NotFound) as caught:
        circlips.circlip("shaft", 23)
    assert caught.value.hint == "The nearest are 22 and 24 mm."
    with pytest.raises(InvalidInput):
        circlips.circlip("axle", 20)


@needs_carrier
def test_o_rings_agree_with_the_reference_library():
    """Source: ``bd_warehouse`` (ISO 3601-1)."""
    theirs = {
        row["Size"]: (float(row["iso3601:id"]), float(row["iso3601:w"])) for row in carried("o-ring_parameters.csv")
    }
    assert {code: (row.inside_mm, row.cord_mm) for code, row in o_rings.O_RINGS.items()} == {
        code: sizes for code, sizes in theirs.items() if sizes[0] <= 130
    }


def test_o_rings_step_by_a_sixteenth_of_an_inch():
    """Source: ISO 3601-1 takes over inch sizes; codes 110 to 149 step by 1/16 in, to the rounding of both systems."""
    insides = [o_rings.O_RINGS[str(code)].inside_mm for code in range(110, 150)]
    assert all(abs(large - small - 25.4 / 16) < 0.04 for small, large in pairwise(insides))


def test_two_look_alike_o_rings_are_told_apart_by_their_cord():
    """Source: ISO 3601-1:2012: 116 is 18.72 x 2.62, 210 is 18.64 x 3.53."""
    thin, thick = o_rings.o_ring("116"), o_rings.o_ring("-210")
    assert (thin.inside_mm, thin.cord_mm, thick.inside_mm, thick.cord_mm) == (18.72, 2.62, 18.64, 3.53)
    assert [row.code for row in o_rings.o_rings_by_size(18.7, 2.6)] == ["116"]
    assert [row.code for row in o_rings.o_rings_by_size(18.7, 3.5)] == ["210"]
    assert (thick.outside_mm, str(thin)) == (25.7, "ISO 3601 116: 18.72 x 2.62 mm")


def test_o_ring_codes_may_leave_out_their_noughts():
    assert o_rings.o_ring(" 12 ").code == "012"
    with pytest.raises(NotFound):
        o_rings.o_ring("299")
    with pytest.raises(InvalidInput):
        o_rings.o_ring("12 mm")


@needs_carrier
def test_thread_pitches_are_among_those_the_reference_library_has_drills_for():
    """Source: ``bd_warehouse``, tap drills, to a quarter of the pitch.

    Its row for M22 is left out: it is a millimetre below the 19.5 of ISO 2306 (from memory).
    """
    drills = {}
    for row in carried("tap_hole_sizes.csv"):
        size, _, pitch = row["Size"].removeprefix("M").partition("-")
        if row["Size"].startswith("M") and pitch:
            drills[float(size), float(pitch)] = float(row["Soft"])
    for nominal, pitch in threads.COARSE_MM.items():
        if (nominal, pitch) in drills and nominal != 22:
            drill = threads.Thread(nominal, pitch).tap_drill_mm
            assert abs(drill - drills[nominal, pitch]) <= pitch / 4
    assert sum((nominal, pitch) in drills for nominal, pitch in threads.COARSE_MM.items()) >= 12


@pytest.mark.parametrize(
    ("text", "canonical", "series"),
    [
        ("M8", "M8", "coarse"),
        ("m8x1", "M8x1", "fine"),
        ("M 10 \u00d7 1.0", "M10x1", "fine"),
        ("M6*1", "M6", "coarse"),
        ("M7-0.75", "M7x0.75", "fine"),
    ],
)
def test_threads_are_read_however_they_are_written(text, canonical, series):
    """Source: ISO 261; ISO 965-1: a coarse pitch is left out."""
    found = threads.read_thread(text)
    assert (str(found), found.series) == (canonical, series)


def test_thread_diameters_agree_with_the_standard():
    """Source: ISO 724:1993: M8 pitch diameter 7.188, minor 6.647; M10x1 9.350, 8.917."""
    coarse, fine = threads.read_thread("M8"), threads.read_thread("M10x1")
    assert (coarse.pitch_diameter_mm, coarse.minor_diameter_mm) == (
        pytest.approx(7.188, abs=5e-4),
        pytest.approx(6.647, abs=5e-4),
    )
    assert (fine.pitch_diameter_mm, fine.minor_diameter_mm) == (
        pytest.approx(9.350, abs=5e-4),
        pytest.approx(8.917, abs=5e-4),
    )


@pytest.mark.parametrize(
    ("text", "error", "hint"),
    [
        ("8 mm", InvalidInput, "Write M and the size"),
        ("M9", NotFound, "It has M1.6"),
        ("M8x1.1", NotFound, "Its pitches are 1.25, 1, 0.75 mm."),
    ],
)
def test_threads_that_are_none_are_refused(text, error, hint):
    with pytest.raises(error) as caught:
        threads.read_thread(text)
    assert caught.value.hint.startswith(hint)


def test_a_screw_is_named_from_its_size_and_pitch():
    assert [str(each) for each in threads.threads_by_size(7.85, 1.25)] == ["M8"]
    assert [str(each) for each in threads.threads_by_size(7.85, 1.0)] == ["M8x1"]
    assert threads.threads_by_size(8.4, 1.25) == ()


def test_spark_plug_threads_are_in_the_general_plan():
    """Source: ISO 28741; ISO 261 keeps M14 x 1.25 for spark plugs."""
    assert [str(plug) for plug in threads.PLUG_THREADS] == ["M10x1", "M12x1.25", "M14x1.25", "M18x1.5"]
    assert all(plug.thread.pitch_mm in threads.FINE_MM[plug.thread.nominal_mm] for plug in threads.PLUG_THREADS)


PLAIN = {"type": "deep-groove ball", "snap_ring": "none"}


@pytest.mark.parametrize(
    ("kind", "text", "values"),
    [
        (
            "main_bearing",
            "6203-2RS/C3",
            {"id_mm": "17", "od_mm": "40", "width_mm": "12", "clearance": "C3", "seals": "both sides"} | PLAIN,
        ),
        ("main_bearing", "6202 Z C2", {"id_mm": "15", "od_mm": "35", "width_mm": "11", "seals": "one side"} | PLAIN),
        (
            "main_bearing",
            "6202NR TN9",
            {"id_mm": "15", "od_mm": "35", "width_mm": "11", "clearance": "normal", "seals": "open", "cage": "polymer"}
            | {"type": "deep-groove ball", "snap_ring": "groove and ring"},
        ),
        ("circlip", "DIN 471 15", {"nominal_mm": "15", "thickness_mm": "1", "form": "shaft"}),
        ("circlip", "din472-40x1.75", {"nominal_mm": "40", "thickness_mm": "1.75", "form": "bore"}),
        ("o_ring", "116", {"id_mm": "18.72", "cord_mm": "2.62"}),
        ("stud", "M6", {"thread": "M6"}),
        ("spark_plug", "M14x1.25", {"thread": "M14x1.25"}),
    ],
)
def test_a_designation_fills_in_the_measures(kind, text, values):
    """Source: ISO 15, DIN 471, DIN 472, ISO 3601-1, ISO 261."""
    assert standard.standard_values(kind, text) == values


@pytest.mark.parametrize(
    ("kind", "text", "error"),
    [("piston", "6203", InvalidInput), ("circlip", "15", InvalidInput), ("spark_plug", "M8", NotFound)],
)
def test_designations_of_nothing_are_refused(kind, text, error):
    with pytest.raises(error) as caught:
        standard.standard_values(kind, text)
    assert caught.value.hint


@pytest.mark.parametrize(
    ("number", "kind"),
    [
        ("6203 2RS", "main_bearing"),
        ("6999", ""),
        ("DIN 472 40", "circlip"),
        ("FN-21.380-A", ""),
        ("608", "main_bearing"),
    ],
)
def test_a_number_seen_on_a_part_is_recognised_only_when_it_is_in_a_table(number, kind):
    assert standard.seen_as(number) == kind
    assert kind in {"", *standard.STANDARD_KINDS}
