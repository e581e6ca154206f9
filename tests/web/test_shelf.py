"""A shelf session without scripts: plain forms, nothing lost, nothing booked twice."""

import re

import pytest

from stash.web import create_app
from tests.services.workshop import BIN_A, BIN_B, CARBS, DONOR
from tests.web.conftest import Visitor

SITTING = "evening-1"
AT = f"/shelf/{SITTING}?place={BIN_B}"
ADD = f"/shelf/{SITTING}/add"


def lots_of(store, place=BIN_B):
    return {lot.code: lot for lot in store.stock().lots.values() if lot.place == place and lot.quantity}


def add(visitor, *, at=AT, **typed):
    return visitor.send(ADD, open_at=at, **{"kind": "", **typed})


@pytest.fixture
def new(shop):
    """Tells the lots that came into a bin since the last look."""
    seen = set(lots_of(shop))

    def look(place=BIN_B):
        found = [lot for code, lot in lots_of(shop, place).items() if code not in seen]
        seen.update(lot.code for lot in found)
        return found

    return look


def test_the_bin_is_chosen_once(visitor):
    page = visitor.open(f"/shelf/?place={BIN_B}")
    assert "Into Bin B" in page.text
    assert page.fields()["place"] == BIN_B


def test_without_a_bin_parts_are_not_put_away_yet(visitor, shop):
    page = visitor.open("/shelf/?place=")
    assert "Not put away yet" in page.text
    add(visitor, at=f"/shelf/{SITTING}", kind="carb", pick="carb-0")
    assert [lot.design for lot in lots_of(shop, "").values()] == ["carb-0"]


def test_a_bin_that_is_not_there_is_told(visitor):
    assert visitor.open("/shelf/?place=nonsense").status == 404
    assert visitor.open(f"/shelf/{SITTING}?place={CARBS}").status == 404


def test_a_press_on_a_likely_design_adds_it_and_says_which_gap_it_fills(visitor, new):
    page = visitor.open(f"{AT}&kind=carb")
    assert 'value="carb-90"' in page.body
    said = add(visitor, kind="carb", pick="carb-90", condition="good", quantity="2")
    (lot,) = new()
    assert (lot.kind, lot.design, lot.quantity, lot.condition) == ("carb", "carb-90", 2, "good")
    assert "turned carburettor" in said.text
    assert "Fills carburettor of Ruddlow Late, 1972 bolts on" in said.text
    assert re.search(r'href="#v-bolts_on"', said.body)
    assert url_of_labels(said) == f"/labels/?codes={lot.code}"


def url_of_labels(page):
    return next(link for link in page.links if link.startswith("/labels/?codes="))


def test_three_characters_find_a_design_of_any_kind_and_the_press_takes_its_kind(visitor, new):
    page = add(visitor, kind="boot", q="r-1")
    assert page.status == 200
    assert 'value="carb-90"' in page.body
    assert page.fields()["q"] == "r-1"
    assert new() == []
    visitor.send(ADD, open_at=AT, kind="boot", q="r-1", pick="carb-90")
    (lot,) = new()
    assert (lot.kind, lot.design, lot.number_seen) == ("carb", "carb-90", "")


def test_a_whole_number_is_kept_as_read_off_the_part(visitor, new):
    add(visitor, kind="carb", q="r 11 120 1", pick="carb-90")
    assert new()[0].number_seen == "r 11 120 1"


def test_what_is_seen_on_it_narrows_the_choice_and_is_kept_with_it(visitor, new):
    page = add(visitor, kind="carb", m__rotation="90")
    first = re.search(r'<button name="pick" value="([^"]+)"', page.body)[1]
    assert first == "carb-90"
    add(visitor, kind="carb", m__rotation="90", pick="carb-90")
    assert new()[0].values["rotation"] == "90"


def test_a_part_nobody_knows_is_added_with_what_is_stamped_on_it(visitor, new):
    page = add(visitor, kind="boot", q="X-9", pick="?unknown")
    (lot,) = new()
    assert (lot.kind, lot.design, lot.number_seen) == ("boot", "", "X-9")
    assert f"/identify/lot/{lot.code}" in page.links


