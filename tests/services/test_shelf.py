import threading

import pytest

from stash.errors import Conflict, InvalidInput
from stash.services import archive, history, lots, shelf, shelf_offers
from stash.services.shelf_offers import Hint
from stash.services.verify import verify
from tests.services.test_archive import NOW
from tests.services.workshop import BIN_A, BIN_B, CARB_TURNED, DONOR, MYSTERY, PROJECT, SHELF

SITTING = "evening-1"
CARB = {"kind": "carb", "design": "carb-90", "quantity": "2", "condition": "good", "place": BIN_B}


def book(store, token="token-0001", **cells):
    return shelf.book(store, SITTING, token, {**CARB, **cells}, {"spigot_mm": "20.02"}, who="Ann")


def held(store, place=BIN_B):
    return sorted(lot.code for lot in store.stock().lots.values() if lot.place == place and lot.quantity)


def good_for(store, done):
    return shelf.outcome(store, store.stock().lots[done.lot])


def test_a_part_is_booked_with_all_that_was_said_of_it(workshop):
    done = book(workshop)
    lot = workshop.stock().lots[done.lot]
    assert (lot.kind, lot.design, lot.quantity, lot.condition, lot.place) == ("carb", "carb-90", 2, "good", BIN_B)
    assert "spigot_mm" in lot.values
    assert verify(workshop).ok


def test_a_form_that_arrives_twice_books_once(workshop):
    first, before = book(workshop), len(history.history(workshop))
    again = book(workshop)
    assert (again.lot, again.again, first.again) == (first.lot, True, False)
    assert len(history.history(workshop)) == before


def test_the_same_form_at_one_moment_from_many_sides_books_once(workshop):
    before = held(workshop)
    done, start = [], threading.Barrier(4)

    def press():
        start.wait()
        done.append(book(workshop).lot)

    presses = [threading.Thread(target=press) for _ in range(4)]
    for each in presses:
        each.start()
    for each in presses:
        each.join()
    assert len(done) == 4
    assert len(set(done)) == 1
    assert len(held(workshop)) == len(before) + 1


def test_a_token_does_not_swallow_another_part(workshop):
    book(workshop)
    with pytest.raises(Conflict, match="said something else"):
        book(workshop, design="carb-0")


def test_a_part_with_a_wrong_cell_is_not_booked_and_may_come_mended(workshop):
    before = held(workshop)
    with pytest.raises(InvalidInput) as caught:
        book(workshop, quantity="many")
    assert [problem.column for problem in caught.value.problems] == ["quantity"]
    assert held(workshop) == before
    assert not book(workshop).again


@pytest.mark.parametrize("token", ["", "short", "with a blank", "x" * 65])
def test_a_form_without_a_token_of_its_own_is_refused(workshop, token):
    with pytest.raises(InvalidInput):
        book(workshop, token)


def test_an_add_is_taken_back_in_one_go(workshop):
    before, done = held(workshop), book(workshop)
    shelf.take_back(workshop, SITTING, done.token, who="Ann")
    assert held(workshop) == before
    assert [each.taken_back for each in shelf.added(workshop, SITTING)] == [True]
    assert verify(workshop).ok


def test_what_was_taken_back_is_not_booked_by_a_retry(workshop):
    before, done = held(workshop), book(workshop)
    shelf.take_back(workshop, SITTING, done.token, who="Ann")
    shelf.take_back(workshop, SITTING, done.token, who="Ann")
    assert book(workshop).again
    assert held(workshop) == before


def test_what_was_taken_back_before_it_came_is_not_booked_when_it_comes(workshop):
    before = held(workshop)
    shelf.take_back(workshop, SITTING, "token-0001", who="Ann")
    assert book(workshop) == shelf.Booked("token-0001", "", again=True)
    assert held(workshop) == before
    assert shelf.added(workshop, SITTING) == ()


def test_an_undo_that_is_undone_brings_the_part_back_into_the_session(workshop):
    done = book(workshop)
    shelf.take_back(workshop, SITTING, done.token, who="Ann")
    history.undo(workshop, history.history(workshop)[0].batch, who="Ann")
    assert [each.taken_back for each in shelf.added(workshop, SITTING)] == [False]
    assert done.lot in held(workshop)


def test_a_part_that_was_handled_since_is_not_taken_back(workshop):
    done = book(workshop)
    lots.move(workshop, done.lot, BIN_A, who="Bea")
    with pytest.raises(Conflict, match="Bea"):
        shelf.take_back(workshop, SITTING, done.token, who="Ann")


