"""Screens say what people call a thing, not the key the tables keep."""

import pytest

from stash.services.tables import save_row
from tests.services.workshop import CARBS


@pytest.mark.parametrize(
    ("address", "heading"),
    [
        ("/catalogue/numbers/edit?number=R+90&maker=rud", "R 90 (Ruddlow)"),
        ("/catalogue/numbers/remove?number=R+90&maker=rud", "Remove part number R 90 (Ruddlow)?"),
        (
            f"/builds/winter/release?position=carburettor&design=&lot={CARBS}",
            "Release decided part Winter build, carburettor?",
        ),
    ],
)
def test_a_heading_names_what_it_is_about(visitor, shop, address, heading):
    save_row(shop, "numbers", {"number": "R 90", "maker": "rud", "design": "carb-90"}, None, None, "Ann")
    save_row(shop, "build_parts", {"build": "winter", "position": "carburettor", "lot": CARBS}, None, None, "Ann")
    assert f"<h1>{heading}</h1>" in visitor.open(address).body


def test_the_ledger_names_the_rows_it_speaks_of(visitor, shop):
    save_row(
        shop, "measures", {"kind": "carb", "key": "throat_mm", "name": "throat", "type": "number"}, None, None, "A"
    )
    assert "measure throat (carburettor)" in visitor.open("/ledger/").text


def test_what_the_catalogue_lacks_is_told_by_name_and_leads_to_it(visitor, shop):
    for key, model in (("one", "late"), ("two", "early")):
        save_row(shop, "designs", {"key": key, "kind": "carb", "name": f"carburettor {key}"}, None, None, "Ann")
        save_row(shop, "came_on", {"design": key, "position": "carburettor", "model": model}, None, None, "Ann")
    page = visitor.open("/catalogue/health")
    assert "rule:" not in page.text
    assert 'href="/designs/one">carburettor one</a>' in page.body
    assert "tell of the carburettor that differs" in page.text


def test_what_was_released_leads_back_to_its_build(visitor, shop):
    save_row(shop, "build_parts", {"build": "winter", "position": "carburettor", "lot": CARBS}, None, None, "Ann")
    address = f"/builds/winter/release?position=carburettor&design=&lot={CARBS}"
    assert address.replace("&", "&amp;") in visitor.open("/builds/winter").body
    assert "<h1>Winter build</h1>" in visitor.send(address, open_at=address).body
    assert CARBS not in {part.lot for part in shop.stock().builds["winter"].parts}


def test_a_key_left_empty_is_made_of_the_name(visitor, shop):
    for _ in range(2):
        assert visitor.send("/catalogue/makers/add", open_at="/catalogue/makers/add", name="Ostley Works").status == 200
    assert {"ostley-works", "ostley-works-2"} <= shop.catalogue().maker.keys()


def test_a_mate_and_a_rule_are_listed_as_the_sentence_they_say(visitor, shop):
    assert "The spigot of the carburettor less the bore of the intake boot is from 0.5 to 2 mm" in (
        visitor.open("/catalogue/mates/").text
    )
