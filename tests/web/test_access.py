"""Who may do what where there are passwords."""

import pytest
from werkzeug.security import generate_password_hash

from stash.services.history import history
from stash.web import create_app
from tests.services.workshop import BIN_B, CARBS
from tests.web.conftest import Visitor

METHOD = "pbkdf2:sha256:1"
HASHES = {role: generate_password_hash(f"{role} password", METHOD) for role in ("owner", "helper", "guest")}


@pytest.fixture
def locked(shop):
    return create_app(shop, secret_key="for tests only", passwords=HASHES)


def signed_in(app, role: str, name: str = "") -> Visitor:
    visitor = Visitor(app.test_client())
    page = visitor.send("/sign-in", password=f"{role} password", who=name)
    assert page.status == 200
    return visitor


def test_a_stranger_is_asked_for_the_password_and_then_taken_where_he_wanted(locked):
    visitor = Visitor(locked.test_client())
    answer = visitor.client.get(f"/q/{CARBS}")
    assert answer.headers["Location"] == f"/sign-in?then=/q/{CARBS}"
    page = visitor.send(answer.headers["Location"], follow=False, password="owner password")
    assert page.headers["Location"] == f"/q/{CARBS}"


def test_a_stranger_changes_nothing(locked, shop):
    visitor = Visitor(locked.test_client())
    token = visitor.open("/sign-in").fields()["csrf_token"]
    answer = visitor.client.post(f"/lots/{CARBS}/move", data={"csrf_token": token, "place": BIN_B})
    assert answer.status_code == 302
    assert "/sign-in" in answer.headers["Location"]
    assert shop.stock().lots[CARBS].place != BIN_B


def test_a_wrong_password_says_so_and_keeps_the_name(locked):
    page = Visitor(locked.test_client()).send("/sign-in", password="letmein-77", who="Ann")
    assert page.status == 400
    assert page.fields()["who"] == "Ann"
    assert "letmein-77" not in page.body


def test_guessing_is_slowed_down(locked):
    visitor = Visitor(locked.test_client())
    for _ in range(10):
        assert visitor.send("/sign-in", password="guess").status == 400
    assert visitor.send("/sign-in", password="owner password").status == 429


def test_a_guest_reads_and_changes_nothing(locked, shop):
    visitor = signed_in(locked, "guest")
    page = visitor.open(f"/lots/{CARBS}")
    assert page.status == 200
    assert "Move" not in page.text
    token = page.fields()["csrf_token"]
    answer = visitor.client.post(f"/lots/{CARBS}/move", data={"csrf_token": token, "place": BIN_B})
    assert answer.status_code == 403
    assert "Guests may look" in answer.get_data(as_text=True)
    assert shop.stock().lots[CARBS].place != BIN_B


def test_a_helper_works_under_his_own_name_but_removes_nothing_from_the_catalogue(locked, shop):
    visitor = signed_in(locked, "helper", "Ann")
    visitor.send(f"/lots/{CARBS}/move", place=BIN_B)
    assert history(shop, limit=1)[0].who == "Ann"
    page = visitor.send("/catalogue/wanted/remove?model=late")
    assert page.status == 403
    assert shop.stock().wanted


def test_signing_out_closes_the_door(locked):
    visitor = signed_in(locked, "owner")
    visitor.send("/sign-out", open_at="/")
    assert visitor.client.get("/").status_code == 302


@pytest.mark.parametrize("target", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"])
def test_signing_in_leads_nowhere_else(locked, target):
    page = Visitor(locked.test_client()).send(f"/sign-in?then={target}", follow=False, password="owner password")
    assert page.headers["Location"] == "/"


@pytest.mark.parametrize(
    ("host", "status"),
    [("localhost:8470", 200), ("127.0.0.1", 200), ("[::1]:1", 200), ("evil.example", 403), ("192.0.2.7", 403)],
)
def test_without_a_password_only_this_computer_is_answered(app, host, status):
    assert app.test_client().get("/machines/", headers={"Host": host}).status_code == status


def test_with_a_password_any_name_will_do(locked):
    answer = locked.test_client().get("/sign-in", headers={"Host": "stash.local"})
    assert answer.status_code == 200
