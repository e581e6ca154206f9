"""Every address answers, with whole markup, the headers of a careful house, and no script needed."""

import re
from html import unescape

import pytest

from stash.web import create_app
from stash.web.app import UPLOAD_BYTES
from tests.services.workshop import BIN_A, CARBS, MYSTERY, PROJECT, RUNNER
from tests.web.conftest import Visitor

ADDRESSES = {
    "/": "What can I finish?",
    "/find?q=carb": "hits for “carb”",
    "/machines/": "Fennaby Early, 1967",
    f"/machines/{PROJECT}": "As-built sheet",
    f"/machines/{PROJECT}/edit": "Edit Ruddlow Late",
    "/machines/papers": "List of machines",
    f"/machines/{RUNNER}/found?ref={CARBS}&position=carburettor": "What decided",
    "/machines/add": "Add a machine",
    f"/machines/{PROJECT}/fit?position=carburettor": "Fit the carburettor",
    f"/machines/{RUNNER}/take-off?position=boot": "Take off the boot",
    f"/machines/{RUNNER}/note?position=boot": "Note what is at the boot",
    f"/machines/{RUNNER}/strip": "tag each part before cleaning",
    f"/machines/{RUNNER}/put-back": "Put it back as it was",
    f"/machines/{RUNNER}/exchange?position=boot": "Exchange the boot",
    "/lots/": "Loose parts",
    "/lots/add": "Number stamped on it",
    "/lots/add?kind=carb": "Put on the shelf: carburettor",
    f"/lots/{CARBS}": "straight carburettor",
    f"/lots/{CARBS}/edit": "Measured or seen on it",
    f"/lots/{CARBS}/move": "Move",
    f"/lots/{CARBS}/split": "Split",
    f"/lots/{CARBS}/count": "How many are there",
    f"/lots/{CARBS}/more": "Put more in",
    f"/lots/{CARBS}/let-go": "What becomes of them",
    f"/lots/{MYSTERY}": "Nobody has identified it yet",
    "/lots/lent": "Nothing is lent",
    "/shelf/": "Choose the bin once",
    f"/shelf/evening-1?place={BIN_A}&kind=carb": "A press adds it",
    "/places/": "Bins and places",
    "/places/add": "Add a bin or place",
    f"/places/{BIN_A}": "bolts on Early",
    f"/places/{BIN_A}/edit": "Edit Bin A",
    f"/places/{BIN_A}/count": "Count Bin A",
    "/count/": "Longest uncounted first",
    f"/places/{BIN_A}/put-in": "Put into Bin A",
    "/catalogue/health": "Look it over",
    "/catalogue/": "What is true of models and parts for everybody",
    "/catalogue/designs/": "straight carburettor",
    "/rules/say": "Say what fits",
    "/mates/say": "Say which kinds touch",
    "/mates/change?key=push": "You see what it changes before it is saved",
    "/mates/withdraw?key=push": "This changes no verdict on any model",
    "/first-model": "A model by its names",
    "/muster/": "Every model in the catalogue",
    "/wall-charts/a?kind=carb": "For the wall: engine A",
    "/models/late/like": "A model like Ruddlow Late",
    f"/lots/{MYSTERY}/design": "A design from the part in the hand",
    "/rules/say?kind=carb&family=a": "See what it changes",
    "/catalogue/models/edit?key=late": "Late",
    "/catalogue/models/remove?key=late": "Remove model Ruddlow Late?",
    "/designs/carb-90": "turned carburettor",
    "/models/late": "Stock sheet",
    "/charts/": "Interchange charts",
    "/charts/a/carb": "Carburettor in engine A",
    "/charts/why?design=carb-90&model=early&position=carburettor": "turned carburettor on Fennaby Early",
    "/gaps/": "Gaps",
    f"/gaps/of?gap=machine:{PROJECT}": "Pick list, in walking order",
    "/builds/": "Winter build",
    "/plans/": "Plan all builds at once",
    "/builds/winter": "Parts decided",
    "/builds/winter/edit": "Edit Winter build",
    "/builds/winter/decide?position=boot": "Decide the boot",
    "/builds/add?model=late": "Add a build",
    "/sums/": "every sum it allows is done",
    "/sums/?bore_mm=54&stroke_mm=54.5&limit_rpm=9000&bearing=6203&case_metal=iron": "124.82",
    "/sums/units?mm=1+in": "25.4",
    "/catalogue/law_lines/": "Lines by law",
    "/labels/": "Where a scan leads",
    f"/labels/?codes={CARBS}": "1 label",
    "/labels/stocks": "A stock of your own",
    "/ledger/": "Nothing is ever erased",
    "/sheets/": "The tables and their columns",
    "/sheets/shelf/": "Take in a shelf list",
    "/sheets/lists/": "Lists for people",
    "/sheets/lists/parts": "what each fits and which gap it fills",
    "/sheets/lists/insurance": "For the insurer",
    "/sheets/sharing/": "Share what you know",
    "/accounts/": "Nobody has an account",
    "/audit/": "Who did what, and from where",
    "/links/": "A link shows one thing",
    "/identify/": "What is this?",
    "/identify/?kind=carb": "Which carburettor is this?",
    "/identify/?kind=carb&m-spigot_mm=20": "It may be",
    "/identify/?m-rotation=90&number=6203-2RS/C3": "It could be a",
    "/identify/again": "Unidentified loose parts",
    "/identify/photo": "Read a photo of a shelf",
}


