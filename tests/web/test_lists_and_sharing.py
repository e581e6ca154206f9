"""Lists for people and shared knowledge through the screens, without scripts."""

import csv
import io
import json
import zipfile

import pytest
from openpyxl import load_workbook

from stash.db.store import open_store
from stash.exchange import RawTable
from stash.services.people_lists import LISTS
from stash.services.tables import load
from stash.web import create_app
from tests.services.workshop import CARBS, furnish
from tests.web.conftest import Page


def rows_of(answer):
    return list(csv.DictReader(io.StringIO(answer.data.decode("utf-8-sig"))))


@pytest.mark.parametrize("what", LISTS)
def test_every_list_is_shown_and_sent_in_every_form(visitor, what):
    assert visitor.open(f"/sheets/lists/{what}").status == 200
    starts = {".csv": b"\xef\xbb\xbf", ".json": b"[", ".xlsx": b"PK", ".pdf": b"%PDF"}
    for ending, start in starts.items():
        answer = visitor.client.get(f"/sheets/lists/{what}/file?as={ending}")
        assert answer.status_code == 200
        assert answer.data.startswith(start)
        assert answer.headers["Content-Disposition"].endswith(ending)


def test_the_chosen_columns_and_rows_are_shown_and_sent(visitor):
    asked = "column=code&column=what&has-kind=carburettor"
    page = visitor.open(f"/sheets/lists/parts?{asked}")
    assert "straight carburettor" in page.text
    assert "boot" not in page.text.partition("Columns and rows")[2].partition("row")[2].rpartition("table")[2]
    sent = rows_of(visitor.client.get(f"/sheets/lists/parts/file?{asked}&as=.csv"))
    assert {tuple(row) for row in sent} == {("stash code", "what")}
    assert CARBS in {row["stash code"] for row in sent}
    assert {"carburettor" in row["what"] for row in sent} == {True}


def test_every_form_says_the_same(visitor):
    asked = "/sheets/lists/parts/file?column=code&column=quantity"
    table = [(row["stash code"], int(row["quantity"])) for row in rows_of(visitor.client.get(f"{asked}&as=.csv"))]
    plain = json.loads(visitor.client.get(f"{asked}&as=.json").data)
    assert [(row["code"], row["quantity"]) for row in plain] == table
    sheet = load_workbook(io.BytesIO(visitor.client.get(f"{asked}&as=.xlsx").data)).active
    cells = {(str(row[0]), row[1]) for row in sheet.iter_rows(values_only=True)}
    assert set(table) <= cells


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/sheets/lists/nothing", 404),
        ("/sheets/lists/nothing/file?as=.csv", 404),
        ("/sheets/lists/parts/file?as=.exe", 400),
        ("/sheets/lists/parts?column=nope", 400),
        ("/sheets/lists/parts/file?as=.csv&has-nope=x", 400),
    ],
)
def test_what_no_list_has_is_told(visitor, address, status):
    assert visitor.open(address).status == status


def test_an_empty_choice_says_so(visitor):
    assert "The list is empty with this choice" in visitor.open("/sheets/lists/parts?has-what=zzz").text


@pytest.fixture
def friend(make_url_of):
    """Somebody else's stash with the same catalogue."""
    store = open_store(make_url_of("sqlite"))
    furnish(store)
    yield store
    store.close()


def shared(store, asked=""):
    """What somebody downloads to give away."""
    client = create_app(store, secret_key="for tests only").test_client()
    return client.get(f"/sheets/sharing/bundle.zip?{asked}").data


def say(store, reason, verdict="wont_fit"):
    """Write a rule down."""
    header = ("key", "verdict", "design", "model", "position", "evidence", "reason")
    row = ["slow-late", verdict, "module-55", "late", "module", "bench", reason]
    assert load(store, {"rules": RawTable(header, [(1, row)])}, "somebody").ok


def receive(visitor, data, whose="Odile"):
    token = visitor.open("/sheets/sharing/").fields()["csrf_token"]
    form = {"csrf_token": token, "file": (io.BytesIO(data), "for-you.zip"), "whose": whose}
    answer = visitor.client.post("/sheets/sharing/", data=form, content_type="multipart/form-data")
    return Page(answer) if answer.status_code != 303 else visitor.open(answer.headers["Location"])


