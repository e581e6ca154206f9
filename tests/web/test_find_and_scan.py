"""The one box and the address on a label lead straight to the thing."""

import pytest

from stash.kernel.codes import ALPHABET, code_from_payload
from tests.services.workshop import BIN_A, BOOTS, CARBS, RUNNER

FREE = next(code for last in ALPHABET if (code := code_from_payload("NEWC" + last)))


@pytest.mark.parametrize(
    "typed",
    [CARBS, CARBS.lower(), f"{CARBS[:3]} {CARBS[3:]}", f"{CARBS[:3]}-{CARBS[3:]}", f"HTTP://STASH.LOCAL/Q/{CARBS}"],
)
def test_a_code_in_any_dress_goes_straight_to_its_page(visitor, typed):
    page = visitor.client.get("/find", query_string={"q": typed})
    assert page.status_code == 303
    assert page.headers["Location"] == f"/lots/{CARBS}"


def test_the_letter_o_stands_for_nought(visitor):
    assert "0" in BOOTS
    page = visitor.client.get("/find", query_string={"q": BOOTS.replace("0", "O")})
    assert page.headers["Location"] == f"/lots/{BOOTS}"
    assert visitor.client.get("/q/" + BOOTS.replace("0", "o").lower()).headers["Location"] == f"/lots/{BOOTS}"


def test_a_part_number_goes_straight_to_its_design(visitor):
    assert visitor.client.get("/find?q=fn-11.120-a").headers["Location"] == "/designs/carb-0"


def test_a_number_two_makers_use_offers_both(visitor):
    page = visitor.open("/find?q=77.100")
    assert "One of these" in page.text
    assert "straight boot" in page.text
    assert "10 mm clip" in page.text


def test_words_list_what_they_find(visitor):
    page = visitor.open("/find?q=turned")
    assert "turned carburettor" in page.text
    assert 'value="turned"' in page.body


def test_nothing_found_says_what_the_box_takes(visitor):
    assert "The box takes a code off a label" in visitor.open("/find?q=zzz").text


@pytest.mark.parametrize("path", ["/q/{}", "/Q/{}"])
@pytest.mark.parametrize(("code", "page"), [(CARBS, "/lots/"), (BIN_A, "/places/"), (RUNNER, "/machines/")])
def test_a_scan_answers_in_any_case(visitor, path, code, page):
    for text in (code, code.lower()):
        answer = visitor.client.get(path.format(text))
        assert answer.status_code == 302
        assert answer.headers["Location"] == page + code


def test_a_blank_label_is_put_on_something(visitor):
    page = visitor.open(f"/q/{FREE}")
    assert page.status == 404
    assert "Nothing carries this code yet" in page.text
    page = visitor.send(f"/places/add?code={FREE}", name="Tin")
    assert page.status == 200
    assert visitor.client.get(f"/q/{FREE}").headers["Location"] == f"/places/{FREE}"


def test_a_misread_code_says_so(visitor):
    page = visitor.open(f"/q/{CARBS[:-1]}Z" if CARBS[-1] != "Z" else f"/q/{CARBS[:-1]}0")
    assert page.status == 404
    assert "is not a code" in page.text


def test_fields_are_offered_what_matches(visitor):
    rows = visitor.client.get("/find/rows/designs?q=turned boot").get_json()
    assert rows == [["boot-90", "turned boot (boot-90)"]]
    assert visitor.client.get("/find/rows/nothing?q=x").get_json() == []
