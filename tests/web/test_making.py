"""The forms for a model like that one and for a design from a part in the hand."""

from stash.web import create_app
from tests.services.workshop import MYSTERY
from tests.web.conftest import Visitor


def test_a_model_like_that_one_is_a_name_away(visitor, shop):
    page = visitor.send("/models/late/like", name="Late sport")
    assert page.status == 200
    assert "Ruddlow Late sport added" in page.text
    assert shop.catalogue().model["late-sport"].generation == "a2"
    again = visitor.send("/models/late/like", key="late-sport", name="Late sport")
    assert again.status == 400
    assert "is taken" in again.problem("key").lower()
    assert visitor.open("/models/none/like").status == 404


def test_a_part_in_the_hand_becomes_a_design(visitor, shop):
    address = f"/lots/{MYSTERY}/design"
    wrong = visitor.send(address, name="wide one", number="99", m__spigot_mm="wide")
    assert wrong.status == 400
    assert wrong.problem("maker")
    wrong = visitor.send(address, name="wide one", number="99", maker="fen", m__spigot_mm="wide")
    assert wrong.status == 400
    assert wrong.problem("m-spigot_mm")
    page = visitor.send(address, name="wide one", number="99", maker="fen", m__spigot_mm="21.5")
    assert page.status == 200
    assert "wide one is a design now" in page.text
    assert "21.5" in page.text
    assert shop.stock().lots[MYSTERY].design == "wide-one"


def test_from_a_bare_shelf_to_a_gap_without_seeing_a_table(empty):
    visitor = Visitor(create_app(empty, secret_key="for tests only").test_client())
    assert {"/sheets/shelf/", "/sheets/", "/first-model"} <= set(visitor.open("/").links)
    page = visitor.send("/begin/starter", open_at="/")
    assert "First steps" in page.text
    wrong = visitor.send("/first-model", model="Orvell 50", kind="carburettor")
    assert wrong.status == 400
    assert wrong.problem("maker")
    assert 'value="carburettor" checked' in wrong.body
    page = visitor.send("/first-model", maker="Orvell", family="engine C", model="Orvell 50", kind="carburettor")
    assert "carburettor" in page.text
    machine = visitor.send("/machines/add?model=orvell-50", model="orvell-50", state="project")
    assert machine.status == 200
    [code] = empty.stock().machines
    visitor.send(f"/machines/{code}/note?position=carburettor", state="missing")
    assert "Orvell 50" in visitor.open("/gaps/").text
    assert "First steps" not in visitor.open("/").text
