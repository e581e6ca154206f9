"""When the questions end, and why; and what would still break a tie."""

import math

import pytest

from stash.key.densities import Bump
from stash.key.identify import identify
from stash.key.options import Options
from stash.key.tiebreak import needed_uncertainty


def test_a_lone_design_is_not_clear_before_anything_is_read(shelf):
    found = identify(shelf.kind_of([shelf.height], {"a": {"height_mm": shelf.mm(20)}}), "part", {})
    assert (found.stop, found.next.measure) == (None, "height_mm")
    assert found.ranking == (("a", pytest.approx(0.95)),)


def test_one_reading_that_only_one_design_explains_is_clear(shelf):
    catalogue = shelf.kind_of([shelf.height], {"a": {"height_mm": shelf.mm(20)}, "b": {"height_mm": shelf.mm(22)}})
    found = identify(catalogue, "part", {"height_mm": 21.97})
    assert (found.stop, found.next, found.ranking[0][0]) == ("clear", None, "b")
    assert found.notes == ()


def test_a_safety_critical_kind_asks_for_more_certainty(shelf):
    designs = {"a": {"height_mm": shelf.mm(20.0)}, "b": {"height_mm": shelf.mm(20.1)}}
    plain = identify(shelf.kind_of([shelf.height], designs), "part", {"height_mm": 20.08})
    critical = identify(shelf.kind_of([shelf.height], designs, critical=True), "part", {"height_mm": 20.08})
    assert 0.95 <= plain.ranking[0][1] < 0.99
    assert (plain.stop, critical.stop) == ("clear", "tie")
    assert "nothing left to ask makes it sure enough" in critical.said


def looks_alone(shelf, **more):
    designs = {"a": {"window": "yes", "form": "round", **more}, "b": {"window": "no", "form": "square"}}
    rows = [shelf.window, shelf.form, shelf.height, shelf.teeth]
    sharp = Options(tell_error=0.001, none_prior=0.001)
    answers = {"window": True, "form": "Round"}
    return identify(shelf.kind_of(rows, designs, critical=True), "part", {}, answers, sharp)


def test_looks_alone_never_settle_a_safety_critical_part(shelf):
    found = looks_alone(shelf, height_mm=shelf.mm(20), teeth_n=shelf.mm(12))
    assert found.ranking[0][1] > 0.99
    assert (found.stop, found.next.measure) == (None, "height_mm")
    assert any("it takes a measurement" in note for note in found.notes)


def test_a_safety_critical_part_with_nothing_to_measure_on_record_stays_open(shelf):
    found = looks_alone(shelf, teeth_n=shelf.mm(12))
    assert (found.stop, found.next) == ("tie", None)
    assert found.said.startswith("Looks like a (99.")


def test_a_reading_of_the_leading_design_settles_a_safety_critical_part(shelf):
    designs = {"a": {"height_mm": shelf.mm(20)}, "b": {"height_mm": shelf.mm(22)}}
    found = identify(shelf.kind_of([shelf.height], designs, critical=True), "part", {"height_mm": 20})
    assert found.stop == "clear"
    assert found.notes == ()


def test_a_reading_far_from_everything_means_none_of_these(shelf):
    catalogue = shelf.kind_of([shelf.height], {"a": {"height_mm": shelf.mm(20)}, "b": {"height_mm": shelf.mm(22)}})
    found = identify(catalogue, "part", {"height_mm": "2.0"})
    assert (found.stop, found.next) == ("none", None)
    assert found.none_of_these > 0.8
    assert "None of the designs on record fits" in found.said
    assert any("look for a slip" in note and "20 mm to 22 mm" in note for note in found.notes)
    assert any(note.startswith("It may be none of these (8") for note in found.notes)


def test_a_kind_without_designs_says_so(shelf):
    found = identify(shelf.kind_of([shelf.height], {}, critical=True), "part", {"height_mm": 20})
    assert (found.ranking, found.none_of_these, found.stop, found.next) == ((), 1.0, "none", None)
    assert found.said == "No design of part is on record yet."
    assert found.notes == ("No design has height on record: the answer changes nothing",)


def test_the_only_certain_design_stays_certain_whatever_is_unrecorded(shelf):
    designs = {"a": {}, "b": {"height_mm": shelf.mm(20)}}
    options = Options(none_prior=0.0, weights={"b": 0.0})
    found = identify(shelf.kind_of([shelf.height, shelf.skirt], designs), "part", {"height_mm": 20}, options=options)
    assert dict(found.ranking) == {"a": 1.0, "b": 0.0}
    assert found.stop == "clear"


def test_every_design_weighing_nothing_leaves_none_of_these(shelf):
    catalogue = shelf.kind_of([shelf.height], {"a": {"height_mm": shelf.mm(20)}})
    assert identify(catalogue, "part", {}, options=Options(weights={"a": 0.0})).none_of_these == 1.0


def test_a_size_only_an_excluded_design_has_on_record_asks_nothing(shelf):
    designs = {"a": {}, "b": {"height_mm": shelf.mm(20)}, "c": {}}
    options = Options(none_prior=0.0, weights={"b": 0.0})
    found = identify(shelf.kind_of([shelf.height], designs), "part", {}, options=options)
    assert [ask.bits for ask in found.questions] == [0.0]


def tie(shelf, one, other, rows=None, answers=None, **options):
    catalogue = shelf.kind_of(rows or [shelf.skirt, shelf.height, shelf.window], {"a": one, "b": other})
    found = identify(catalogue, "part", answers or {}, options=Options(none_prior=0.01, **options))
    assert found.stop == "tie"
    return found


