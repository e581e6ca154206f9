import datetime as dt
from types import SimpleNamespace

import pytest

from stash.errors import Conflict, InvalidInput, NotFound
from stash.services import count_plan, counting, history, lots, machines
from stash.services.counting import Found
from stash.services.loans import loans
from stash.services.titles import how_many
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, BOOTS, CARB_TURNED, CARBS, CLIPS, MYSTERY, PROJECT, SHELF

TODAY = dt.date(1980, 5, 1)


def count_bin(store, place, counted, looked=()):
    sheet = {code: Found(quantity, looked=code in looked) for code, quantity in counted.items()}
    return counting.count_place(store, place, sheet, who="Ann", on=TODAY)


def test_a_count_enters_the_difference_and_the_day(workshop):
    said = [counting.count(workshop, CARBS, Found(quantity), who="Ann", on=TODAY).said for quantity in (2, 4, 4)]
    assert [text.split(", ")[-1] for text in said] == ["1 fewer.", "2 more.", "as expected."]
    lot = workshop.stock().lots[CARBS]
    assert (lot.quantity, lot.counted_on) == (4, "1980-05-01")
    assert verify(workshop).ok


def test_nothing_is_counted_down_to_zero_without_having_looked(workshop):
    with pytest.raises(Conflict, match="down to nothing"):
        counting.count(workshop, MYSTERY, Found(0), who="Ann", on=TODAY)
    counting.count(workshop, MYSTERY, Found(0, looked=True), who="Ann", on=TODAY)
    assert workshop.stock().lots[MYSTERY].quantity == 0
    with pytest.raises(InvalidInput):
        counting.count(workshop, MYSTERY, Found(-1), who="Ann", on=TODAY)


def test_a_rough_count_is_said_to_be_one_until_somebody_counts(workshop):
    assert "about 40" in counting.count(workshop, CLIPS, Found(40, about=True), who="Ann", on=TODAY).said
    assert how_many(workshop.stock().lots[CLIPS]) == "about 40"
    lots.let_go(workshop, CLIPS, 5, "sold", who="Ann")
    assert how_many(workshop.stock().lots[CLIPS]) == "about 35"
    some = lots.split(workshop, CLIPS, 3, who="Ann").codes[0]
    assert how_many(workshop.stock().lots[some]) == "3"
    lots.merge(workshop, some, [CLIPS], who="Ann")
    assert how_many(workshop.stock().lots[some]) == "about 35"
    counting.count(workshop, some, Found(33), who="Ann", on=TODAY)
    assert how_many(workshop.stock().lots[some]) == "33"
    lots.add_more(workshop, CLIPS, 2, "found", who="Ann")
    assert how_many(workshop.stock().lots[CLIPS]) == "2"
    assert verify(workshop).ok


def test_a_count_that_takes_the_last_promised_part_says_whom_it_was_promised_to(workshop):
    said = counting.count(workshop, CARB_TURNED, Found(0, looked=True), who="Ann", on=TODAY).said
    assert "was promised to Winter build" in said


def test_the_bin_that_waits_longest_comes_first(workshop):
    count_bin(workshop, BIN_A, {CARBS: 3, CARB_TURNED: 1})
    rows = count_plan.longest_uncounted(workshop)
    assert [(row.place.code, row.counted_on) for row in rows] == [(BIN_B, ""), (BIN_A, "1980-05-01")]


def test_a_bin_is_counted_in_one_go(workshop):
    assert "1 not as expected" in count_bin(workshop, BIN_A, {CARBS: 2, CARB_TURNED: 1}).said
    assert workshop.stock().lots[CARBS].quantity == 2
    assert verify(workshop).ok


def test_a_bin_with_a_lot_left_out_is_not_counted_yet(workshop):
    assert "1 not counted yet" in count_bin(workshop, BIN_A, {CARBS: 3}).said
    assert workshop.stock().places[BIN_A].counted_on == ""
    assert workshop.stock().lots[CARBS].counted_on == "1980-05-01"


def test_nothing_of_a_refused_count_is_written(workshop):
    with pytest.raises(Conflict):
        count_bin(workshop, BIN_A, {CARBS: 2, CARB_TURNED: 0})
    assert workshop.stock().lots[CARBS].quantity == 3
    count_bin(workshop, BIN_A, {CARB_TURNED: 0}, looked={CARB_TURNED})
    assert workshop.stock().lots[CARB_TURNED].quantity == 0


def test_a_count_of_a_lot_that_was_changed_meanwhile_is_told_what_changed(workshop):
    seen = counting.versions(workshop, BIN_A)[CARBS]
    lots.let_go(workshop, CARBS, 1, "sold", who="Bob")
    with pytest.raises(Conflict, match="Bob"):
        counting.count_place(workshop, BIN_A, {CARBS: Found(3, version=seen)}, who="Ann", on=TODAY)
    assert workshop.stock().lots[CARBS].quantity == 2


def test_a_misfiled_lot_and_a_bad_count_are_refused(workshop):
    with pytest.raises(InvalidInput, match="does not belong"):
        count_bin(workshop, BIN_A, {BOOTS: 1})
    with pytest.raises(InvalidInput, match="no count"):
        count_bin(workshop, BIN_A, {CARBS: -1})
    with pytest.raises(NotFound):
        count_bin(workshop, CARBS, {})


def test_a_misfiled_lot_goes_home_and_both_bins_remember(workshop):
    assert "goes back to Bin B" in counting.misfiled(workshop, BIN_A, BOOTS, who="Ann", stays=False).said
    lot = workshop.stock().lots[BOOTS]
    assert (lot.place, lot.quantity) == (BIN_B, 2)
    for place in (BIN_A, BIN_B):
        assert history.history(workshop, place=place, limit=1)[0].why == "found misfiled"
    assert verify(workshop).ok


