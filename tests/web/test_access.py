"""Who may do what where there are accounts, and how one comes in."""

import re

import pytest

from stash.services import accounts, audit, door
from stash.services.history import history
from stash.web import create_app
from tests.services.workshop import BIN_B, CARBS
from tests.web.conftest import WORD, Visitor, came_in


@pytest.fixture
def locked(club):
    return create_app(club, secret_key="for tests only", served_as=["stash.local"])


def test_a_stranger_is_asked_for_name_and_password_and_then_taken_where_he_wanted(locked):
    visitor = Visitor(locked.test_client())
    answer = visitor.client.get(f"/q/{CARBS}")
    assert answer.headers["Location"] == f"/sign-in?then=/q/{CARBS}"
    page = visitor.send(answer.headers["Location"], follow=False, name="owner", password=WORD)
    assert page.headers["Location"] == f"/q/{CARBS}"


def test_a_stranger_changes_nothing_and_is_shown_no_way_in(locked, shop):
    visitor = Visitor(locked.test_client())
    page = visitor.open("/sign-in")
    assert not [link for link in page.links if link.startswith(("/machines", "/lots", "/accounts"))]
    answer = visitor.client.post(
        f"/lots/{CARBS}/move", data={"csrf_token": page.fields()["csrf_token"], "place": BIN_B}
    )
    assert answer.status_code == 302
    assert "/sign-in" in answer.headers["Location"]
    assert shop.stock().lots[CARBS].place != BIN_B


def test_a_wrong_password_says_so_and_keeps_the_name(locked):
    page = Visitor(locked.test_client()).send("/sign-in", password="letmein-77", name="Ann")
    assert page.status == 400
    assert page.fields()["name"] == "Ann"
    assert "letmein-77" not in page.body


def test_guessing_is_slowed_down_and_a_restart_does_not_help(locked, club):
    visitor = Visitor(locked.test_client())
    for _ in range(door.BY_ADDRESS):
        assert visitor.send("/sign-in", name="owner", password="guess").status == 400
    again = create_app(club, secret_key="another")
    assert Visitor(again.test_client()).send("/sign-in", name="owner", password=WORD).status == 429


def test_a_guest_reads_and_changes_nothing(locked, shop):
    visitor = came_in(locked, "guest")
    page = visitor.open(f"/lots/{CARBS}")
    assert page.status == 200
    assert "Move" not in page.text
    token = page.fields()["csrf_token"]
    answer = visitor.client.post(f"/lots/{CARBS}/move", data={"csrf_token": token, "place": BIN_B})
    assert answer.status_code == 403
    assert "Guests may look" in answer.get_data(as_text=True)
    assert shop.stock().lots[CARBS].place != BIN_B


def test_a_helper_works_under_his_own_name_but_removes_nothing_from_the_catalogue(locked, shop):
    visitor = came_in(locked, "helper")
    visitor.send(f"/lots/{CARBS}/move", place=BIN_B)
    assert history(shop, limit=1)[0].who == "helper"
    assert audit.audit(shop, limit=1)[0].address == "127.0.0.1"
    page = visitor.send("/catalogue/wanted/remove?model=late")
    assert page.status == 403
    assert shop.stock().wanted


def test_signing_out_closes_the_door_for_a_stolen_cookie_too(locked):
    visitor = came_in(locked, "owner")
    cookie = visitor.client.get_cookie("stash").value
    visitor.send("/sign-out", open_at="/")
    assert visitor.client.get("/").status_code == 302
    thief = locked.test_client()
    thief.set_cookie("stash", cookie)
    assert thief.get("/").status_code == 302


@pytest.mark.parametrize("target", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "a:b"])
def test_signing_in_leads_nowhere_else(locked, target):
    visitor = Visitor(locked.test_client())
    page = visitor.send(f"/sign-in?then={target}", follow=False, name="owner", password=WORD)
    assert page.headers["Location"] == "/"


