import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from stash.ledger.sampling import bins_to_count


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
