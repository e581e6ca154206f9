"""What comes in is checked, and what is wrong is told with how to mend it."""

from decimal import Decimal

import pytest

from stash.errors import InvalidInput, NotFound
from stash.key.identify import identify
from stash.key.options import Options


@pytest.fixture
def catalogue(shelf):
    rows = [shelf.height, shelf.window, shelf.form, shelf.teeth, ("mark", "mark", "choice")]
    designs = {"a": {"height_mm": shelf.mm(20), "window": "yes", "form": "round"}, "b": {"mark": "star"}}
    return shelf.kind_of(rows, designs)


@pytest.mark.parametrize(
    ("readings", "problem", "hint"),
    [
        (
            {"heigth_mm": 20},
            "heigth_mm is not a measure of part",
            "Use one of: form, height_mm, mark, teeth_n, window.",
        ),
        ({"height_mm": "20,1"}, "'20,1' is not a reading", "Write decimals with a point."),
        ({"height_mm": "20 mm"}, "'20 mm' is not a reading", "Give a number in mm, without the unit."),
        ({"height_mm": float("nan")}, "'nan' is not a reading", "Give a number in mm"),
        ({"height_mm": float("inf")}, "'inf' is not a reading", "Give a number in mm"),
        ({"height_mm": Decimal(10) ** 12}, "is not a reading", "Give a number in mm"),
        ({"height_mm": -1}, "-1 is below zero", "Give a size in mm, 0 or more."),
        ({"height_mm": True}, "yes or no is not a reading", "Give a number in mm."),
        ({"teeth_n": "many"}, "'many' is not a reading", "Give a number, without the unit."),
        ({"window": "maybe"}, "'maybe' is not one of its answers", "It can be yes, no."),
        ({"form": "oval"}, "'oval' is not one of its answers", "It can be round, square."),
        ({"mark": "moon"}, "'moon' is not one of its answers", "It can be star."),
    ],
)
def test_a_wrong_answer_says_where_and_how_to_mend_it(catalogue, readings, problem, hint):
    with pytest.raises(InvalidInput) as caught:
        identify(catalogue, "part", readings)
    assert problem in caught.value.message
    assert caught.value.hint.startswith(hint)


def test_an_unknown_kind_lists_those_there_are(catalogue):
    with pytest.raises(NotFound) as caught:
        identify(catalogue, "prat", {})
    assert (caught.value.message, caught.value.hint) == ("There is no kind 'prat'", "Use one of: part.")


def test_a_measure_answered_twice_is_refused(catalogue):
    with pytest.raises(InvalidInput, match="window is answered twice"):
        identify(catalogue, "part", {"window": "yes"}, {"window": "no"})


def test_a_kind_without_measures_says_so(shelf):
    with pytest.raises(InvalidInput) as caught:
        identify(shelf.kind_of([], {"a": {}}), "part", {"height_mm": 1})
    assert caught.value.hint == "No measures are declared for part yet."


def test_a_choice_nobody_declared_or_recorded_has_no_answers(shelf):
    with pytest.raises(InvalidInput) as caught:
        identify(shelf.kind_of([("mark", "mark", "choice")], {"a": {}}), "part", {"mark": "star"})
    assert caught.value.hint == "It can be nothing yet: no choices are declared."


def test_words_are_forgiven_their_case_and_tells_may_be_true_or_false(catalogue):
    found = identify(catalogue, "part", {"form": " ROUND "}, {"window": True})
    assert {each.text for each in found.why["a"]} == {"form: round, as on record", "window: yes, as on record"}
    assert identify(catalogue, "part", {}, {"window": False}).why["a"][0].text.startswith("window: no, where yes")


@pytest.mark.parametrize(
    "wrong",
    [
        {"none_prior": 1.0},
        {"none_prior": -0.1},
        {"slip": 1.5},
        {"slip": float("nan")},
        {"tell_error": 0.0},
        {"tell_errors": {"window": 1.0}},
        {"wear_scales": {"height_mm": -1.0}},
        {"uncertainties": {"height_mm": float("inf")}},
        {"weights": {"a": -1.0}},
        {"ranges": {"height_mm": (30.0, 20.0)}},
    ],
)
def test_options_that_make_no_sense_are_refused(wrong):
    with pytest.raises(InvalidInput) as caught:
        Options(**wrong)
    assert caught.value.hint.startswith("Give")
