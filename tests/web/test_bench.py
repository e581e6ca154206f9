"""Working on parts and machines from the screens, and taking it back."""

import io
import re

import pytest

from stash.services.history import history
from tests.services.workshop import (
    BIN_A,
    BIN_B,
    BOOTS,
    CARB_TURNED,
    CARBS,
    CLIPS,
    DONOR,
    FAST,
    MYSTERY,
    PROJECT,
    RUNNER,
    SHELF,
)


def lots(shop):
    return shop.stock().lots


def test_a_lot_is_moved_whole_and_in_part(visitor, shop):
    page = visitor.send(f"/lots/{CARBS}/move", place=BIN_B)
    assert "now in Bin B" in page.text
    assert lots(shop)[CARBS].place == BIN_B
    page = visitor.send(f"/lots/{CARBS}/move", place=BIN_A, quantity="1")
    assert lots(shop)[CARBS].quantity == 2
    assert sum(lot.quantity for lot in lots(shop).values() if lot.design == "carb-0") == 3


def test_more_than_there_are_is_refused_and_kept(visitor, shop):
    page = visitor.send(f"/lots/{CARBS}/move", place=BIN_B, quantity="9")
    assert page.status == 409
    assert "There are only 3, not 9" in page.text
    assert page.fields()["quantity"] == "9"
    assert page.fields()["place"] == BIN_B
    assert lots(shop)[CARBS].place == BIN_A


@pytest.mark.parametrize("typed", ["-1", "many", "1.5", ""])
def test_a_quantity_that_is_none_is_told_beside_its_field(visitor, typed):
    page = visitor.send(f"/lots/{CARBS}/split", quantity=typed)
    assert page.status == 400
    assert page.problem("quantity")
    assert page.fields()["quantity"] == typed


def test_a_move_from_a_stale_page_tells_what_happened(visitor, shop):
    fields = visitor.open(f"/lots/{CARBS}/move").fields()
    visitor.send(f"/lots/{CARBS}/let-go", quantity="1", how="sold")
    answer = visitor.client.post(f"/lots/{CARBS}/move", data={**fields, "place": BIN_B})
    assert answer.status_code == 409
    assert "changed in the meantime" in answer.get_data(as_text=True)
    assert lots(shop)[CARBS].place == BIN_A


def test_splitting_and_putting_together_again(visitor, shop):
    visitor.send(f"/lots/{CARBS}/split", quantity="1")
    other = next(code for code, lot in lots(shop).items() if lot.design == "carb-0" and code != CARBS)
    page = visitor.send(f"/lots/{CARBS}/merge", other=other)
    assert "now holds 3" in page.text
    assert lots(shop)[other].quantity == 0


def test_counting_down_to_nothing_asks_whether_one_looked(visitor, shop):
    page = visitor.send(f"/lots/{MYSTERY}/count", found="0")
    assert page.status == 409
    assert "I looked for them" in page.text
    assert lots(shop)[MYSTERY].quantity == 1
    visitor.send(f"/lots/{MYSTERY}/count", found="0", looked="yes")
    assert lots(shop)[MYSTERY].quantity == 0


def test_a_rough_count_is_shown_as_one(visitor, shop):
    visitor.send(f"/lots/{CLIPS}/count", found="40", about="yes")
    for address in (f"/lots/{CLIPS}", "/lots/", f"/places/{BIN_B}", "/designs/clip-10"):
        assert "about 40" in visitor.open(address).text, address
    visitor.send(f"/lots/{CLIPS}/count", found="41")
    assert "about" not in visitor.open("/lots/?kind=clip").text


def test_more_come_in_and_some_go(visitor, shop):
    visitor.send(f"/lots/{BOOTS}/more", quantity="4", how="found")
    visitor.send(f"/lots/{BOOTS}/let-go", quantity="1", how="given")
    assert lots(shop)[BOOTS].quantity == 5


@pytest.mark.parametrize(
    ("act", "typed", "left"),
    [
        ("more", {"quantity": "1", "how": "found"}, 4),
        ("split", {"quantity": "1"}, 2),
        ("let-go", {"quantity": "1", "how": "sold"}, 2),
    ],
)
def test_a_form_that_comes_twice_acts_once(visitor, shop, act, typed, left):
    address = f"/lots/{CARBS}/{act}"
    sent = {**visitor.open(address).fields(), **typed}
    answers = [visitor.client.post(address, data=sent).status_code for _ in range(2)]
    assert answers == [303, 409]
    assert shop.stock().lots[CARBS].quantity == left


def test_a_promised_lot_is_let_go_only_on_purpose(visitor, shop):
    page = visitor.send(f"/lots/{CARB_TURNED}/let-go", quantity="1", how="sold")
    assert page.status == 409
    assert "promised to Winter build" in page.text
    page = visitor.send(f"/lots/{CARB_TURNED}/let-go", quantity="1", how="sold", anyway="yes")
    assert page.status == 200
    assert lots(shop)[CARB_TURNED].quantity == 0