def test_a_session_lists_its_own_parts_newest_first(workshop):
    one, two = book(workshop), book(workshop, "token-0002")
    shelf.book(workshop, "other-evening", "token-0003", CARB, who="Bea")
    assert [each.lot.code for each in shelf.added(workshop, SITTING)] == [two.lot, one.lot]
    assert shelf.latest(workshop, "Ann") == (SITTING, workshop.stock().lots[two.lot])
    assert shelf.latest(workshop, "Bea")[0] == "other-evening"
    assert shelf.latest(workshop, "Cid") is None
    assert shelf.added(workshop, "never-begun") == ()


def test_tokens_travel_with_an_archive(workshop, other_store, tmp_path):
    done = book(workshop)
    archive.archive(workshop, tmp_path / "all.zip", now=NOW)
    archive.restore(other_store, tmp_path / "all.zip")
    assert book(other_store) == shelf.Booked(done.token, done.lot, again=True)


def test_a_part_tells_at_once_which_gap_it_fills_and_where_it_goes(workshop):
    told = good_for(workshop, book(workshop))
    assert (told.verdict, told.models) == ("bolts_on", ("late",))
    assert (f"machine:{PROJECT}", "carburettor", "bolts_on") in {(x.gap, x.position, x.verdict) for x in told.fills}
    assert told.refused == ""


def test_a_worn_out_part_fills_no_gap_and_says_why(workshop):
    told = good_for(workshop, book(workshop, condition="scrap"))
    assert (told.fills, told.refused) == ((), "scrap")


def test_of_an_unidentified_part_nothing_is_promised(workshop):
    assert shelf.outcome(workshop, workshop.stock().lots[MYSTERY]).verdict == "unknown"


def offered(store, **said):
    return [each.design.key for each in shelf_offers.offers(store, Hint(**said)).offers]


def test_three_characters_of_a_number_offer_its_design_whatever_the_kind(workshop):
    assert offered(workshop, text="fn4") == ["module-55"]
    assert offered(workshop, kind="boot", text="r-11") == ["carb-90"]


def test_a_number_is_offered_although_its_zeros_are_read_as_letters(workshop):
    assert offered(workshop, text="771OO", kind="clip") == ["clip-10", "boot-0"]


def test_words_of_a_name_offer_its_design(workshop):
    assert offered(workshop, text="turned", kind="boot") == ["boot-90", "carb-90"]
    assert offered(workshop, text="nothing like it") == []


def test_what_is_measured_leaves_the_designs_that_agree(workshop):
    assert offered(workshop, kind="carb", answers={"rotation": "90"})[0] == "carb-90"
    assert offered(workshop, kind="carb", answers={"rotation": "0"})[0] == "carb-0"


def test_an_answer_that_can_not_be_is_told(workshop):
    found = shelf_offers.offers(workshop, Hint(kind="carb", answers={"rotation": "45"}))
    assert found.offers == ()
    assert "45" in found.problem.message


def test_what_the_machine_it_came_off_carried_is_offered_first(workshop):
    assert offered(workshop, kind="module", place=BIN_B) == ["module-85", "module-55"]
    assert offered(workshop, kind="module", place=BIN_B, from_machine=DONOR) == ["module-55", "module-85"]


def test_of_equally_likely_designs_the_one_there_are_more_of_comes_first(workshop):
    assert offered(workshop, kind="carb", place=BIN_A) == ["carb-0", "carb-90"]
    shelf.book(workshop, SITTING, "token-0009", {**CARB, "quantity": "9"}, who="Ann")
    assert offered(workshop, kind="carb", place=BIN_A) == ["carb-90", "carb-0"]


def test_what_was_added_a_moment_ago_is_offered_first(workshop):
    before = [workshop.stock().lots[CARB_TURNED]]
    assert offered(workshop, kind="carb", place=SHELF, before=before)[0] == "carb-90"


def test_without_a_kind_or_a_number_nothing_is_offered(workshop):
    assert offered(workshop) == []


def test_the_likeliest_kinds_are_those_of_the_session_then_of_the_bin(workshop):
    clip = next(lot for lot in workshop.stock().lots.values() if lot.kind == "clip")
    assert shelf_offers.likely_kinds(workshop, BIN_A, [clip], most=2) == ("clip", "carb")


def test_a_number_of_two_makers_names_no_design_until_the_kind_is_known(workshop):
    catalogue = workshop.catalogue()
    assert shelf_offers.design_of_number(catalogue, "", "77.100") == ""
    assert shelf_offers.design_of_number(catalogue, "clip", "77 100") == "clip-10"
