"""A person counts bins: blind or shown, compares, puts right what is misfiled, and draws a sample."""

import datetime as dt

from stash.services import counting, lots
from stash.services.counting import Found
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, BOOTS, CARB_TURNED, CARBS, RUNNER, SHELF, first_coded

COUNT = f"/places/{BIN_A}/count"


def typed(**counts):
    return {f"n-{code}": text for code, text in counts.items()}


def test_a_bin_that_is_as_expected_is_entered_at_once(visitor, shop):
    page = visitor.open(COUNT)
    assert page.fields()[f"n-{CARBS}"] == ""
    assert "expected 3" not in page.text
    assert "expected 3" in visitor.open(f"{COUNT}?open=yes").text
    page = visitor.send(COUNT, **typed(**{CARBS: "3", CARB_TURNED: "1"}))
    assert "2 lots, all as expected" in page.text
    assert shop.stock().places[BIN_A].counted_on


def test_what_differs_is_compared_before_it_is_entered(visitor, shop):
    counts = typed(**{CARBS: "about 2", CARB_TURNED: "0"})
    page = visitor.send(COUNT, do="check", **counts)
    assert "1 fewer than expected" in page.text
    assert "I looked for it" in page.text
    assert page.fields()[f"n-{CARBS}"] == "2"
    assert shop.stock().lots[CARBS].quantity == 3
    page = visitor.send(COUNT, do="enter", **counts)
    assert page.status == 409
    assert "down to nothing" in page.text
    assert shop.stock().lots[CARBS].quantity == 3
    page = visitor.send(COUNT, do="enter", **counts, **{f"l-{CARB_TURNED}": "yes"})
    assert "2 not as expected" in page.text
    assert shop.stock().lots[CARBS].quantity == 2
    assert shop.stock().lots[CARBS].about
    assert verify(shop).ok


def test_a_bad_count_is_marked_and_the_others_stay(visitor):
    page = visitor.send(COUNT, **typed(**{CARBS: "three", CARB_TURNED: "1"}))
    assert page.status == 400
    assert "mend the marked counts" in page.text
    assert page.fields()[f"n-{CARBS}"] == "three"
    assert page.fields()[f"n-{CARB_TURNED}"] == "1"


def test_what_was_not_counted_keeps_the_bin_waiting(visitor, shop):
    assert "Not counted yet" in visitor.send(COUNT, do="check", **typed(**{CARBS: "3"})).text
    assert "1 not counted yet" in visitor.send(COUNT, do="enter", **typed(**{CARBS: "3"})).text
    assert shop.stock().places[BIN_A].counted_on == ""


def test_a_count_against_a_change_in_the_meantime_is_told_it(visitor, shop):
    fields = visitor.open(COUNT).fields()
    lots.let_go(shop, CARBS, 1, "sold", who="Bob")
    answer = visitor.client.post(
        COUNT, data={**fields, f"n-{CARBS}": "3", f"n-{CARB_TURNED}": "1", "do": "enter"}
    ).get_data(as_text=True)
    assert "Bob" in answer
    assert shop.stock().lots[CARBS].quantity == 2


def test_a_misfiled_part_found_by_scan_goes_home_in_one_tap(visitor, shop):
    page = visitor.send(COUNT, stray=f"HTTP://X/Q/{BOOTS}", **typed(**{CARBS: "3"}))
    assert "belongs in Shelf \u203a Bin B" in page.text
    assert page.fields()["strays"] == BOOTS
    page = visitor.send(COUNT, do=f"home:{BOOTS}", strays=BOOTS, **typed(**{CARBS: "3"}))
    assert "goes back to Bin B" in page.text
    assert page.fields()[f"n-{CARBS}"] == "3"
    assert page.fields()["strays"] == ""
    assert shop.stock().lots[BOOTS].place == BIN_B
    visitor.send(COUNT, do=f"stays:{BOOTS}", strays=BOOTS)
    assert shop.stock().lots[BOOTS].place == BIN_A


def test_whatever_is_scanned_while_counting_is_told(visitor, shop):
    free = first_coded("FREE")
    page = visitor.send(COUNT, stray=f"{CARBS}, {RUNNER} {free}")
    assert "is on the list above" in page.text
    assert "a machine, no loose part" in page.text
    assert "Nobody has this code yet" in page.text
    counting.count(shop, BOOTS, Found(0, looked=True), who="Ann", on=dt.date(1980, 1, 1))
    page = visitor.send(COUNT, stray=BOOTS)
    assert "nothing was left of it, it was last in Shelf \u203a Bin B" in page.text
    page = visitor.send(COUNT, do=f"stays:{BOOTS}", strays=BOOTS, **{f"s-{BOOTS}": "two"})
    assert page.status == 400
    visitor.send(COUNT, do=f"stays:{BOOTS}", strays=BOOTS, **{f"s-{BOOTS}": "2"})
    assert (shop.stock().lots[BOOTS].place, shop.stock().lots[BOOTS].quantity) == (BIN_A, 2)
    assert visitor.send(COUNT, do=f"home:{CARBS}").status == 400


def test_an_empty_bin_can_be_looked_into_too(visitor, shop):
    page = visitor.send(f"/places/{SHELF}/count", stray=CARBS)
    assert "Nothing is noted in it" in page.text
    visitor.send(f"/places/{SHELF}/count", do=f"stays:{CARBS}", strays=CARBS)
    assert shop.stock().lots[CARBS].place == SHELF


def test_a_sample_is_drawn_counted_and_put_away(visitor):
    page = visitor.open("/count/?share=5&sure=90")
    assert "Count 2 of 2 bins" in page.text
    page = visitor.send("/count/draw", open_at="/count/?share=5&sure=90")
    assert "0 of 2 bins counted" in page.text
    visitor.send(COUNT, **typed(**{CARBS: "3", CARB_TURNED: "1"}))
    assert "1 of 2 bins counted" in visitor.open("/count/").text
    page = visitor.send("/count/end", open_at="/count/")
    assert "Draw a sample" in page.text