@pytest.mark.parametrize(
    ("host", "status"),
    [("localhost:8470", 200), ("127.0.0.1", 200), ("[::1]:1", 200), ("evil.example", 403), ("192.0.2.7", 403)],
)
def test_without_an_account_only_this_computer_is_answered(app, host, status):
    assert app.test_client().get("/machines/", headers={"Host": host}).status_code == status
    assert (
        app.test_client()
        .get("/machines/", headers={"Host": host}, environ_base={"REMOTE_ADDR": "192.0.2.9"})
        .status_code
        == 403
    )


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("stash.local", 200),
        ("STASH.LOCAL.:8470", 200),
        ("localhost", 200),
        ("192.0.2.7:8470", 200),
        ("192.0.2.8", 403),
        ("evil.example", 403),
        ("stash.local.evil.example", 403),
        ("stash.local@evil.example", 403),
        ("[", 403),
        ("", 403),
    ],
)
def test_it_answers_under_its_own_names_only(locked, host, status):
    here = {"SERVER_NAME": "192.0.2.7"}  # the address the request came in at
    for address in ("/sign-in", "/static/stash.css"):
        answer = locked.test_client().get(address, headers={"Host": host}, environ_overrides=here, buffered=True)
        assert answer.status_code == status
        if status == 403:
            assert answer.mimetype == "text/plain"


def test_over_tls_the_cookie_goes_no_other_way(club):
    secure = create_app(club, secret_key="for tests only", secure=True)
    visitor = Visitor(secure.test_client())
    cookie = visitor.client.get("/sign-in", base_url="https://localhost").headers["Set-Cookie"]
    assert cookie.startswith("__Host-stash=")
    for part in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"):
        assert part in cookie
    assert "Domain" not in cookie


def test_the_first_account_closes_the_open_door(app, shop, quick_digests):
    visitor = Visitor(app.test_client())
    page = visitor.send("/accounts/", name="Ruth", password=WORD, again=WORD + "x")
    assert page.status == 400
    assert "two passwords differ" in page.text
    page = visitor.send("/accounts/", name="Ruth", password=WORD, again=WORD)
    assert "Sign in" in page.text
    assert "So must you" in page.text
    assert visitor.send("/sign-in?then=/accounts/", name="ruth", password=WORD).status == 200
    assert "signed in at 1 browser" in visitor.open("/accounts/").text


def test_the_owner_keeps_the_accounts(locked, club):
    owner = came_in(locked, "owner")
    page = owner.send("/accounts/", name="Ann", role="guest", password=WORD, again=WORD)
    assert "Ann may sign in as guest" in page.text
    assert owner.send("/accounts/", name="ann", role="guest", password=WORD, again=WORD).status == 400
    number = next(each.id for each in accounts.accounts(club) if each.name == "Ann")
    ann = came_in(locked, "Ann")
    at = f"/accounts/{number}"
    assert "Ann is helper now" in owner.send(f"{at}/role", open_at=at, role="helper").text
    assert "Add a machine" in ann.open("/machines/").text
    assert "signed out everywhere" in owner.send(f"{at}/out", open_at=at).text
    assert ann.open("/").text.startswith("Sign in")
    ann = came_in(locked, "Ann")
    assert owner.send(f"{at}/password", open_at=at, password="short", again="short").status == 400
    owner.send(f"{at}/password", open_at=at, password=WORD + "2", again=WORD + "2")
    assert ann.open("/").text.startswith("Sign in")
    assert "may not sign in any more" in owner.send(f"{at}/door", open_at=at, do="disable").text
    assert Visitor(locked.test_client()).send("/sign-in", name="Ann", password=WORD + "2").status == 400
    assert "sign in again" in owner.send(f"{at}/door", open_at=at, do="enable").text
    assert owner.open("/accounts/999").status == 404
    page = owner.send(f"/accounts/{_number(club, 'owner')}/role", open_at=at, role="guest")
    assert page.status == 409
    assert "last owner" in page.text


def _number(store, name):
    return next(each.id for each in accounts.accounts(store) if each.name == name)


def test_everybody_keeps_their_own_password(locked):
    visitor, other = came_in(locked, "guest"), came_in(locked, "guest")
    page = visitor.open("/accounts/own")
    assert page.text.count("127.0.0.1") == 2
    page = visitor.send(
        "/accounts/own/password", open_at="/accounts/own", old="wrong", password=WORD + "3", again=WORD + "3"
    )
    assert page.status == 400
    page = visitor.send(
        "/accounts/own/password", open_at="/accounts/own", old=WORD, password=WORD + "3", again=WORD + "3"
    )
    assert "Your password is changed" in page.text
    assert other.client.get("/").status_code == 302
    visitor = came_in(locked, "guest", WORD + "3")
    assert "signed out everywhere" in visitor.send("/accounts/own/out", open_at="/accounts/own").text
    assert visitor.client.get("/").status_code == 302