def test_fitting_a_part_closes_its_gap(visitor, shop):
    page = visitor.open(f"/lots/{CARB_TURNED}")
    assert "Fills a gap" in page.text
    assert f"/machines/{PROJECT}/fit?position=carburettor&amp;lot={CARB_TURNED}" in page.body
    page = visitor.send(f"/machines/{PROJECT}/fit?position=carburettor&lot={CARB_TURNED}")
    assert "fitted at the carburettor" in page.text
    assert shop.stock().machines[PROJECT].fitted["carburettor"].design == "carb-90"
    assert "No gap that is noted wants this" in visitor.open(f"/lots/{CARBS}").text


def test_what_was_there_goes_where_one_says(visitor, shop):
    page = visitor.send(
        f"/machines/{RUNNER}/fit?position=carburettor&lot={CARBS}", old_place=BIN_B, old_condition="good"
    )
    assert "What was there is now" in page.text
    old = next(lot for lot in lots(shop).values() if lot.from_machine == RUNNER)
    assert (old.place, old.condition, old.from_position) == (BIN_B, "good", "carburettor")
    page = visitor.open(f"/machines/{RUNNER}")
    assert f"/lots/{old.code}" in page.body
    visitor.send(f"/machines/{RUNNER}/put-back", place=BIN_A)
    assert lots(shop)[old.code].quantity == 0


def test_a_dangerous_part_is_blocked_until_one_has_read_why(visitor, shop):
    page = visitor.open(f"/machines/{RUNNER}/fit?position=module&lot={FAST}")
    assert "Check that the switch stops it." in page.text
    assert "take it on myself" not in page.text
    page = visitor.send(f"/machines/{RUNNER}/fit?position=module", lot=FAST)
    assert page.status == 409
    assert "above the machine" in page.text
    assert "take it on myself" in page.text
    assert page.fields()["lot"] == FAST
    page = visitor.send(f"/machines/{RUNNER}/fit?position=module", lot=FAST, acknowledged="yes")
    assert page.status == 200
    assert "stop" in page.text


def test_a_part_comes_off_is_noted_and_exchanged(visitor, shop):
    visitor.send(f"/machines/{RUNNER}/take-off?position=boot", place=BIN_A, condition="needs_work")
    assert shop.stock().machines[RUNNER].fitted["boot"].state == "missing"
    visitor.send(f"/machines/{RUNNER}/note?position=boot", state="present", design="boot-90", condition="good")
    assert shop.stock().machines[RUNNER].fitted["boot"].design == "boot-90"
    page = visitor.send(f"/machines/{RUNNER}/exchange?position=boot", other=f"{DONOR} boot")
    assert "have exchanged their boot" in page.text
    assert shop.stock().machines[DONOR].fitted["boot"].design == "boot-90"


def test_a_donor_is_stripped_of_what_is_ticked(visitor, shop):
    page = visitor.open(f"/machines/{DONOR}/strip")
    ticks = dict(re.findall(r'name="(off-\d)" value="yes"><span>(.*?)</span>', page.body))
    typed = {name.replace("-", "__"): "yes" for name, position in ticks.items() if position in {"boot", "clip"}}
    page = visitor.send(f"/machines/{DONOR}/strip", place=BIN_B, **typed)
    assert "2 parts off" in page.text
    assert {lot.from_position for lot in lots(shop).values() if lot.from_machine == DONOR} == {"boot", "clip"}
    page = visitor.send(f"/machines/{DONOR}/strip", place=BIN_B)
    assert page.status == 400
    assert "Choose what comes off" in page.text
    page = visitor.send(f"/machines/{DONOR}/strip", place=BIN_B, everything="yes")
    assert f"{len(ticks) - 2} parts off" in page.text


def test_an_act_is_taken_back_and_that_too(visitor, shop):
    visitor.send(f"/lots/{CARBS}/move", place=BIN_B)
    last = history(shop, limit=1)[0].batch
    page = visitor.send(f"/ledger/{last}/undo", open_at="/ledger/")
    assert "Undone: moved" in page.text
    assert lots(shop)[CARBS].place == BIN_A
    page = visitor.send(f"/ledger/{last}/undo", open_at="/ledger/")
    assert page.status == 409
    assert "was undone already" in page.text


def test_the_ledger_shows_one_thing_or_one_day(visitor):
    visitor.send(f"/lots/{CARBS}/move", place=BIN_B)
    page = visitor.open(f"/ledger/?lot={CARBS}")
    assert "straight carburettor" in page.text
    assert "moved" in page.text
    assert "moved" not in visitor.open(f"/ledger/?lot={CLIPS}").text
    assert "Nothing has happened here yet" in visitor.open("/ledger/?day=1999-01-01").text
    assert visitor.open("/ledger/?day=nonsense&limit=x").status == 200


