import datetime as dt

import pytest

from stash.errors import Conflict, InvalidInput, NotFound
from stash.services import counting
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, BOOTS, CARB_TURNED, CARBS, SHELF

TODAY = dt.date(1980, 5, 1)


def test_the_bin_that_waits_longest_comes_first(workshop):
    counting.count_place(workshop, BIN_A, {CARBS: 3, CARB_TURNED: 1}, who="Ann", on=TODAY)
    rows = counting.longest_uncounted(workshop)
    assert [(row.place.code, row.counted_on) for row in rows] == [(BIN_B, ""), (BIN_A, "1980-05-01")]


def test_a_bin_is_counted_in_one_go(workshop):
    said = counting.count_place(workshop, BIN_A, {CARBS: 2, CARB_TURNED: 1}, who="Ann", on=TODAY)
    assert "1 differ" in said.said
    assert workshop.stock().lots[CARBS].quantity == 2
    assert verify(workshop).ok


def test_nothing_of_a_refused_count_is_written(workshop):
    with pytest.raises(Conflict):
        counting.count_place(workshop, BIN_A, {CARBS: 2, CARB_TURNED: 0}, who="Ann", on=TODAY)
    assert workshop.stock().lots[CARBS].quantity == 3
    counting.count_place(workshop, BIN_A, {CARB_TURNED: 0}, who="Ann", on=TODAY, looked={CARB_TURNED})
    assert workshop.stock().lots[CARB_TURNED].quantity == 0


def test_a_misfiled_lot_and_a_bad_count_are_refused(workshop):
    with pytest.raises(InvalidInput, match="does not belong"):
        counting.count_place(workshop, BIN_A, {BOOTS: 1}, who="Ann", on=TODAY)
    with pytest.raises(InvalidInput, match="no count"):
        counting.count_place(workshop, BIN_A, {CARBS: -1}, who="Ann", on=TODAY)
    with pytest.raises(NotFound):
        counting.count_place(workshop, CARBS, {}, who="Ann", on=TODAY)


def test_a_sample_is_drawn_from_the_longest_uncounted(workshop):
    assert {row.place.code for row in counting.sample(workshop, 0.0)} == {BIN_A, BIN_B}
    assert SHELF not in {row.place.code for row in counting.sample(workshop, 0.4)}
    with pytest.raises(InvalidInput):
        counting.sample(workshop, 1.0)