def test_a_caliper_that_cannot_decide_is_said_so_with_what_could(shelf):
    found = tie(shelf, {"height_mm": shelf.mm(20.00)}, {"height_mm": shelf.mm(20.02)}, answers={"height_mm": 20.01})
    (way,) = found.tie_breaks
    assert (way.designs, way.measure, way.can) == (("a", "b"), "height_mm", True)
    assert way.needed == pytest.approx(0.02 / 3.2898, rel=1e-4)
    assert way.text == (
        "height 20 mm against 20.02 mm: a caliper (good to 0.03 mm) cannot decide; "
        "it takes one good to 0.006 mm: a micrometer"
    )
    assert found.said == "Between a and b: nothing left to ask tells them apart."


def test_the_resolution_asked_for_would_indeed_decide(shelf):
    """Source: the model itself, read at one of the sizes with the uncertainty that was named."""
    designs = {"a": {"height_mm": shelf.mm(20.00)}, "b": {"height_mm": shelf.mm(20.02)}}
    catalogue = shelf.kind_of([shelf.height], designs)
    options = Options(uncertainties={"height_mm": 0.006})
    found = identify(catalogue, "part", {"height_mm": 20.0}, options=options)
    assert (found.stop, found.ranking[0][0]) == ("clear", "a")


def test_wear_that_could_hide_a_difference_is_named(shelf):
    found = tie(shelf, {"skirt_mm": shelf.mm(37.95)}, {"skirt_mm": shelf.mm(37.96)}, answers={"skirt_mm": 37.93})
    (way,) = found.tie_breaks
    assert way.text.endswith(
        "a shop that measures finer than a micrometer; wear hides the difference, so measure where nothing rubs"
    )


def test_tolerances_that_overlap_leave_nothing_to_measure(shelf):
    one = {"height_mm": shelf.mm(20.0, 0.2, 0.2)}
    other = {"height_mm": shelf.mm(20.1, 0.2, 0.2)}
    (way,) = tie(shelf, one, other, answers={"height_mm": 20.05}).tie_breaks
    assert (way.can, way.needed) == (False, None)
    assert way.text == "height 20 mm against 20.1 mm: their tolerances overlap too far for any instrument"


def test_a_reading_halfway_is_to_be_taken_again(shelf):
    one, other = {"height_mm": shelf.mm(20)}, {"height_mm": shelf.mm(20.1)}
    (way,) = tie(shelf, one, other, answers={"height_mm": 20.05}).tie_breaks
    assert way.text == "Measure again: height 20 mm against 20.1 mm"
    assert way.needed == pytest.approx(0.1 / 3.2898, rel=1e-4)


def test_a_measure_not_yet_taken_that_is_good_enough_is_named_too(shelf):
    found = looks_alike_but_excluded(shelf)
    assert "Measure: height 20 mm against 20.11 mm" in [way.text for way in found.tie_breaks]


def looks_alike_but_excluded(shelf):
    """Sure of a by tells, yet not sure enough for safety, and the height is worth less than the least there is."""
    designs = {
        "a": {"window": "yes", "form": "round", "height_mm": shelf.mm(20)},
        "b": {"window": "no", "form": "round", "height_mm": shelf.mm(20.11)},
    }
    options = Options(none_prior=0.0, tell_errors={"window": 0.001}, weights={"b": 60.0}, slip=0.9)
    answers = {"window": "yes", "form": "round"}
    return identify(
        shelf.kind_of([shelf.height, shelf.window, shelf.form], designs, critical=True),
        "part",
        answers,
        options=options,
    )


def test_a_tell_that_contradicts_is_to_be_looked_at_again(shelf):
    one = {"window": "yes", "height_mm": shelf.mm(20)}
    other = {"window": "no", "height_mm": shelf.mm(20.09)}
    found = tie(shelf, one, other, answers={"window": "yes", "height_mm": 20.08})
    assert "Look again at window: no against yes" in [way.text for way in found.tie_breaks]


def test_a_value_nobody_has_written_down_is_asked_for(shelf):
    found = tie(shelf, {"height_mm": shelf.mm(20)}, {}, answers={"height_mm": 20})
    assert [way.text for way in found.tie_breaks] == ["b has no height on record: write it down from one that is known"]
    assert found.why["b"][0].text == "no height on record for this one: left out"


def test_designs_alike_in_everything_are_said_to_be(shelf):
    same = {"height_mm": shelf.mm(20)}
    found = tie(shelf, same, same, answers={"height_mm": 20})
    (way,) = found.tie_breaks
    assert (way.measure, way.needed, way.can) == ("", None, False)
    assert way.text.startswith("Nothing on record tells a from b: compare the stamped number")


def test_a_size_without_mm_asks_for_a_finer_instrument(shelf):
    rows = [("mass_g", "mass", "number", "g", (), 500_000, "none", 30.0)]
    (way,) = tie(shelf, {"mass_g": shelf.mm(80)}, {"mass_g": shelf.mm(80.4)}, rows, {"mass_g": 80.2}).tie_breaks
    assert way.text.endswith("it (good to 0.5 g) cannot decide; it takes one good to 0.1 g: a finer instrument")


def test_the_needed_uncertainty_leaves_room_for_the_tolerances():
    one, other = Bump(20.0, math.hypot(0.03, 0.01)), Bump(20.1, 0.03)
    assert needed_uncertainty(one, other, 0.03) == pytest.approx(math.sqrt((0.1 / 3.2898) ** 2 - 0.01**2), rel=1e-4)
