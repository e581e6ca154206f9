"""Forms lose nothing, say what is wrong beside the field, and come from our own pages only."""

import re

import pytest

from stash.services import rows
from stash.web import create_app
from tests.services.workshop import BIN_A, BIN_B, CARBS, MYSTERY, PROJECT
from tests.web.conftest import Visitor

EVIL = "<script>alert('x')</script> & \"quotes\""


def test_a_form_without_its_seal_is_refused_and_shows_what_was_typed(visitor, shop):
    answer = visitor.client.post(f"/lots/{CARBS}/move", data={"place": BIN_B, "quantity": "2"})
    assert answer.status_code == 400
    body = answer.get_data(as_text=True)
    assert "not sent from here" in body
    assert BIN_B in body
    assert shop.stock().lots[CARBS].place == BIN_A


def test_a_seal_of_another_visit_is_refused(app, visitor, shop):
    other = Visitor(app.test_client()).open("/places/add").fields()["csrf_token"]
    answer = visitor.client.post("/places/add", data={"csrf_token": other, "name": "Tin"})
    assert answer.status_code == 400
    assert len(shop.stock().places) == 3


@pytest.mark.parametrize(
    "address",
    [
        "/lots/add",
        f"/lots/{CARBS}/edit",
        "/catalogue/makers/add",
        "/sheets/load",
        "/begin/demo",
        "/ledger/1/undo",
        "/labels/sheet",
        "/labels/address",
    ],
)
def test_every_form_needs_its_seal(visitor, address):
    assert visitor.client.post(address, data={}).status_code == 400


def test_a_bad_row_keeps_every_word_and_names_each_field(visitor, shop):
    page = visitor.send(
        "/catalogue/models/add",
        key="two words",
        name="Grand",
        maker="fen",
        generation="a1",
        bore_mm="38,2",
        rated_rpm="9" * 12,
        note="keep me",
    )
    assert page.status == 400
    fields = page.fields()
    assert fields["key"] == "two words"
    assert fields["bore_mm"] == "38,2"
    assert fields["note"] == "keep me"
    assert fields["maker"] == "fen"
    assert "without spaces" in page.problem("key")
    assert "point" in page.problem("bore_mm")
    assert "between" in page.problem("rated_rpm")
    assert page.body.count('aria-invalid="true"') == 3
    assert '<a href="#f-bore_mm">' in page.body
    assert len(shop.catalogue().models) == 2


def test_an_unknown_key_typed_into_a_choice_is_offered_again(visitor):
    page = visitor.send("/catalogue/models/add", key="x", name="X", maker="nobody", generation="a1")
    assert page.status == 400
    assert page.fields()["maker"] == "nobody"
    assert page.problem("maker")


def test_a_row_is_added_changed_renamed_and_removed(visitor, shop):
    page = visitor.send("/catalogue/makers/add", key="tan", name="Tansy")
    assert "Maker added" in page.text
    page = visitor.send("/catalogue/makers/edit?key=tan", name="Tansy & Sons", key="tansy")
    assert "Maker saved" in page.text
    assert "Tansy &amp; Sons" in page.body
    assert shop.catalogue().maker["tansy"].name == "Tansy & Sons"
    page = visitor.send("/catalogue/makers/remove?key=tansy")
    assert "Maker removed" in page.text
    assert "tansy" not in shop.catalogue().maker


def test_what_is_still_needed_is_not_removed(visitor, shop):
    page = visitor.send("/catalogue/makers/remove?key=fen")
    assert page.status == 409
    assert "still needed by" in page.text
    assert "fen" in shop.catalogue().maker


def test_a_stale_form_shows_what_changed_and_keeps_ones_own_words(visitor, shop):
    fields = visitor.open("/catalogue/makers/edit?key=fen").fields()
    rows.save_row(shop, "makers", {"name": "Fennaby Brothers"}, {"key": "fen"}, None, "Ann")
    page = visitor.client.post("/catalogue/makers/edit?key=fen", data={**fields, "note": "my own note"})
    body = page.get_data(as_text=True)
    assert page.status_code == 409
    assert "by Ann" in body
    assert "Fennaby Brothers" in body
    assert "my own note" in body
    assert shop.catalogue().maker["fen"].name == "Fennaby Brothers"
    again = dict(re.findall(r'name="(version|csrf_token)" value="([^"]*)"', body))
    page = visitor.client.post("/catalogue/makers/edit?key=fen", data={**fields, **again, "name": "Fennaby Bros"})
    assert page.status_code == 303


