"""The forms for a model like that one and for a design from a part in the hand."""

from tests.services.workshop import MYSTERY


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
