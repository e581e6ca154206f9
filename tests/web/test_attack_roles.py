"""Every address, tried with every role and with none: the URL map is walked, so a new page can't be forgotten.

A page needs no entry anywhere unless it differs from the rule in ``stash.web.rights``. What a role may do is stated
here a second time, in other words, so that a slip there is a failure here.
"""

import re

import pytest
from flask import Flask
from werkzeug.routing import Rule

from stash.services.history import history
from stash.web import create_app, rights
from tests.services.workshop import BIN_A, CARBS, RUNNER
from tests.web.conftest import Visitor, came_in
from tests.web.test_every_page import ADDRESSES

FILL = {"batch": 1, "number": 1}
SIGN_IN = "/sign-in"


@pytest.fixture
def locked(club) -> Flask:
    return create_app(club, secret_key="for tests only")


def rules(app: Flask) -> list[Rule]:
    return sorted(app.url_map.iter_rules(), key=lambda rule: rule.rule)


def address(rule: Rule) -> str:
    """An address of a rule, with something plausible in its gaps."""
    code = RUNNER if "machine" in rule.rule else BIN_A if "place" in rule.rule else CARBS
    fill = {**FILL, "code": code, "table": "models", "what": "starter", "family": "a", "kind": "carb", "key": "late"}
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda gap: str(fill.get(gap[1], "x")), rule.rule)


def told(answer) -> str:
    """What an answer amounts to: let in, sent to sign in, or forbidden."""
    if answer.status_code == 302 and answer.headers["Location"].startswith(SIGN_IN):
        return "sign in"
    return "forbidden" if answer.status_code == 403 else "in"


def expected(endpoint: str, method: str, role: str) -> str:
    """What the three roles and strangers may do, said plainly."""
    if endpoint in rights.OPEN:
        return "in"
    if role == "nobody":
        return "sign in"
    own = endpoint in rights.OWN
    everything = role == "owner"
    looking = method == "GET" and endpoint not in rights.OWNER
    helping = role == "helper" and endpoint not in rights.OWNER | rights.OWNER_FORMS
    return "in" if own or everything or looking or helping else "forbidden"


def test_no_page_offers_a_guest_a_form_that_they_may_not_send(locked):
    guest = came_in(locked, "guest")
    for each in ADDRESSES:
        page = guest.open(each)
        sent = re.findall(r'<form[^>]*method="post"[^>]*>', page.body)
        assert [form for form in sent if "/sign-out" not in form] == [], each
    assert "Guests may look but not change" in guest.open(f"/lots/{CARBS}/move").text
    assert "Only the owner may do this" in came_in(locked, "helper").open("/catalogue/models/remove?key=late").text
    assert "generation" in guest.open("/catalogue/models/edit?key=late").text


def test_every_exception_to_the_rule_is_an_address(locked):
    endpoints = {rule.endpoint for rule in rules(locked)}
    named = rights.OPEN | rights.OWN | rights.OWNER | rights.OWNER_FORMS
    assert named - endpoints == set()
    assert len(named) == sum(map(len, (rights.OPEN, rights.OWN, rights.OWNER, rights.OWNER_FORMS)))


def test_what_is_open_to_everybody_changes_nothing_but_signing_in(locked):
    posts = {rule.endpoint for rule in rules(locked) if "POST" in rule.methods}
    assert rights.OPEN & posts == {"access.sign_in"}


@pytest.mark.parametrize("role", ["nobody", "guest", "helper"])
def test_no_role_gets_further_than_it_may(locked, role):
    client = locked.test_client() if role == "nobody" else came_in(locked, role).client
    seal = re.search(r'name="csrf_token" value="([^"]+)"', client.get(SIGN_IN).get_data(as_text=True))[1]
    wrong = []
    for rule in rules(locked):
        for method in sorted(rule.methods & {"GET", "POST", "PUT", "PATCH", "DELETE"}):
            want = expected(rule.endpoint, method, role)
            if want == "in" and (method != "GET" or rule.endpoint == "access.sign_out"):
                continue  # doing it is for the tests of each page; here it is about what must not happen
            answer = client.open(address(rule), method=method, data={"csrf_token": seal}, buffered=True)
            if told(answer) != want:
                wrong.append((role, method, rule.rule, answer.status_code, want))
    assert wrong == []


