"""What a reading of a size is taken to look like, by what its measure says."""

import pytest

from stash.fit.facts import Measure
from stash.key.densities import Side
from stash.key.identify import identify
from stash.key.options import Options
from stash.key.questions import effort_s, questions_of


def bump(shelf, measure, value, options=None):
    catalogue = shelf.kind_of([measure], {"a": {measure[0]: value}})
    question = questions_of(catalogue, "part", options or Options())[measure[0]]
    return question, question.bumps[0]


@pytest.mark.parametrize(
    ("wear", "side", "scale"),
    [
        ("smaller", Side.SMALLER, 0.05),
        ("larger", Side.LARGER, 0.02),
        ("either", Side.EITHER, 0.10),
        ("none", Side.NONE, 0.0),
        ("", Side.NONE, 0.0),
    ],
)
def test_wear_in_mm_goes_the_way_the_measure_says(shelf, wear, side, scale):
    """Source: from memory."""
    _, found = bump(shelf, ("m", "m", "number", "mm", (), 30_000, wear), shelf.mm(20))
    assert (found.side, found.wear) == (side, scale)


def test_wear_in_another_unit_goes_with_the_uncertainty(shelf):
    _, found = bump(shelf, ("m", "m", "number", "rpm", (), 10_000_000, "larger"), shelf.mm(400))
    assert found.wear == 10.0


def test_wear_may_be_stated_or_ruled_out(shelf):
    measure = ("m", "m", "number", "mm", (), 30_000, "smaller")
    assert bump(shelf, measure, shelf.mm(20), Options(wear_scales={"m": 0.4}))[1].wear == 0.4
    assert bump(shelf, measure, shelf.mm(20), Options(wear_scales={"m": 0.0}))[1].side is Side.NONE


@pytest.mark.parametrize(
    ("unit", "stated", "sigma"), [("mm", 30_000, 0.03), ("mm", None, 0.05), ("rpm", None, 4.0), ("mm", 0, 1e-6)]
)
def test_a_measure_that_states_no_uncertainty_gets_a_usual_one(shelf, unit, stated, sigma):
    """Source: from memory."""
    assert bump(shelf, ("m", "m", "number", unit, (), stated), shelf.mm(400))[1].sigma == pytest.approx(sigma)


def test_a_tolerance_adds_its_half_width_over_the_root_of_three(shelf):
    """Source: GUM, JCGM 100:2008, 4.3.7: a uniform half-width a has the standard uncertainty a / sqrt(3)."""
    _, found = bump(shelf, ("m", "m", "number", "mm", (), 30_000), shelf.mm(20, 0.0, 0.2))
    assert found.mean == pytest.approx(20.1)
    assert found.sigma == pytest.approx((0.03**2 + 0.1**2 / 3) ** 0.5)


def test_the_range_is_a_fifth_around_what_is_on_record_and_never_cuts_a_density(shelf):
    question, found = bump(shelf, ("m", "m", "number", "mm", (), 30_000, "smaller"), shelf.mm(20))
    assert (question.low, question.high) == (16.0, 24.0)
    narrow, _ = bump(shelf, ("m", "m", "number", "mm", (), 30_000), shelf.mm(20), Options(ranges={"m": (19.99, 30.0)}))
    assert (narrow.low, narrow.high) == (pytest.approx(20 - 8.5 * 0.03), 30.0)
    nothing, _ = bump(shelf, ("m", "m", "number", "mm", (), 30_000), shelf.mm(0))
    assert nothing.low < 0 < nothing.high
    assert found.cuts()[0] < 20 - 24 * 0.05


def test_values_of_the_wrong_sort_count_as_not_on_record(shelf):
    designs = {"a": {"height_mm": "tall", "window": shelf.mm(1)}, "b": {"height_mm": shelf.mm(20), "window": "no"}}
    questions = questions_of(shelf.kind_of([shelf.height, shelf.window], designs), "part", Options())
    assert {key: set(question.shape_of) for key, question in questions.items()} == {"height_mm": {"b"}, "window": {"b"}}
    wrong = {"a": {"height_mm": "tall", "window": shelf.mm(1)}}
    assert questions_of(shelf.kind_of([shelf.height, shelf.window], wrong), "part", Options()) == {}


@pytest.mark.parametrize(("kind", "stated", "seconds"), [("number", None, 20), ("yes_no", 0.0, 5), ("choice", 7.0, 7)])
def test_a_question_always_takes_some_time(kind, stated, seconds):
    """Source: from memory."""
    assert effort_s(Measure("k", "m", "m", kind, effort_s=stated)) == seconds


def test_a_choice_with_a_single_word_tells_nothing_wrong(shelf):
    catalogue = shelf.kind_of([("mark", "mark", "choice")], {"a": {"mark": "star"}, "b": {}})
    found = identify(catalogue, "part", {"mark": "star"})
    assert sum(share for _, share in found.ranking) + found.none_of_these == pytest.approx(1)


@pytest.mark.parametrize(
    ("wear", "reading", "said"),
    [
        ("smaller", 20.05, "agrees with 20 mm"),
        ("smaller", 19.85, "is 0.15 mm below 20 mm: a worn m of this, or another design"),
        ("smaller", 19.00, "is 1 mm below 20 mm: more than wear usually takes: another design, or a slip"),
        (
            "smaller",
            20.10,
            "is 0.1 mm above 20 mm: wear only makes it smaller, so a poor reading of this, or another design",
        ),
        ("smaller", 20.20, "is 0.2 mm above 20 mm: wear only makes it smaller, so not this, or a slip"),
        ("larger", 20.10, "is 0.1 mm above 20 mm: a worn m of this, or another design"),
        ("larger", 19.80, "is 0.2 mm below 20 mm: wear only makes it larger, so not this, or a slip"),
        ("either", 20.20, "is 0.2 mm above 20 mm: a worn m of this, or another design"),
        ("none", 20.10, "is 0.1 mm above 20 mm: a poor reading of this, or another design"),
        ("none", 19.00, "is 1 mm below 20 mm: not this, or a slip"),
    ],
)
def test_a_reading_is_judged_in_words(shelf, wear, reading, said):
    catalogue = shelf.kind_of([("m", "m", "number", "mm", (), 30_000, wear)], {"a": {"m": shelf.mm(20)}})
    (row,) = identify(catalogue, "part", {"m": reading}).why["a"]
    assert row.text.endswith(said)
