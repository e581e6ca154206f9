"""A bin's page: what is inside, what each is good for, and what one press does."""

from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, BOOTS, CARB_TURNED, CARBS, CLIPS, FAST, MYSTERY, PROJECT, SHELF


def test_each_lot_says_in_one_line_what_it_is_best_for(visitor):
    page = visitor.open(f"/places/{BIN_A}")
    assert "turned carburettor \N{MULTIPLICATION SIGN} 1 bolts on fills carburettor of Ruddlow Late, 1972" in page.text
    page = visitor.open(f"/places/{BIN_B}")
    assert "carburettor, not identified \N{MULTIPLICATION SIGN} 1 unknown until it is identified" in page.text


def test_what_fills_a_gap_comes_first_and_is_fitted_with_two_taps(visitor):
    page = visitor.open(f"/places/{BIN_A}")
    inside = page.text.partition("What is inside")[2]
    assert inside.index("turned carburettor") < inside.index("straight carburettor")
    fit = f"/machines/{PROJECT}/fit?position=carburettor&lot={CARB_TURNED}"
    assert fit in page.links
    assert visitor.open(fit).status == 200


def test_one_is_taken_out_with_one_press(visitor, shop):
    page = visitor.send(f"/places/{BIN_A}/take-out", open_at=f"/places/{BIN_A}", lot=CARBS)
    assert "One straight carburettor taken out" in page.text
    lots = shop.stock().lots
    assert (lots[CARBS].quantity, lots[CARBS].place) == (2, BIN_A)
    (out,) = (lot for lot in lots.values() if not lot.place and lot.design == "carb-0")
    assert (out.quantity, out.condition) == (1, "good")
    assert verify(shop).ok


def test_the_last_one_is_taken_out_under_its_own_code(visitor, shop):
    page = visitor.send(f"/places/{BIN_B}/take-out", open_at=f"/places/{BIN_B}", lot=MYSTERY)
    assert "not put away now" in page.text
    assert (shop.stock().lots[MYSTERY].quantity, shop.stock().lots[MYSTERY].place) == (1, "")


def test_what_was_moved_in_the_meantime_is_not_taken_from_elsewhere(visitor, shop):
    visitor.send(f"/lots/{MYSTERY}/move", place=BIN_A)
    answer = visitor.send(f"/places/{BIN_B}/take-out", open_at=f"/places/{BIN_B}", lot=MYSTERY)
    assert answer.status == 409
    assert "not in Bin B any more" in answer.text
    assert shop.stock().lots[MYSTERY].place == BIN_A


def test_what_is_not_there_is_not_taken_out(visitor):
    assert visitor.send(f"/places/{BIN_B}/take-out", open_at=f"/places/{BIN_B}", lot="nonsense").status == 409


def test_every_act_is_within_two_taps(visitor):
    page = visitor.open(f"/places/{BIN_B}")
    assert f"/shelf/?place={BIN_B}" in page.links
    for code in (BOOTS, CLIPS, FAST, MYSTERY):
        for act in ("move", "count", "more"):
            assert f"/lots/{code}/{act}" in page.links
        assert f'name="lot" value="{code}"' in page.body


def test_a_place_without_parts_says_so_and_leads_inside(visitor):
    page = visitor.open(f"/places/{SHELF}")
    assert "No loose parts in it" in page.text
    assert f"/places/{BIN_A}" in page.links
    assert "take-out" not in page.body
