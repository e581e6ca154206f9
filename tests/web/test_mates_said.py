"""A mate: its effect is shown first, then it is saved as shown, without scripts."""

from stash.services import page_rows


def first(shop):
    return page_rows.rows(shop, "mates").rows[0]


def test_a_mate_is_looked_at_and_then_saved(visitor, shop):
    key = first(shop).identity[0]
    address = f"/mates/change?key={key}"
    assert visitor.client.get(f"/catalogue/mates/edit?key={key}").headers["Location"] == address
    page = visitor.send(address, open_at=address, name="another name", note="measured twice")
    assert page.status == 200
    assert "This changes no verdict on any model" in page.text
    assert first(shop).cells["name"] != "another name"
    unseen = visitor.client.post(address, data={**page.fields(), "name": "a third", "do": "save", "seen": ""})
    assert unseen.status_code == 409
    saved = visitor.client.post(address, data={**page.fields(), "do": "save"})
    assert saved.status_code == 303
    assert first(shop).cells["name"] == "another name"


def test_taking_one_away_shows_what_that_changes(visitor, shop):
    key = first(shop).identity[0]
    address = f"/mates/withdraw?key={key}"
    page = visitor.open(address)
    assert "This changes" in page.text
    assert "verdict" in page.text
    assert visitor.client.post(address, data=page.fields()).status_code == 303
    assert key not in shop.catalogue().mate


def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(visitor, shop):
    page = visitor.send("/mates/say", open_at="/mates/say", name="boot on the stub", low="wide", kind_a="carb")
    assert page.status == 400
    assert page.problem("low")
    assert page.fields()["name"] == "boot on the stub"
    assert len(page_rows.rows(shop, "mates").rows) == len(shop.catalogue().mates)