def test_a_misfiled_lot_may_stay_where_it_was_found(workshop):
    done = counting.misfiled(workshop, BIN_A, BOOTS, who="Ann", stays=True)
    assert workshop.stock().lots[BOOTS].place == BIN_A
    history.undo(workshop, done.batch, who="Ann")
    assert workshop.stock().lots[BOOTS].place == BIN_B
    with pytest.raises(InvalidInput, match="is noted in Bin B"):
        counting.misfiled(workshop, BIN_B, BOOTS, who="Ann", stays=True)
    assert verify(workshop).ok


def test_a_lot_given_up_for_lost_turns_up_in_another_bin(workshop):
    counting.count(workshop, BOOTS, Found(0, looked=True), who="Ann", on=TODAY)
    counting.misfiled(workshop, BIN_A, BOOTS, who="Ann", stays=False, quantity=2)
    lot = workshop.stock().lots[BOOTS]
    assert (lot.place, lot.quantity) == (BIN_B, 2)
    assert verify(workshop).ok


def test_a_lent_lot_that_turns_up_in_a_bin_is_back_from_loan(workshop):
    lots.let_go(workshop, BOOTS, 2, "lent", who="Ann")
    counting.misfiled(workshop, BIN_A, BOOTS, who="Ann", stays=True, quantity=3)
    assert workshop.stock().lots[BOOTS].quantity == 3
    assert not loans(workshop)
    lots.let_go(workshop, BOOTS, 1, "lent", who="Ann")
    assert "1 of" in (said := counting.count(workshop, BOOTS, Found(3), who="Ann", on=TODAY).said)
    assert "back from loan" in said
    assert verify(workshop).ok


def test_a_lot_that_went_into_another_is_not_found_a_second_time(workshop):
    (part,) = lots.split(workshop, CARBS, 1, who="Ann").codes
    lots.merge(workshop, CARBS, [part], who="Ann")
    with pytest.raises(Conflict, match="put together with"):
        counting.misfiled(workshop, BIN_B, part, who="Ann", stays=True)


def test_a_fitted_part_is_not_found_a_second_time_by_its_label(workshop):
    machines.fit(workshop, PROJECT, "carburettor", CARB_TURNED, who="Ann")
    with pytest.raises(Conflict, match="fitted to machine"):
        counting.misfiled(workshop, BIN_A, CARB_TURNED, who="Ann", stays=True)
    machines.take_off(workshop, PROJECT, "carburettor", who="Ann")
    counting.misfiled(workshop, BIN_A, CARB_TURNED, who="Ann", stays=True)
    assert workshop.stock().lots[CARB_TURNED].quantity == 1


def test_a_lot_that_was_never_put_away_has_no_home_to_go_to(workshop):
    lots.move(workshop, BOOTS, "", who="Ann")
    with pytest.raises(InvalidInput, match="noted nowhere"):
        counting.misfiled(workshop, BIN_A, BOOTS, who="Ann", stays=False)
    assert workshop.stock().lots[BOOTS].place == ""
    assert verify(workshop).ok


def test_a_sample_is_drawn_at_random_and_kept_until_it_is_counted(workshop, monkeypatch):
    assert count_plan.sample(workshop) is None
    count_plan.forget(workshop, who="Ann")
    asked = []

    def drawing():
        return SimpleNamespace(sample=lambda bins, wanted: asked.append((bins, wanted)) or bins[:wanted])

    monkeypatch.setattr(count_plan.secrets, "SystemRandom", drawing)
    count_plan.draw(workshop, 0.0, 0.95, who="Ann", on=TODAY)
    assert asked == [(sorted([BIN_A, BIN_B]), 2)]
    drawn = count_plan.sample(workshop)
    assert {row.place.code for row in drawn.left} == {BIN_A, BIN_B}
    assert drawn.at_most is None
    count_bin(workshop, BIN_A, {CARBS: 3, CARB_TURNED: 1})
    assert [row.place.code for row in count_plan.sample(workshop).right] == [BIN_A]
    count_plan.forget(workshop, who="Ann")
    assert count_plan.sample(workshop) is None


def test_a_counted_sample_says_how_many_bins_are_wrong_at_most(workshop):
    count_plan.draw(workshop, 0.0, 0.95, who="Ann", on=TODAY)
    count_bin(workshop, BIN_A, {CARBS: 2, CARB_TURNED: 1})
    for each in workshop.stock().lots.values():
        if each.place == BIN_B:
            counting.count(workshop, each.code, Found(each.quantity), who="Ann", on=TODAY)
    count_bin(workshop, BIN_B, {lot.code: lot.quantity for lot in workshop.stock().lots.values() if lot.place == BIN_B})
    drawn = count_plan.sample(workshop)
    assert [row.place.code for row in drawn.wrong] == [BIN_A]
    assert [row.place.code for row in drawn.right] == [BIN_B]
    assert drawn.at_most == 1


def test_what_is_no_share_is_refused(workshop):
    assert count_plan.bins_needed(workshop, 0.0, 0.95) == 2
    with pytest.raises(InvalidInput, match="between 0 and 1"):
        count_plan.bins_needed(workshop, 1.0, 0.95)
    assert SHELF not in {row.place.code for row in count_plan.longest_uncounted(workshop)}


def test_no_sample_is_drawn_where_no_bin_holds_anything(store):
    with pytest.raises(InvalidInput, match="No bin holds anything"):
        count_plan.draw(store, 0.05, 0.95, who="Ann", on=TODAY)
