import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from stash.ledger.sampling import bins_to_count, wrong_at_most


@given(st.integers(1, 400), st.integers(0, 40), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_the_sample_is_the_smallest_that_shows_a_wrong_bin(bins, wrong, confidence):
    """Checked against scipy.stats.hypergeom, a general-purpose reference library."""
    drawn = bins_to_count(bins, wrong, confidence)
    if wrong + 1 > bins:
        assert drawn == 0
        return
    assert hypergeom.pmf(0, bins, wrong + 1, drawn) <= (1 - confidence) * (1 + 1e-9)
    if drawn:
        assert hypergeom.pmf(0, bins, wrong + 1, drawn - 1) > (1 - confidence) * (1 - 1e-9)


@pytest.mark.parametrize(("bins", "wrong", "confidence"), [(5, 0, 0), (5, 0, 1), (-1, 0, 0.9), (5, -1, 0.9)])
def test_what_is_no_question_is_refused(bins, wrong, confidence):
    with pytest.raises(ValueError, match="confidence"):
        bins_to_count(bins, wrong, confidence)


@given(st.integers(1, 120), st.data(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_the_upper_limit_is_the_largest_that_the_sample_bears_out(bins, data, confidence):
    """Checked against scipy.stats.hypergeom, a general-purpose reference library."""
    drawn = data.draw(st.integers(0, bins))
    wrong = data.draw(st.integers(0, drawn))
    most = wrong_at_most(bins, drawn, wrong, confidence)
    assert wrong <= most <= bins - drawn + wrong
    if most > wrong:
        assert hypergeom.cdf(wrong, bins, most, drawn) > (1 - confidence) * (1 - 1e-9)
    if most < bins - drawn + wrong:
        assert hypergeom.cdf(wrong, bins, most + 1, drawn) <= (1 - confidence) * (1 + 1e-9)


@given(st.integers(1, 300), st.integers(0, 40), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_a_sample_without_a_wrong_bin_bears_out_the_claim_it_was_drawn_for(bins, wrong, confidence):
    drawn = bins_to_count(bins, wrong, confidence)
    assert wrong_at_most(bins, drawn, 0, confidence) <= wrong


@pytest.mark.parametrize("counts", [(5, 6, 0, 0.9), (5, 3, 4, 0.9), (5, 3, -1, 0.9), (5, 3, 1, 1)])
def test_counts_that_do_not_go_together_are_refused(counts):
    with pytest.raises(ValueError, match="confidence"):
        wrong_at_most(*counts)
