"""Laws that hold for every kind, every set of designs and every set of answers."""

import random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Kind, Measure
from stash.fit.intervals import interval
from stash.key.belief import believe, hypotheses_of
from stash.key.identify import identify
from stash.key.information import expected_bits
from stash.key.options import Options
from stash.key.questions import questions_of

MEASURES = (
    Measure("part", "a_mm", "size a", "number", "mm", (), 30_000, "smaller", 15.0),
    Measure("part", "b_mm", "size b", "number", "mm", (), 50_000, "larger"),
    Measure("part", "c_mm", "size c", "number", "mm", (), 50_000, "either", 20.0),
    Measure("part", "d_rpm", "speed", "number", "rpm"),
    Measure("part", "shape", "shape", "choice", "", ("round", "square", "flat")),
    Measure("part", "hole", "hole", "yes_no", effort_s=3.0),
)
sizes = st.integers(10_000, 12_000).map(lambda um: interval(um * 1000, 0, um % 7 * 10_000))
values = {
    "a_mm": sizes,
    "b_mm": sizes,
    "c_mm": sizes,
    "d_rpm": st.integers(5, 9).map(lambda thousands: interval(thousands * 1_000_000_000)),
    "shape": st.sampled_from(["round", "square", "flat"]),
    "hole": st.sampled_from(["yes", "no"]),
}
readings = {
    "a_mm": st.integers(990, 1210).map(lambda each: each / 100),
    "b_mm": st.integers(0, 30).map(float),
    "c_mm": st.integers(990, 1210).map(lambda each: each / 100),
    "d_rpm": st.integers(5000, 9000).map(float),
    "shape": values["shape"],
    "hole": values["hole"],
}
designs = st.lists(st.fixed_dictionaries({}, optional=values), min_size=1, max_size=6)
answers = st.fixed_dictionaries({}, optional=readings)
options = st.builds(
    Options, none_prior=st.sampled_from([0.0, 0.05, 0.3]), slip=st.sampled_from([0.0, 0.01]), tell_error=st.just(0.03)
)


def catalogue_of(rows, critical=False):
    return Catalogue(
        kinds=(Kind("part", "part", safety_critical=critical),),
        measures=MEASURES,
        designs=tuple(Design(f"d{at}", "part", values=row) for at, row in enumerate(rows)),
    )


@given(designs, answers, options, st.booleans())
@settings(max_examples=60, deadline=None)
def test_probabilities_sum_to_one_and_no_question_tells_less_than_nothing(rows, given_answers, chosen, critical):
    found = identify(catalogue_of(rows, critical), "part", given_answers, options=chosen)
    shares = [share for _, share in found.ranking]
    assert sum(shares) + found.none_of_these == pytest.approx(1.0, abs=1e-9)
    assert all(0 <= share <= 1 for share in shares)
    assert shares == pytest.approx(sorted(shares, reverse=True), abs=1e-9)
    assert all(ask.bits >= 0 for ask in found.questions)
    assert (found.next is None) == (found.stop is not None)


@given(designs, answers, options, st.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None)
def test_the_order_of_answers_designs_and_measures_never_matters(rows, given_answers, chosen, shuffler):
    catalogue = catalogue_of(rows)
    pairs = list(given_answers.items())
    shuffler.shuffle(pairs)
    mixed = Catalogue(
        kinds=catalogue.kinds,
        measures=tuple(shuffler.sample(MEASURES, len(MEASURES))),
        designs=tuple(shuffler.sample(catalogue.designs, len(catalogue.designs))),
    )
    assert identify(mixed, "part", dict(pairs), options=chosen) == identify(
        catalogue, "part", given_answers, options=chosen
    )


@given(designs, answers, options, st.sampled_from([None, "", "?", "can't see", " Unknown "]))
@settings(max_examples=40, deadline=None)
def test_a_missing_answer_changes_nothing(rows, given_answers, chosen, nothing):
    catalogue = catalogue_of(rows)
    padded = {measure.key: nothing for measure in MEASURES} | given_answers
    assert identify(catalogue, "part", padded, options=chosen) == identify(
        catalogue, "part", given_answers, options=chosen
    )