def test_no_form_is_taken_without_its_seal(locked, club):
    visitor = came_in(locked, "owner")
    before = history(club, limit=1)
    for rule in rules(locked):
        for method in sorted(rule.methods & {"POST", "PUT", "PATCH", "DELETE"}):
            for sent in ({}, {"csrf_token": "forged"}):
                answer = visitor.client.open(address(rule), method=method, data=sent)
                assert answer.status_code == 400, rule.rule
                assert "form" in answer.get_data(as_text=True)
    assert history(club, limit=1) == before
    assert visitor.open("/").status == 200


def test_a_form_of_another_visit_is_refused(locked, club):
    owner, guest = came_in(locked, "owner"), came_in(locked, "guest")
    before = club.stock().lots[CARBS]
    theirs = guest.open(f"/lots/{CARBS}").fields()["csrf_token"]
    answer = owner.client.post(f"/lots/{CARBS}/move", data={"csrf_token": theirs, "place": BIN_A})
    assert answer.status_code == 400
    old = owner.open(f"/lots/{CARBS}/move").fields()
    owner.send("/sign-out", open_at="/")
    again = owner.send("/sign-in", name="owner", password="sleeve boot gasket")
    assert again.status == 200
    assert owner.client.post(f"/lots/{CARBS}/move", data=old).status_code == 400
    assert club.stock().lots[CARBS] == before


def test_an_edit_sent_twice_is_told_so(locked):
    visitor = came_in(locked, "helper")
    form = visitor.open(f"/lots/{CARBS}/edit").fields()
    first = visitor.client.post(f"/lots/{CARBS}/edit", data={**form, "note": "one"})
    replayed = visitor.client.post(f"/lots/{CARBS}/edit", data={**form, "note": "two"})
    assert first.status_code == 303
    assert replayed.status_code == 409


def test_looking_changes_nothing(locked, club):
    owner = came_in(locked, "owner")
    before = history(club, limit=1)
    counters = _counters(club)
    for each in ADDRESSES:
        assert owner.open(each).status == 200
    for rule in rules(locked):
        if "GET" in rule.methods:
            assert owner.client.get(address(rule), buffered=True).status_code < 500, rule.rule
    assert history(club, limit=1) == before
    assert _counters(club) == counters


def _counters(store):
    with store.reading() as session:
        return [store.revision(session, name) for name in ("catalogue", "stock")]


def test_a_session_handed_out_before_signing_in_is_worth_nothing_after(locked):
    attacker = locked.test_client()
    attacker.get(SIGN_IN)
    planted = attacker.get_cookie("stash").value
    victim = Visitor(locked.test_client())
    victim.client.set_cookie("stash", planted)
    victim.send(SIGN_IN, name="owner", password="sleeve boot gasket")
    assert victim.client.get_cookie("stash").value != planted
    assert told(attacker.get("/")) == "sign in"
    seal = victim.open("/").fields()["csrf_token"]
    assert seal
    assert told(attacker.post("/accounts/", data={"csrf_token": seal})) == "sign in"


def test_a_cookie_made_up_or_sealed_by_another_lets_nobody_in(locked, club):
    other = create_app(club, secret_key="another seal")
    cookie = came_in(other, "owner").client.get_cookie("stash").value
    for made in (cookie, cookie[:-2], "e30.aaaa.bbbb", "x" * 3000):
        stranger = locked.test_client()
        stranger.set_cookie("stash", made)
        assert told(stranger.get("/")) == "sign in"


def test_other_ways_of_asking_get_no_further(locked, club):
    before = history(club, limit=1)
    guest = came_in(locked, "guest").client
    seal = re.search(r'name="csrf_token" value="([^"]+)"', guest.get("/").get_data(as_text=True))[1]
    for more in (
        {"headers": {"X-HTTP-Method-Override": "GET"}},
        {"headers": {"X-Forwarded-For": "127.0.0.1", "X-Real-IP": "127.0.0.1"}},
        {"query_string": {"_method": "GET"}},
        {"headers": {"Authorization": "Basic b3duZXI6eA=="}},
    ):
        answer = guest.post(f"/lots/{CARBS}/move", data={"csrf_token": seal, "place": BIN_A}, **more)
        assert answer.status_code == 403
    for each in (f"//lots/{CARBS}/move", f"/lots/{CARBS}/move/", f"/LOTS/{CARBS}/move"):
        guest.post(each, data={"csrf_token": seal, "place": BIN_A}, follow_redirects=True)
    assert history(club, limit=1) == before
