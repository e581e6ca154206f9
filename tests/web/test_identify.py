"""What is this? Over all kinds by first looks, by a number, and again over every lot nobody has identified."""

import re

import pytest

from stash.services.demo import load_demo
from stash.web import create_app
from tests.services.workshop import BIN_A, MYSTERY
from tests.web.conftest import Visitor


@pytest.fixture
def demo(empty):
    load_demo(empty, who="Ann")
    return Visitor(create_app(empty, secret_key="for tests only").test_client())


def test_first_looks_rank_the_kinds_and_go_on_with_the_answers(visitor):
    page = visitor.open("/identify/?m-rotation=90&m-spigot_mm=")
    assert page.status == 200
    assert "It could be a" in page.text
    assert "agrees: rotation" in page.text
    onward = next(link for link in page.links if "kind=carb" in link and "m-rotation=90" in link)
    assert "Which carburettor is this?" in visitor.open(onward.replace("&amp;", "&")).text


def test_an_answer_no_kind_can_have_is_told(visitor):
    page = visitor.open("/identify/?m-rotation=sideways")
    assert page.status == 400
    assert "sideways" in page.text


def test_answers_a_kind_is_not_asked_are_left_behind(visitor):
    page = visitor.open("/identify/?kind=boot&m-rotation=90&m-spigot_mm=20")
    assert page.status == 200
    assert "turned boot" in page.text


def test_none_of_these_keeps_the_measures_with_an_unidentified_lot(visitor, shop):
    page = visitor.open("/identify/?kind=carb&m-spigot_mm=29")
    onward = next(link for link in page.links if link.startswith("/lots/add") and "design=" not in link)
    filled = visitor.open(onward.replace("&amp;", "&"))
    assert filled.fields()["m-spigot_mm"] == "29"
    done = visitor.send(onward.replace("&amp;", "&"), place=BIN_A)
    assert "carburettor, not identified" in done.text
    made = [lot for lot in shop.stock().lots.values() if lot.values and not lot.design]
    assert [(lot.kind, lot.place, str(lot.values["spigot_mm"])) for lot in made] == [("carb", BIN_A, "29")]


def test_a_lot_keeps_what_was_measured_on_it_or_becomes_a_design(visitor):
    links = visitor.open(f"/identify/?kind=carb&lot={MYSTERY}&m-spigot_mm=29").links
    kept = next(link for link in links if link.startswith(f"/lots/{MYSTERY}/edit") and "design=" not in link)
    assert visitor.open(kept.replace("&amp;", "&")).fields()["m-spigot_mm"] == "29"
    made = next(link for link in links if link.startswith(f"/lots/{MYSTERY}/design"))
    assert visitor.open(made.replace("&amp;", "&")).fields()["m-spigot_mm"] == "29"


def test_the_list_of_unidentified_lots_is_weighed_anew_when_the_catalogue_grows(visitor):
    assert "Nothing is measured or seen on it yet" in visitor.open("/identify/again").text
    visitor.send(f"/lots/{MYSTERY}/edit", **{"m-spigot_mm": "29"})
    before = visitor.open("/identify/again").text
    assert "long carburettor" not in before
    visitor.send("/catalogue/designs/add", key="carb-29", kind="carb", name="long carburettor")
    visitor.send("/catalogue/design_measures/add", design="carb-29", measure="spigot_mm", value="29")
    after = visitor.open("/identify/again").text
    assert "long carburettor" in after


def test_a_standard_number_leads_from_what_is_this_into_a_bin(demo):
    page = demo.open("/identify/?number=6203-2RS/C3")
    assert "6203-2RS/C3: main bearing by ISO 15:2017" in page.text
    assert "clearance class normal, not C3" in page.text
    page = demo.open("/identify/?number=62032RS")
    onward = next(link for link in page.links if "design=bearing-6203-2rs" in link)
    assert demo.open(onward.replace("&amp;", "&")).fields()["design"] == "bearing-6203-2rs"
    assert "no standard designation" in demo.open("/identify/?number=nothing").text


def test_a_standard_number_typed_on_the_way_to_the_shelf_fills_the_sizes(demo):
    page = demo.open("/lots/add?number_seen=6203+C3")
    assert page.fields()["design"] == "bearing-6203-c3"
    page = demo.open("/lots/add?number_seen=6202-2RS/C3")
    fields = page.fields()
    assert (fields["design"], fields["m-od_mm"], fields["m-seals"], fields["m-clearance"]) == (
        "",
        "35",
        "both sides",
        "C3",
    )


def test_a_lot_stamped_with_a_standard_number_is_named_by_it(demo, empty):
    page = demo.send("/lots/add?kind=main_bearing", number_seen="6203 C3")
    code = re.search(r'href="/lots/(\w+)/edit"', page.body)[1]
    again = demo.open("/identify/again")
    assert "By its number: ball bearing 6203/C3" in again.text
    assert f"/lots/{code}/edit?design=bearing-6203-c3" in again.links
    assert "bolts on" in page.text


def test_a_drawing_shows_where_to_measure_in_questions_and_in_a_lots_measures(demo):
    page = demo.open("/identify/?kind=piston")
    assert page.body.count('class="drawing"') > 4
    assert "Inside jaws across the hole" in page.text
    assert 'class="drawing"' in demo.open("/lots/add?kind=piston").body
    assert "style=" not in page.body


def test_a_lot_says_what_it_is_easily_taken_for_and_what_tells_them_apart(demo, empty):
    code = next(lot.code for lot in empty.stock().lots.values() if lot.design == "bearing-6203-c3")
    page = demo.open(f"/lots/{code}")
    assert "Easily taken for" in page.text
    assert "ball bearing 6203 (only the clearance class tells)" in page.text