@given(designs, answers, options)
@settings(max_examples=40, deadline=None)
def test_it_does_not_matter_whether_an_answer_comes_as_a_measure_or_as_a_tell(rows, given_answers, chosen):
    catalogue = catalogue_of(rows)
    looked = {key: answer for key, answer in given_answers.items() if key in {"shape", "hole"}}
    measured = {key: answer for key, answer in given_answers.items() if key not in looked}
    apart = identify(catalogue, "part", measured, looked, chosen)
    assert apart == identify(catalogue, "part", given_answers, options=chosen)


@given(st.lists(st.fixed_dictionaries(values), min_size=1, max_size=5), answers, options)
@settings(max_examples=60, deadline=None)
def test_readings_leave_the_share_of_a_design_with_nothing_on_record_where_it_was(rows, given_answers, chosen):
    found = identify(catalogue_of([*rows, {}]), "part", given_answers, options=chosen)
    before = (1 - chosen.none_prior) / (len(rows) + 1)
    assert dict(found.ranking)[f"d{len(rows)}"] == pytest.approx(before, rel=1e-9)
    assert all(each.bits is None for each in found.why[f"d{len(rows)}"])


@given(designs, answers, options)
@settings(max_examples=40, deadline=None)
def test_designs_that_nothing_on_record_tells_apart_stay_equal(rows, given_answers, chosen):
    catalogue = catalogue_of([*rows, rows[0]])
    shares = dict(identify(catalogue, "part", given_answers, options=chosen).ranking)
    assert shares["d0"] == pytest.approx(shares[f"d{len(rows)}"], rel=1e-9)


@given(
    st.lists(st.fixed_dictionaries({"a_mm": sizes}), min_size=2, max_size=4), st.floats(0.005, 0.1), st.floats(1.2, 5)
)
@settings(max_examples=40, deadline=None)
def test_a_finer_instrument_never_tells_less(rows, fine, coarser):
    """Source: data-processing inequality; a coarse reading is a fine one with noise added."""
    assume(len({row["a_mm"] for row in rows}) > 1)
    told = []
    for uncertainty in (fine, fine * coarser):
        chosen = Options(none_prior=0.0, slip=0.0, uncertainties={"a_mm": uncertainty})
        questions = questions_of(catalogue_of(rows), "part", chosen)
        belief = believe(hypotheses_of([f"d{at}" for at in range(len(rows))], chosen), questions, {})
        told.append(expected_bits(belief, questions["a_mm"]))
    assert told[0] >= told[1] - 1e-6


@given(designs, answers, options)
@settings(max_examples=40, deadline=None)
def test_no_question_tells_more_than_is_open(rows, given_answers, chosen):
    catalogue = catalogue_of(rows)
    questions = questions_of(catalogue, "part", chosen)
    belief = believe(hypotheses_of([row.key for row in catalogue.designs], chosen), questions, given_answers)
    for key, question in questions.items():
        if key not in given_answers:
            assert expected_bits(belief, question) <= belief.bits + 1e-5


def test_the_expected_information_is_the_average_fall_of_the_entropy():
    """A tell has two answers: the entropies after each, weighed, give its information, unrecorded designs included."""
    rows = random.Random(7).choices([{"hole": "yes", "shape": "flat"}, {"hole": "no"}, {"shape": "round"}, {}], k=6)
    catalogue, chosen = catalogue_of(rows), Options()
    questions = questions_of(catalogue, "part", chosen)
    hypotheses = hypotheses_of([row.key for row in catalogue.designs], chosen)
    for start in ({}, {"shape": "flat"}, {"shape": "round"}):
        before = believe(hypotheses, questions, start)
        after = {word: believe(hypotheses, questions, {**start, "hole": word}) for word in ("yes", "no")}
        # each answer's chance is found from the fact that beliefs average back to what they were
        at = max(
            range(len(hypotheses.names)),
            key=lambda k: abs(after["yes"].probabilities[k] - after["no"].probabilities[k]),
        )
        yes, no, was = (each.probabilities[at] for each in (after["yes"], after["no"], before))
        chance = (was - no) / (yes - no)
        left = chance * after["yes"].bits + (1 - chance) * after["no"].bits
        assert expected_bits(before, questions["hole"]) == pytest.approx(before.bits - left, abs=1e-9)
