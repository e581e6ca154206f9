import datetime as dt

import pytest

from stash.db.models import Lot
from stash.errors import Conflict, InvalidInput, NotFound
from stash.services import lots
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, BOOTS, CARB_TURNED, CARBS, CLIPS, SHELF

TODAY = dt.date(1980, 5, 1)


def test_a_moved_lot_lies_in_its_new_place(workshop):
    said = lots.move(workshop, CARBS, BIN_B, who="Ann")
    assert workshop.stock().lots[CARBS].place == BIN_B
    assert "Bin B" in said.said
    assert verify(workshop).ok


def test_moving_a_lot_where_it_is_changes_nothing(workshop):
    assert lots.move(workshop, CARBS, BIN_A, who="Ann").batch is None


def test_moving_some_of_a_lot_gives_them_a_code_of_their_own(workshop):
    done = lots.move(workshop, CARBS, BIN_B, quantity=2, who="Ann")
    (code,) = done.codes
    stock = workshop.stock()
    assert (stock.lots[CARBS].quantity, stock.lots[CARBS].place) == (1, BIN_A)
    assert (stock.lots[code].quantity, stock.lots[code].place, stock.lots[code].design) == (2, BIN_B, "carb-0")
    assert verify(workshop).ok


@pytest.mark.parametrize("quantity", [0, -1])
def test_a_quantity_below_one_is_refused(workshop, quantity):
    with pytest.raises(InvalidInput):
        lots.move(workshop, CARBS, BIN_B, quantity=quantity, who="Ann")


def test_more_than_there_are_can_not_be_moved(workshop):
    with pytest.raises(Conflict, match="only 3"):
        lots.move(workshop, CARBS, BIN_B, quantity=4, who="Ann")
    assert workshop.stock().lots[CARBS].quantity == 3


def test_an_unknown_lot_or_place_is_named(workshop):
    with pytest.raises(NotFound):
        lots.move(workshop, BIN_A, BIN_B, who="Ann")
    with pytest.raises(NotFound):
        lots.move(workshop, CARBS, CARBS, who="Ann")
    with pytest.raises(InvalidInput):
        lots.move(workshop, "nonsense", BIN_B, who="Ann")


def test_a_stale_form_is_told_who_did_what_and_loses_nothing(workshop):
    with workshop.reading() as session:
        version = lots.lot_row(session, CARBS).version
    lots.let_go(workshop, CARBS, 1, "sold", who="Bea", version=version)
    with pytest.raises(Conflict, match=r"Bea.*sold"):
        lots.let_go(workshop, CARBS, 1, "sold", who="Ann", version=version)
    assert workshop.stock().lots[CARBS].quantity == 2


def test_splitting_keeps_the_sum_and_what_is_known(workshop):
    (code,) = lots.split(workshop, CLIPS, 2, who="Ann").codes
    stock = workshop.stock()
    assert stock.lots[CLIPS].quantity + stock.lots[code].quantity == 5
    assert stock.lots[code].condition == "new"
    with pytest.raises(InvalidInput, match="Nothing would stay"):
        lots.split(workshop, code, 2, who="Ann")


def test_merging_puts_equal_lots_together_and_keeps_the_old_code(workshop):
    (code,) = lots.split(workshop, CLIPS, 2, who="Ann", place=SHELF).codes
    lots.merge(workshop, CLIPS, [code, CLIPS], who="Ann")
    stock = workshop.stock()
    assert (stock.lots[CLIPS].quantity, stock.lots[code].quantity) == (5, 0)
    assert verify(workshop).ok


def test_different_lots_are_not_merged(workshop):
    with pytest.raises(InvalidInput, match="not the same"):
        lots.merge(workshop, CARBS, [CARB_TURNED], who="Ann")


@pytest.mark.parametrize("how", list(lots.LEAVES))
def test_parts_leave_in_every_way_there_is(workshop, how):
    lots.let_go(workshop, BOOTS, 2, how, who="Ann")
    assert workshop.stock().lots[BOOTS].quantity == 0
    assert verify(workshop).ok


def test_parts_do_not_leave_or_come_in_an_unknown_way(workshop):
    with pytest.raises(InvalidInput):
        lots.let_go(workshop, BOOTS, 1, "eaten", who="Ann")
    with pytest.raises(InvalidInput):
        lots.add_more(workshop, BOOTS, 1, "grown", who="Ann")


def test_a_promised_part_can_not_be_silently_let_go(workshop):
    with pytest.raises(Conflict, match="Winter build"):
        lots.let_go(workshop, CARB_TURNED, 1, "sold", who="Ann")
    lots.let_go(workshop, CARB_TURNED, 1, "sold", who="Ann", anyway=True)
    assert workshop.stock().lots[CARB_TURNED].quantity == 0


def test_more_parts_can_come_in(workshop):
    lots.add_more(workshop, BOOTS, 3, "found", who="Ann")
    assert workshop.stock().lots[BOOTS].quantity == 5
    assert verify(workshop).ok


def _twins(workshop, **cells):
    """Some clips of their own, and of these one whose row differs."""
    (code,) = lots.split(workshop, CLIPS, 1, who="Ann").codes
    with workshop.writing("Ann", "looked at") as work:
        row = work.session.get(Lot, code)
        for name, value in cells.items():
            setattr(row, name, value)
    return code


@pytest.mark.parametrize(("one", "other"), [("ran", "looked"), ("looked", "ran"), ("measured", None)])
def test_merged_lots_are_checked_no_better_than_the_less_checked_of_them(workshop, one, other):
    code = _twins(workshop, checked=other)
    with workshop.writing("Ann", "looked at") as work:
        work.session.get(Lot, CLIPS).checked = one
    lots.merge(workshop, CLIPS, [code], who="Ann")
    assert workshop.stock().lots[CLIPS].checked == ("looked" if "looked" in {one, other} else "")
    assert verify(workshop).ok


def test_unidentified_lots_with_other_numbers_on_them_are_not_merged(workshop):
    code = _twins(workshop, design=None, number_seen="471-12")
    with workshop.writing("Ann", "not sure") as work:
        work.session.get(Lot, CLIPS).design = None
    with pytest.raises(InvalidInput, match="not the same"):
        lots.merge(workshop, CLIPS, [code], who="Ann")