@pytest.mark.parametrize("address", ADDRESSES)
def test_it_answers_with_the_right_words(visitor, address):
    page = visitor.open(address)
    assert page.status == 200
    said = ADDRESSES[address].casefold()
    assert said in page.text.casefold()
    assert page.reader.stack == []
    assert len(page.data) < 100_000


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_label_belongs_to_a_field_and_every_identifier_is_there_once(visitor, address):
    page = visitor.open(address)
    identifiers = re.findall(r'\bid="([^"]+)"', page.body)
    assert len(identifiers) == len(set(identifiers))
    assert set(re.findall(r'<label[^>]*\bfor="([^"]+)"', page.body)) <= set(identifiers)
    told = {each for found in re.findall(r'aria-describedby="([^"]+)"', page.body) for each in found.split()}
    assert told <= set(identifiers)
    assert page.body.count("<h1>") == 1


def test_no_link_of_any_page_leads_nowhere(visitor):
    seen: set[str] = set()
    waiting = list(ADDRESSES)
    while waiting:
        address = waiting.pop()
        page = visitor.open(address)
        assert page.status == 200, address
        for link in page.links:
            plain = unescape(link).split("#")[0]
            if plain.startswith("/") and plain not in seen and "/remove?" not in plain:
                seen.add(plain)
                waiting.append(plain)
    assert len(seen) > 150


def test_the_headers_forbid_what_no_page_needs(visitor):
    for address in ("/", "/nowhere", "/static/stash.css"):
        headers = visitor.open(address).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"
        assert headers["X-Frame-Options"] == "DENY"


@pytest.mark.parametrize(
    "address", ["/", "/sheets/stash.xlsx", "/sheets/archive.zip", "/sheets/lists/parts/file?as=.csv", "/nowhere"]
)
def test_nothing_of_the_stash_is_taken_from_a_cache(visitor, address):
    answer = visitor.client.get(address, buffered=True)
    assert answer.headers["Cache-Control"] == "private, no-cache"


def test_only_what_changes_its_address_with_its_contents_is_kept_for_good(visitor):
    assert "max-age=31536000" in visitor.client.get("/static/stash.css?v=1", buffered=True).headers["Cache-Control"]
    assert visitor.client.get("/static/stash.css", buffered=True).headers["Cache-Control"] == "private, no-cache"


def test_the_cookie_is_kept_from_scripts_and_other_sites(visitor):
    cookie = visitor.open("/machines/add").headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_an_upload_that_is_too_big_is_refused(visitor):
    answer = visitor.client.post("/sheets/check", content_length=UPLOAD_BYTES + 1, data=b"")
    assert answer.status_code == 413


def test_an_unknown_address_explains_itself(visitor):
    page = visitor.open("/no/such/page")
    assert page.status == 404
    assert "Type a code, a number or a word" in page.text


def test_a_defect_is_told_without_its_insides(app, visitor, monkeypatch, caplog):
    def broken(*_args, **_more):
        raise RuntimeError("secret insides")

    monkeypatch.setattr("stash.web.gaps.service.gaps", broken)
    page = visitor.open("/gaps/")
    assert page.status == 500
    assert "Our mistake" in page.text
    assert "secret insides" not in page.body
    assert "secret insides" in caplog.text


def test_an_empty_stash_greets_and_begins(empty):
    visitor = Visitor(create_app(empty, secret_key="for tests only").test_client())
    page = visitor.open("/")
    assert "A bare shelf" in page.text
    for address in (
        "/machines/",
        "/lots/",
        "/places/",
        "/gaps/",
        "/builds/",
        "/ledger/",
        "/charts/",
        "/lots/add",
        "/labels/",
    ):
        assert visitor.open(address).status == 200
    page = visitor.send("/begin/starter", open_at="/")
    assert "starter vocabulary is in" in page.text
    assert "No gap is noted" in page.text


def test_the_demo_is_a_press_away(empty):
    visitor = Visitor(create_app(empty, secret_key="for tests only").test_client())
    page = visitor.send("/begin/demo", open_at="/")
    assert page.status == 200
    assert "None of it is real" in page.text
    assert "Kittle" in visitor.open("/catalogue/models/").text


def test_pages_are_found_whatever_the_current_folder_holds(app, tmp_path, monkeypatch):
    (tmp_path / "templates" / "home").mkdir(parents=True)
    (tmp_path / "templates" / "home" / "index.html").write_text("a stray page")
    monkeypatch.chdir(tmp_path)
    assert "a stray page" not in Visitor(app.test_client()).open("/").text