def test_a_number_kept_without_a_connection_is_looked_up_when_it_comes(visitor, new):
    add(visitor, kind="boot", q="FN 11.120 A", pick="?number")
    add(visitor, kind="boot", q="no such", pick="?number")
    known, unknown = sorted(new(), key=lambda lot: not lot.design)
    assert (known.kind, known.design) == ("carb", "carb-0")
    assert (unknown.kind, unknown.design, unknown.number_seen) == ("boot", "", "no such")


def test_the_last_choices_stick(visitor):
    page = add(visitor, kind="carb", pick="carb-0", condition="good", from_machine=DONOR, checked="looked")
    fields = page.fields()
    kept = {name: fields[name] for name in ("place", "condition", "from_machine", "checked", "quantity", "q")}
    assert kept == {
        "place": BIN_B,
        "condition": "good",
        "from_machine": DONOR,
        "checked": "looked",
        "quantity": "1",
        "q": "",
    }
    assert re.search(r'<input type="radio" name="kind" value="carb" checked>', page.body)


def test_a_kind_from_the_whole_list_outdoes_the_one_left_standing(visitor, new):
    add(visitor, kind="carb", other="module", pick="?unknown")
    assert new()[0].kind == "module"


def test_a_double_press_books_once(visitor, new):
    fields = {**visitor.open(AT).fields(), "kind": "carb", "pick": "carb-0"}
    for _ in range(2):
        assert visitor.client.post(ADD, data=fields, follow_redirects=True).status_code == 200
    assert len(new()) == 1


def test_a_page_gone_back_to_does_not_swallow_another_part(visitor, new):
    fields = {**visitor.open(AT).fields(), "kind": "carb", "pick": "carb-0"}
    visitor.client.post(ADD, data=fields)
    page = visitor.client.post(ADD, data={**fields, "pick": "carb-90"})
    assert page.status_code == 409
    text = page.get_data(as_text=True)
    assert "was sent before" in text
    fresh = re.search(r'name="token" value="([^"]+)"', text.split('id="shelf"')[1])[1]
    assert fresh != fields["token"]
    visitor.client.post(ADD, data={**fields, "pick": "carb-90", "token": fresh})
    assert sorted(lot.design for lot in new()) == ["carb-0", "carb-90"]


def test_a_wrong_quantity_loses_nothing_that_was_typed(visitor, new):
    page = add(visitor, kind="carb", quantity="many", q="FN-11", note="from the attic", pick="carb-0")
    assert page.status == 400
    assert page.problem("quantity")
    assert (page.fields()["q"], page.fields()["note"]) == ("FN-11", "from the attic")
    assert new() == []


def test_without_a_kind_nothing_is_added_and_it_is_said(visitor, new):
    page = add(visitor, q="X-9", pick="?unknown")
    assert page.status == 400
    assert "Choose a kind" in page.text
    assert page.fields()["q"] == "X-9"
    assert new() == []


def test_a_design_that_is_gone_is_told(visitor, new):
    assert add(visitor, kind="carb", pick="gone").status == 400
    assert new() == []


def test_a_measure_that_can_not_be_stands_beside_its_field(visitor, new):
    page = add(visitor, kind="carb", m__spigot_mm="wide", pick="carb-0")
    assert page.status == 400
    assert "wide" in page.body
    assert new() == []


def test_the_last_add_is_taken_back_with_one_press(visitor, new):
    page = add(visitor, kind="carb", pick="carb-0")
    code = new()[0].code
    page = visitor.send(f"/shelf/{SITTING}/take-back", open_at=AT, token=token_of_last(page))
    assert "taken back" in page.text.casefold()
    assert code not in lots_of(visitor.client.application.extensions["stash_store"])


def token_of_last(page):
    return re.search(r'data-token="([^"]+)"', page.body)[1]