def seen_at(page):
    return next(
        part.split('"')[0].removesuffix("/choice") for part in page.body.split('action="') if "/choice" in part[:90]
    )


def test_only_what_is_chosen_and_what_it_leans_on_goes_along(friend):
    say(friend, "stops the engine early")
    data = shared(friend, "rules=slow-late&by=Odile")
    with zipfile.ZipFile(io.BytesIO(data)) as zipped:
        assert "lots.csv" not in zipped.namelist()
        assert "slow-late" in zipped.read("rules.csv").decode()
        assert "carb-0" not in zipped.read("designs.csv").decode()
    whole = shared(friend)
    with zipfile.ZipFile(io.BytesIO(whole)) as zipped:
        assert "carb-0" in zipped.read("designs.csv").decode()


def test_what_a_friend_shares_is_looked_at_with_whose_word_it_is_and_taken_in(visitor, shop, friend):
    say(friend, "stops the engine early")
    page = receive(visitor, shared(friend, "rules=slow-late&by=Odile"))
    assert "It adds 1 rule" in page.text
    assert "stops the engine early" in page.text
    assert "Odile" in page.text
    assert "would change" in page.text
    assert not [rule for rule in shop.catalogue().rules if rule.key == "slow-late"]
    page = Page(visitor.client.post(f"{seen_at(page)}/accept", data=page.fields(), follow_redirects=True))
    assert "What Odile shared is in" in page.text
    assert [rule.source for rule in shop.catalogue().rules if rule.key == "slow-late"] == ["Odile"]


def test_a_contradiction_is_shown_and_both_claims_stand(visitor, shop, friend):
    say(shop, "runs well here", verdict="bolts_on")
    say(friend, "stops the engine early")
    page = receive(visitor, shared(friend, "rules=slow-late&by=Odile"))
    assert "Contradicts you" in page.text
    assert "both, each with its source" in page.text
    Page(visitor.client.post(f"{seen_at(page)}/accept", data=page.fields(), follow_redirects=True))
    assert len([rule for rule in shop.catalogue().rules if rule.key.startswith("slow-late")]) == 2


def test_claims_can_count_as_heard_only(visitor, shop, friend):
    say(friend, "stops the engine early")
    page = receive(visitor, shared(friend, "rules=slow-late&by=Odile"))
    at = seen_at(page)
    page = Page(visitor.client.post(f"{at}/choice", data={**page.fields(), "hearsay": "yes"}, follow_redirects=True))
    assert "heard" in page.text
    Page(visitor.client.post(f"{at}/accept", data=page.fields(), follow_redirects=True))
    assert [rule.evidence for rule in shop.catalogue().rules if rule.key == "slow-late"] == ["word"]


def test_theirs_are_taken_where_that_is_ticked(visitor, shop, friend):
    row = ["carb-0", "carb", "straight carburettor, early"]
    assert load(friend, {"designs": RawTable(("key", "kind", "name"), [(1, row)])}, "somebody").ok
    page = receive(visitor, shared(friend, "designs=carb-0"))
    at = seen_at(page)
    assert "Designs: take theirs" in page.text
    page = Page(visitor.client.post(f"{at}/choice", data={**page.fields(), "theirs": "designs"}, follow_redirects=True))
    Page(visitor.client.post(f"{at}/accept", data=page.fields(), follow_redirects=True))
    assert shop.catalogue().design["carb-0"].name == "straight carburettor, early"


def test_a_bundle_that_says_nothing_new_offers_nothing(visitor):
    page = receive(visitor, visitor.client.get("/sheets/sharing/bundle.zip").data)
    assert "There is nothing in it to take in" in page.text
    assert "Take it in" not in page.text


def test_what_is_no_bundle_and_what_is_nobodys_is_refused(visitor):
    assert receive(visitor, b"no zip").status == 400
    assert receive(visitor, visitor.client.get("/sheets/stash.zip").data).status == 400
    assert receive(visitor, visitor.client.get("/sheets/sharing/bundle.zip").data, whose=" ").status == 400
    token = visitor.open("/sheets/sharing/").fields()["csrf_token"]
    answer = visitor.client.post("/sheets/sharing/", data={"csrf_token": token, "whose": "Odile"})
    assert answer.status_code == 400
    assert visitor.open("/sheets/sharing/bundle.zip?rules=nope").status == 400
