"""Bench sums on screen: typed, begun from a machine, a build or a model, and beside stock."""

import pytest

from tests.services.workshop import PROJECT, RUNNER


def test_sizes_typed_in_inches_give_sums_in_both_units(visitor):
    """Source: 38.1 x 43 mm is 49.02 cm³ or 2.99 in³, by hand."""
    page = visitor.open("/sums/?bore_mm=1+1/2+in&stroke_mm=43")
    assert page.status == 200
    assert "49.02 cm³ = 2.99 in³" in page.text
    assert "within 50 cm³" in page.text
    assert "geometry: pi/4 x bore² x stroke x cylinders" in page.text
    assert "54 x 54.5 mm, one cylinder: 124.817 cm³" in page.text
    assert page.fields()["bore_mm"] == "1 1/2 in"


def test_a_case_that_would_get_too_hot_is_refused(visitor):
    page = visitor.open("/sums/?bearing=6203&case_metal=iron")
    assert "Above 120 °C" in page.text
    assert "never with a flame" in page.text


def test_a_size_that_cannot_be_read_is_told_and_kept(visitor):
    page = visitor.open("/sums/?bore_mm=wide&stroke_mm=43&limit_rpm=6000")
    assert page.status == 400
    assert "&#39;wide&#39; is not a number" in page.problem("bore_mm")
    assert page.fields()["bore_mm"] == "wide"
    assert "8.6 m/s" in page.text


def test_sizes_that_do_not_go_together_are_told(visitor):
    page = visitor.open("/sums/?stroke_mm=43&limit_rpm=6000&rod_centres_mm=10")
    assert page.status == 200
    assert "cannot turn on a stroke" in page.text


@pytest.mark.parametrize("of", [RUNNER, "model:early"])
def test_a_sheet_begins_with_the_sizes_of_a_machine_or_a_model(visitor, of):
    page = visitor.open(f"/sums/?of={of}")
    assert page.fields()["bore_mm"] == "38"
    assert page.fields()["limit_rpm"] == "5500"
    assert "48.77 cm³" in page.text
    assert "54.04 cm³" in visitor.open(f"/sums/?of={of}&bore_mm=40").text


def test_a_sheet_begins_with_a_build(visitor, shop):
    assert "begun with the sizes of Winter build" in visitor.open("/sums/?of=winter").text


@pytest.mark.parametrize("of", ["model:none", "nobody"])
def test_nothing_to_begin_with_is_said(visitor, of):
    assert visitor.open(f"/sums/?of={of}").status == 404


def test_a_machine_and_a_build_show_their_sums_beside_stock(visitor):
    page = visitor.open(f"/machines/{PROJECT}")
    assert "displacement" in page.text
    assert f"/sums/?of={PROJECT}" in page.links
    assert "/sums/?of=winter" in visitor.open("/builds/winter").links
    assert "/sums/?of=model:early" in visitor.open("/models/early").links


def test_a_line_by_law_of_ones_own_counts(visitor):
    visitor.send("/catalogue/law_lines/add", key="small", name="small", up_to_cm3="40", note="told at the counter")
    page = visitor.open("/sums/?bore_mm=38&stroke_mm=43")
    assert "above 40 cm³ (small: told at the counter)" in page.text
    assert "Check your local rules or a licensed shop." in page.text


def test_units_are_turned_both_ways(visitor):
    page = visitor.open("/sums/units?mm=1+in&cm3=16.387064&m_s=4000+ft/min&g=1+oz&c=68+F&nm=1")
    assert page.status == 200
    for said in ("25.4 mm = 1 in", "16.39 cm³ = 1 in³", "20.32 m/s = 4000 ft/min", "28.35 g = 1 oz", "20 °C = 68 °F"):
        assert said in page.text
    page = visitor.open("/sums/units?g=3+mm")
    assert page.status == 400
    assert "is not a unit of this size" in page.problem("g")
