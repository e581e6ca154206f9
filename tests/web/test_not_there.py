"""What is not there is told as such, and what comes between looking and acting loses nothing."""

import os
import time

import pytest

from stash.errors import NotFound
from stash.kernel.codes import ALPHABET, code_from_payload
from stash.services import rows
from stash.web import uploads, words
from tests.services.workshop import BIN_A, CARBS, PROJECT, RUNNER

FREE = next(code for last in ALPHABET if (code := code_from_payload("NEWC" + last)))


@pytest.mark.parametrize(
    "address",
    [
        f"/machines/{FREE}",
        f"/machines/{FREE}/fit?position=boot",
        f"/machines/{RUNNER}/fit?position=nothing",
        f"/machines/{RUNNER}/found?ref={CARBS}&position=nothing",
        f"/machines/{RUNNER}/found?ref=nothing&position=boot",
        f"/lots/{FREE}",
        f"/lots/{FREE}/move",
        f"/lots/{BIN_A}/edit",
        f"/lots/{CARBS}/merge",
        f"/places/{FREE}",
        f"/places/{CARBS}/count",
        "/designs/nothing",
        "/models/nothing",
        "/builds/nothing",
        "/builds/winter/decide?position=nothing",
        "/charts/nothing/carb",
        "/charts/why?design=nothing&model=early",
        "/gaps/of?gap=machine:NOTHING",
        "/catalogue/nothing/",
        "/catalogue/lots/",
        "/catalogue/makers/edit?key=nothing",
        "/catalogue/makers/edit",
        "/identify/lot/nothing",
        "/sheets/stash.doc",
    ],
)
def test_what_is_not_there_is_told(visitor, address):
    page = visitor.open(address)
    assert page.status == 404
    assert 'role="alert"' in page.body
    assert page.body.count("<h1>") == 1


def test_builds_are_added_and_changed(visitor, shop):
    page = visitor.open(f"/builds/add?machine={RUNNER}")
    assert page.fields()["name"] == "Fennaby Early"
    page = visitor.send("/builds/add?model=early", key="spring", budget="50", value="2")
    assert "Build added" in page.text
    assert "from nothing" in page.text
    page = visitor.send("/builds/spring/edit", status="done", budget="fifty")
    assert page.status == 400
    assert page.problem("budget")
    visitor.send("/builds/spring/edit", status="done")
    assert shop.stock().builds["spring"].status == "done"


def test_a_place_is_renamed(visitor, shop):
    page = visitor.send(f"/places/{BIN_A}/edit", name="Bin Alpha")
    assert "Place saved" in page.text
    assert shop.stock().places[BIN_A].name == "Bin Alpha"


def test_a_machine_is_changed_under_ones_eyes(visitor, shop):
    fields = visitor.open(f"/machines/{PROJECT}/edit").fields()
    rows.save_row(shop, "machines", {"serial": "No 5"}, {"code": PROJECT}, None, "Ann")
    answer = visitor.client.post(f"/machines/{PROJECT}/edit", data={**fields, "note": "mine"})
    body = answer.get_data(as_text=True)
    assert answer.status_code == 409
    differs = body[body.index("Where yours differs") : body.index('<form class="form')]
    assert "No 5" in differs
    assert "nothing" in differs
    assert "model" not in differs
    assert "mine" in body


def test_an_upload_is_kept_an_hour_and_no_longer(monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    old = uploads.keep("a.csv", b"1")
    assert uploads.fetch(old) == ("a.csv", b"1")
    (folder,) = tmp_path.iterdir()
    long_ago = time.time() - 2 * 3600
    os.utime(folder / old, (long_ago, long_ago))
    new = uploads.keep("b.csv", b"2")
    with pytest.raises(NotFound):
        uploads.fetch(old)
    uploads.drop(new)
    uploads.drop("../b.csv")
    with pytest.raises(NotFound):
        uploads.fetch(new)
    assert list(folder.iterdir()) == []


def test_words_are_said_as_people_read_them():
    assert words.label("bore_mm") == "bore (mm)"
    assert words.label("rated_rpm") == "rated (rpm)"
    assert words.label("from_whom") == "from whom"
    assert words.listed(["a", "b", "c"]) == "a, b and c"
    assert words.listed([]) == ""
    assert words.counted(1, "lot") == "1 lot"
    assert words.counted(2, "thing needs", "things need") == "2 things need"
    assert words.money(None) == ""
    assert words.money(1850) == "18.50"
    assert words.exact(38_200_000) == "38.2"
    assert words.rounded(None) == ""
    assert words.rounded(48.7669) == "48.77"
    assert words.rounded(5500.0) == "5500"
    assert words.condition("unknown") == "condition unknown"
    assert words.condition("needs_work") == "needs work"