def test_scanned_lots_are_put_into_a_bin(visitor, shop):
    page = visitor.send(f"/places/{SHELF}/put-in", codes=f"HTTP://X/Q/{CARBS} {BOOTS.lower()}")
    assert "2 now in Shelf" in page.text
    assert {lots(shop)[code].place for code in (CARBS, BOOTS)} == {SHELF}
    page = visitor.send(f"/places/{BIN_A}/put-in", codes=f"{CARBS} RUBBISH")
    assert lots(shop)[CARBS].place == SHELF
    assert page.status == 400
    assert "RUBBISH" in page.text


def test_lots_are_listed_by_what_one_asks_for(visitor):
    assert "turned carburettor" not in visitor.open("/lots/?kind=boot").text
    assert "carburettor, not identified" in visitor.open("/lots/?unidentified=yes").text
    assert "6 lots" in visitor.open(f"/lots/?place={SHELF}").text
    assert "2 lots" in visitor.open(f"/lots/?place={BIN_A}").text
    assert "1 lot" in visitor.open("/lots/?q=fn-11.120-a&condition=good").text


def test_a_part_is_decided_for_a_build_and_released(visitor, shop):
    page = visitor.send("/builds/winter/decide?position=clip", lot=CLIPS)
    assert "Decided for the clip" in page.text
    assert any(part.lot == CLIPS for part in shop.stock().builds["winter"].parts)
    release = next(link for link in page.links if "/release?" in link and CLIPS in link)
    page = visitor.send(release)
    assert not any(part.lot == CLIPS for part in shop.stock().builds["winter"].parts)
    assert "Released: the part is free again" in page.text


def test_identifying_asks_then_tells_then_writes_it_down(visitor, shop):
    page = visitor.open(f"/identify/lot/{MYSTERY}")
    assert "It may be" in page.text
    page = visitor.open(f"/identify/?kind=carb&lot={MYSTERY}&m-rotation=90")
    first = page.text.index("turned carburettor")
    assert first < page.text.index("straight carburettor")
    link = next(link for link in page.links if link.startswith(f"/lots/{MYSTERY}/edit"))
    assert visitor.open(link).fields()["design"] == "carb-90"
    page = visitor.open("/identify/?kind=carb&m-spigot_mm=wide")
    assert page.status == 400
    assert page.fields()["m-spigot_mm"] == "wide"


def test_a_photo_that_is_none_is_told(visitor):
    fields = visitor.open("/identify/photo").fields()
    answer = visitor.client.post("/identify/photo", data={**fields, "file": (io.BytesIO(b"no picture"), "x.jpg")})
    assert answer.status_code == 400


def test_the_words_of_a_mechanic_with_the_beaten_claim_folded_away(visitor):
    page = visitor.open("/designs/carb-90")
    assert "fits with companions" in page.text
    assert "Change too:" in page.text
    assert "turned boot at the boot: in hand" in page.text
    assert "maker's literature" in page.text


def test_what_was_found_by_trying_settles_the_verdict(visitor):
    address = f"/machines/{RUNNER}/found?ref=carb-90&position=carburettor"
    page = visitor.send(address, verdict="", reason="the bowl meets the frame")
    assert page.status == 400
    assert page.fields()["reason"] == "the bowl meets the frame"
    page = visitor.send(address, verdict="wont_fit", reason="the bowl meets the frame")
    assert "Noted as rule" in page.text
    page = visitor.open("/designs/carb-90")
    assert "fitted it on the bench, owner" in page.text
    assert "The bowl meets the frame." in page.text


def test_the_list_for_the_insurer_adds_up(visitor, shop):
    for code, paid in ((RUNNER, "120.50"), (PROJECT, "80")):
        visitor.send(f"/machines/{code}/edit", paid=paid, serial=f"No {code}")
    page = visitor.open("/machines/papers")
    assert "paid in all 200.50" in page.text
    assert f"No {RUNNER}" in page.text


def test_a_place_that_is_not_there_loses_nothing(visitor, shop, monkeypatch):
    monkeypatch.setattr("stash.web.choosing.MOST_CHOICES", 1)
    page = visitor.send(f"/lots/{CARBS}/move", place=CLIPS, quantity="2")
    assert page.status == 400
    assert "No place has the code" in page.text
    assert page.fields()["place"] == CLIPS
    assert page.fields()["quantity"] == "2"


def test_with_many_models_a_page_says_the_verdicts_and_leads_to_the_reasons(visitor, monkeypatch):
    monkeypatch.setattr("stash.web.fit_groups.MOST_EXPLAINED", 0)
    lot = visitor.open(f"/lots/{CARB_TURNED}").body
    why = f"/charts/why?model=early&amp;lot={CARB_TURNED}"
    assert why in lot
    assert "fits with companions" in visitor.open(why.replace("&amp;", "&")).text
    assert f"/lots/{CARB_TURNED}/machines" in lot
    assert "Fit it" in visitor.open(f"/lots/{CARB_TURNED}/machines").text
    assert "/charts/why?model=early&amp;design=carb-90" in visitor.open("/designs/carb-90").body
    assert "I tried it" in visitor.open("/designs/carb-90/machines").text
    assert "Do not run it there" in visitor.open("/designs/module-85").text