def test_what_was_handled_since_is_not_taken_back_and_it_is_said(visitor, new):
    page = add(visitor, kind="carb", pick="carb-0")
    code = new()[0].code
    visitor.send(f"/lots/{code}/move", place=BIN_A)
    answer = visitor.send(f"/shelf/{SITTING}/take-back", open_at=AT, token=token_of_last(page))
    assert answer.status == 409
    assert "moved" in answer.text


def test_labels_of_the_session_are_printed_in_one_go(visitor, new):
    add(visitor, kind="carb", pick="carb-0")
    page = add(visitor, kind="carb", pick="carb-90")
    codes = {lot.code for lot in new()}
    assert "Print 2 labels" in page.text
    assert all(code in url_of_labels(page) for code in codes)
    assert visitor.open(url_of_labels(page).replace("+", "%20")).status == 200


def test_a_session_is_gone_on_with_after_the_page_was_closed(visitor, new):
    add(visitor, kind="carb", pick="carb-0", condition="good")
    page = visitor.open("/shelf/")
    onward = next(link for link in page.links if link.startswith(f"/shelf/{SITTING}"))
    again = visitor.open(onward.replace("&amp;", "&"))
    assert (again.fields()["place"], again.fields()["condition"]) == (BIN_B, "good")
    assert "straight carburettor" in again.text


def test_the_phone_gets_the_same_fragment_and_is_told_what_is_kept(visitor, new):
    fields = {**visitor.open(AT).fields(), "kind": "carb", "pick": "carb-90"}
    answer = visitor.client.post(ADD, data=fields, headers={"X-Shelf": "1"})
    assert (answer.status_code, answer.headers["X-Shelf"]) == (200, "kept")
    fragment = answer.get_data(as_text=True)
    assert "<html" not in fragment
    assert fragment.strip() in visitor.open(f"{AT}&kind=carb&condition=unknown").body
    answer = visitor.client.post(ADD, data={**fields, "quantity": "x", "token": "another-1"}, headers={"X-Shelf": "1"})
    assert (answer.status_code, answer.headers["X-Shelf"]) == (400, "refused")
    assert "quantity" in answer.get_data(as_text=True)
    token = {"csrf_token": fields["csrf_token"], "token": fields["token"]}
    answer = visitor.client.post(f"/shelf/{SITTING}/take-back", data=token, headers={"X-Shelf": "1"})
    assert (answer.status_code, answer.headers["X-Shelf"]) == (200, "kept")


def test_a_part_for_a_bin_that_is_not_there_any_more_is_refused_and_not_sent_for_ever(visitor):
    fields = {**visitor.open(AT).fields(), "kind": "carb", "pick": "carb-90", "place": CARBS}
    answer = visitor.client.post(ADD, data=fields, headers={"X-Shelf": "1"})
    assert (answer.status_code, answer.headers["X-Shelf"]) == (400, "refused")
    assert CARBS in answer.get_data(as_text=True)
    assert visitor.client.post(ADD, data=fields).status_code == 404


def test_an_answer_that_is_no_acknowledgement_is_not_marked_as_one(visitor):
    answer = visitor.client.post(ADD, data={"token": "another-1"}, headers={"X-Shelf": "1"})
    assert answer.status_code == 400
    assert "X-Shelf" not in answer.headers


def test_what_it_may_be_is_drawn_alone(visitor):
    page = visitor.open(f"/shelf/{SITTING}/which?kind=carb&place={BIN_B}")
    assert "<html" not in page.body
    assert 'value="carb-0"' in page.body
    assert "No number or name on record has zzz" in visitor.open(f"/shelf/{SITTING}/which?q=zzz").text
    assert "rotation" in visitor.open(f"/shelf/{SITTING}/which?kind=carb&m-rotation=45").text


def test_an_empty_stash_says_what_comes_first(empty):
    page = Visitor(create_app(empty, secret_key="for tests only").test_client()).open(f"/shelf/{SITTING}")
    assert "There is no kind of part yet" in page.text


def test_a_part_under_a_label_already_on_it_keeps_that_code(visitor, shop):
    from tests.services.workshop import first_coded

    code = first_coded("NEW1")
    add(visitor, kind="carb", pick="carb-0", code=code)
    assert code in lots_of(shop)
