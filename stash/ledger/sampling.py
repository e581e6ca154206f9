"""How many bins to count so that a good count says something about all of them."""

from __future__ import annotations

from math import comb


def bins_to_count(bins: int, wrong_at_most: int, confidence: float = 0.95) -> int:
    """Return how many bins to draw so that, if all of them are right, few enough of all are wrong.

    Args:
        bins: How many there are.
        wrong_at_most: The claim to be able to make: at most so many of all are wrong.
        confidence: How sure, between 0 and 1.

    Returns:
        The smallest sample that would show at least one wrong bin with that confidence if one more than
        ``wrong_at_most`` were wrong; all of them when nothing less will do.

    Raises:
        ValueError: The confidence is not between 0 and 1, or a count is negative.

    Source: hypergeometric distribution, sampling without replacement, acceptance number 0.
    """
    if not 0 < confidence < 1 or bins < 0 or wrong_at_most < 0:
        raise ValueError("confidence lies between 0 and 1, counts are not negative")
    wrong = wrong_at_most + 1
    if wrong > bins:
        return 0
    return next(drawn for drawn in range(bins + 1) if comb(bins - wrong, drawn) <= (1 - confidence) * comb(bins, drawn))


def wrong_at_most(bins: int, drawn: int, wrong: int, confidence: float = 0.95) -> int:
    """Return how many of all bins are wrong at most, when so many of a random sample were.

    Args:
        bins: How many there are.
        drawn: How many were drawn at random and counted.
        wrong: How many of those were wrong.
        confidence: How sure, between 0 and 1.

    Returns:
        The largest number of wrong bins that would show so few in a sample with a chance of more than
        ``1 - confidence``.

    Raises:
        ValueError: The confidence is not between 0 and 1, or the counts do not go together.

    Source: hypergeometric distribution, exact one-sided upper limit.
    """
    if not 0 < confidence < 1 or not 0 <= wrong <= drawn <= bins:
        raise ValueError("confidence lies between 0 and 1, and wrong <= drawn <= bins")
    for all_wrong in range(bins - drawn + wrong, wrong, -1):
        so_few = sum(comb(all_wrong, each) * comb(bins - all_wrong, drawn - each) for each in range(wrong + 1))
        if so_few > (1 - confidence) * comb(bins, drawn):
            return all_wrong
    return wrong