def test_a_password_form_that_is_refused_shows_no_password(locked):
    sent = {"old": "first-of-three", "password": "second-of-three", "again": "third-of-three"}
    answer = came_in(locked, "helper").client.post("/accounts/own/password", data=sent)
    assert answer.status_code == 400
    assert "of-three" not in answer.text


def test_without_accounts_ones_own_page_leads_to_all(app):
    assert "Nobody has an account" in Visitor(app.test_client()).open("/accounts/own").text


def test_a_link_shows_one_thing_without_an_account_and_no_more(locked):
    owner, stranger = came_in(locked, "owner"), Visitor(locked.test_client())
    made = {}
    for shows in ("family:a", "gaps", "wanted", "swap"):
        page = owner.send("/links/", shows=shows, note="for the club", days="30")
        address = re.search(r'id="f-made" value="([^"]+)"', page.body)[1]
        assert address.startswith("http://localhost/s/")
        made[shows] = address.removeprefix("http://localhost")
    said = {"family:a": "Carburettor", "gaps": "What is missing", "wanted": "Ruddlow Late", "swap": "to swap"}
    for shows, address in made.items():
        page = stranger.open(address)
        assert page.status == 200
        assert said[shows].casefold() in page.text.casefold()
        assert all(link.startswith((address, "#", "/static")) or link == "/" for link in page.links)
        assert page.headers["Referrer-Policy"] == "no-referrer"
        assert page.headers["Cache-Control"] == "no-store"
        assert BIN_B not in page.body
    chart = stranger.open(made["family:a"] + "/carb")
    assert "turned carburettor" in chart.text
    assert chart.headers["Referrer-Policy"] == "no-referrer"
    for wrong in (made["family:a"] + "/nothing", made["gaps"] + "/carb", "/s/" + "A" * 32, made["gaps"] + "x"):
        assert stranger.open(wrong).status == 404
    assert "shows nothing any more" in owner.send("/links/4/revoke", open_at="/links/").text
    assert stranger.open(made["swap"]).status == 404
    assert stranger.client.post(made["gaps"]).headers["Location"].startswith("/sign-in")


def test_a_link_to_nothing_is_refused_in_words(locked):
    owner = came_in(locked, "owner")
    assert owner.send("/links/", shows="house", days="30").status == 400
    assert owner.send("/links/", shows="gaps", days="31").status == 400


def test_the_owner_sees_who_did_what_from_where(locked):
    owner, helper = came_in(locked, "owner"), came_in(locked, "helper")
    helper.send(f"/lots/{CARBS}/move", place=BIN_B)
    Visitor(locked.test_client()).send("/sign-in", name="guest", password="a wrong guess")
    page = owner.open("/audit/")
    assert "gave a wrong password" in page.text
    assert "1 movement" in page.text
    assert "helper 127.0.0.1" in page.text
    page = owner.open("/audit/?group=failures")
    assert "guest" in page.text
    assert "movement" not in page.text
    assert "Nothing of that sort" in owner.open("/audit/?who=nobody&before=2020-01-01").text
    assert owner.open("/audit/?before=nonsense&group=nonsense").status == 200


def test_older_entries_are_a_page_away(locked, club):
    for number in range(70):
        audit.coming_from(f"192.0.2.{number}")
        with club.writing("test", "test") as work:
            audit.note(work.session, "sign_in", "guest")
    owner = came_in(locked, "owner")
    page = owner.open("/audit/?group=sign_ins")
    older = next(link for link in page.links if "before=" in link)
    assert "192.0.2.69" in page.text
    assert "192.0.2.3 " not in page.text
    assert "192.0.2.3 " in owner.open(older).text


def test_trusting_its_certificate_is_explained_where_it_has_one(club, locked):
    assert Visitor(locked.test_client()).open("/trust/").status == 404
    app = create_app(club, secret_key="for tests only", secure=True, authority=b"as if it were one")
    client = app.test_client()
    page = client.get("/trust/", base_url="https://localhost")
    assert page.status_code == 200
    assert "F9:" in page.get_data(as_text=True) or ":" in page.get_data(as_text=True)
    sent = client.get("/trust/stash-authority.crt", base_url="https://localhost")
    assert sent.data == b"as if it were one"
    assert sent.mimetype == "application/x-x509-ca-cert"
    assert "warns about this connection" in client.get("/sign-in", base_url="https://localhost").get_data(as_text=True)