@pytest.mark.parametrize(
    "address",
    ["/", "/machines/", f"/machines/{PROJECT}", "/gaps/", "/catalogue/makers/", "/models/late", "/find?q=script"],
)
def test_markup_in_names_stays_text(visitor, shop, address):
    for table, key, column in (("makers", "rud", "name"), ("models", "late", "name"), ("designs", "carb-90", "name")):
        rows.save_row(shop, table, {column: EVIL}, {"key": key}, None, EVIL)
    page = visitor.open(address)
    assert page.status == 200
    assert "<script>alert" not in page.body
    assert "&lt;script&gt;alert" in page.body


def test_markup_typed_into_the_box_stays_text(visitor):
    page = visitor.client.get("/find", query_string={"q": EVIL})
    assert b"<script>alert" not in page.data


def test_a_lot_is_put_on_the_shelf_with_what_was_measured(visitor, shop):
    page = visitor.send(
        "/lots/add?kind=carb",
        design="carb-90",
        quantity="2",
        condition="good",
        place=BIN_B,
        m__spigot_mm="20.03",
        m__rotation="90",
        paid="12.50",
    )
    assert "Print its label" in page.text
    assert "20.03 mm" in page.text
    lot = next(row for row in shop.stock().lots.values() if row.quantity == 2 and row.design == "carb-90")
    assert lot.place == BIN_B
    assert str(lot.values["spigot_mm"]) == "20.03"
    assert lot.values["rotation"] == "90"


def test_a_bad_measure_is_told_beside_its_field(visitor, shop):
    page = visitor.send("/lots/add?kind=carb", quantity="1", m__spigot_mm="twenty", note="keep me")
    assert page.status == 400
    assert page.problem("m-spigot_mm")
    assert page.fields()["m-spigot_mm"] == "twenty"
    assert page.fields()["note"] == "keep me"
    assert len(shop.stock().lots) == 6


def test_a_stamped_number_says_kind_and_design(visitor):
    page = visitor.client.get("/lots/add", query_string={"number_seen": "r 11·120/1", "place": BIN_A})
    assert page.status_code == 303
    page = visitor.open(page.headers["Location"])
    assert page.fields()["design"] == "carb-90"
    assert page.fields()["place"] == BIN_A


def test_a_number_of_two_makers_is_asked_about(visitor):
    page = visitor.open("/lots/add?number_seen=77.100")
    assert "Two makers use 77.100" in page.text
    assert "It is this one" in page.text


def test_an_unknown_number_is_kept(visitor):
    page = visitor.open("/lots/add?number_seen=ZZ-99")
    assert "No number on record reads ZZ-99" in page.text
    assert page.fields()["number_seen"] == "ZZ-99"


def test_a_lot_is_described_and_a_measure_taken_back(visitor, shop):
    visitor.send(f"/lots/{MYSTERY}/edit", m__spigot_mm="19.9", design="carb-0")
    assert shop.stock().lots[MYSTERY].design == "carb-0"
    page = visitor.send(f"/lots/{MYSTERY}/edit", m__spigot_mm="", note="found under the bench")
    lot = shop.stock().lots[MYSTERY]
    assert page.status == 200
    assert not lot.values
    assert lot.note == "found under the bench"
    assert lot.quantity == 1


def test_places_and_machines_get_a_code_of_their_own(visitor, shop):
    page = visitor.send(f"/places/add?inside={BIN_A}", name="Tin")
    assert "Bin A" in page.text
    assert any(row.name == "Tin" and row.inside == BIN_A for row in shop.stock().places.values())
    page = visitor.send("/machines/add?model=early", year="1966", state="project")
    assert "Fennaby Early, 1966" in page.text
    assert len(shop.stock().machines) == 4


def test_a_place_inside_itself_is_refused(visitor):
    page = visitor.send(f"/places/{BIN_A}/edit", inside=BIN_A)
    assert page.status == 400
    assert page.problem("inside")


def test_nothing_leads_off_this_host_after_a_form(shop):
    visitor = Visitor(create_app(shop, secret_key="for tests only").test_client())
    for target in ("https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", "javascript:alert(1)"):
        page = visitor.send(f"/catalogue/makers/edit?key=fen&then={target}", follow=False)
        assert page.status == 303
        assert page.headers["Location"] == "/catalogue/makers/"
