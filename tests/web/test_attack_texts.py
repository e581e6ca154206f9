"""Texts that mean harm: markup in every text of every table, formulas, odd names in addresses and searches."""

import csv
import io
import zipfile
from html.parser import HTMLParser

import pytest

from stash.exchange.raw import raw_table
from stash.kernel.tables import TABLE_BY_NAME, Cell
from stash.services import accounts, links, tables
from stash.web import create_app
from tests.services.workshop import CARBS, RUNNER
from tests.services.workshop import TABLES as WORKSHOP
from tests.web.conftest import WORD, Visitor, came_in
from tests.web.test_every_page import ADDRESSES

HOSTILE = """ "'><hostile onload=hostile()></script></title></textarea>&lt;hostile&gt;{{ 7*'7' }}{% raise %}<!--"""
MORE = {
    "rules": "key,verdict,kind,model,work,reason,tell,evidence,source\nr,with_work,carb,late,file it,so,look,word,me\n",
    "fitted": WORKSHOP["fitted"] + f"{RUNNER},boot,present,boot-0\n",
}
REFERRED = {("numbers", "replaced_by")}
SHORT = {"number", "unit", "number_seen"}


def hostile(name: str, text: str) -> list[list[str]]:
    """A table of the small workshop with markup in each of its texts."""
    header, *rows = list(csv.reader(io.StringIO(text)))
    texts = [
        column.name
        for column in TABLE_BY_NAME[name].columns
        if column.cell is Cell.TEXT and (name, column.name) not in REFERRED
    ]
    header += [column for column in texts if column not in header]
    filled = []
    for row in rows:
        cells = dict(zip(header, row + [""] * len(header), strict=False))
        cells |= {column: cells[column] + (" <hostile>" if column in SHORT else HOSTILE) for column in texts}
        if name == "measures" and cells["choices"]:
            cells["choices"] += ";<hostile>"
        filled.append([cells[column] for column in header])
    return [header, *filled]


class Seen(HTMLParser):
    """What a browser would make of a page."""

    def __init__(self, body: str) -> None:
        super().__init__(convert_charrefs=True)
        self.broken: list[str] = []
        self.words: list[str] = []
        self.links: list[str] = []
        self.feed(body)
        self.close()

    def handle_starttag(self, tag: str, attrs) -> None:
        if tag == "hostile" or any(name.startswith("on") or name == "hostile" for name, _ in attrs):
            self.broken.append(self.get_starttag_text() or tag)
        self.links += [value for name, value in attrs if tag == "a" and name == "href" and value]

    def handle_comment(self, data: str) -> None:
        self.broken.append(data)

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.fixture
def world(empty, quick_digests):
    """The small workshop, meant ill."""
    report = tables.load(
        empty, {name: raw_table(hostile(name, text)) for name, text in (WORKSHOP | MORE).items()}, f"who{HOSTILE}"
    )
    assert report.ok, [str(problem) for problem in report.errors]
    return empty


def test_markup_in_every_text_stays_text_on_every_page(world):
    _, token = links.make(world, "family", "a", text=f"for{HOSTILE}", days=None, who=f"who{HOSTILE}")
    accounts.add(world, f"o{HOSTILE[:50]}", "owner", WORD, who=f"who{HOSTILE}")
    visitor = came_in(create_app(world, secret_key="for tests only"), f"o{HOSTILE[:50]}")
    seen: set[str] = set()
    waiting = [
        *ADDRESSES,
        "/audit/",
        "/accounts/",
        "/accounts/own",
        "/accounts/1",
        "/links/",
        f"/s/{token}",
        "/ledger/",
    ]
    shown = 0
    while waiting:
        address = waiting.pop()
        answer = visitor.client.get(address, follow_redirects=True, buffered=True)
        assert answer.status_code == 200, address
        if "html" not in answer.content_type:
            assert answer.headers["X-Content-Type-Options"] == "nosniff"
            continue
        page = Seen(answer.get_data(as_text=True))
        assert page.broken == [], address
        text = "".join(page.words)
        assert "{{ 7*'7' }}" in text or "7777777" not in text, address
        shown += "<hostile onload=" in text
        for link in page.links if len(seen) < 150 else []:
            plain = link.split("#")[0]
            if plain.startswith("/") and plain not in seen and "/remove?" not in plain:
                seen.add(plain)
                waiting.append(plain)
    assert shown > 100
    assert len(seen) >= 150


ASKED = [
    "/find?q={}",
    "/lots/?kind={}",
    "/lots/?q={}",
    "/machines/?state={}",
    "/catalogue/designs/?q={}",
    "/ledger/?lot={}",
    "/ledger/?day={}",
    "/audit/?who={}",
    "/find/rows/designs?q={}",
    "/charts/{}/{}",
    "/designs/{}",
    "/q/{}",
    "/lots/{}",
    "/plans/{}",
    "/sheets/stash.{}",
    "/s/{}",
    "/static/{}",
    "/catalogue/{}/",
    "/sign-in?then={}",
    "/lots/add?kind={}",
]
ODD = [
    "<hostile>",
    "' OR 1=1 --",
    '"; DROP TABLE lots; --',
    "%27%20UNION%20SELECT%20password%20FROM%20accounts--",
    "../../../../etc/passwd",
    "..%2f..%2f..%2fetc%2fpasswd",
    "..\\..\\windows\\win.ini",
    "%00",
    "%ff%fe",
    "a" * 3000,
    "{{7*7}}",
    "\u202e\u0000\ud7ff",
    "%",
    "_",
]


def test_odd_texts_in_addresses_are_only_texts(visitor, shop):
    before = set(shop.stock().lots)
    for address in ASKED:
        for text in ODD:
            answer = visitor.client.get(address.replace("{}", text), follow_redirects=True, buffered=True)
            assert answer.status_code in {200, 400, 404, 405}, (address, text)
            body = answer.get_data(as_text=True)
            for inside in ("<hostile", "root:", "Traceback", "sqlite", "SELECT "):
                assert inside not in body.replace("SELECT%20", "").replace("UNION SELECT", ""), (address, text)
    assert set(shop.stock().lots) == before


def test_formulas_leave_as_texts(shop):
    visitor = Visitor(create_app(shop, secret_key="for tests only").test_client())
    for formula in ("=HYPERLINK(1)", "+1+1", "-1+1", "@SUM(1)", "\t=1", "\r=1"):
        visitor.send(f"/lots/{CARBS}/edit", note=formula)
        packed = visitor.open("/sheets/stash.zip").data
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            rows = list(csv.DictReader(io.StringIO(archive.read("lots.csv").decode())))
        kept = next(row["note"] for row in rows if row["code"] == CARBS)
        assert not kept.startswith(("=", "+", "-", "@", "\t", "\r")), kept
        with zipfile.ZipFile(io.BytesIO(visitor.open("/sheets/stash.xlsx").data)) as book:
            sheets = [book.read(name) for name in book.namelist() if name.startswith("xl/worksheets/")]
        assert not any(b"<f>" in sheet for sheet in sheets)


@pytest.mark.parametrize(
    ("path", "name"),
    [("stash.web.gaps.service.gaps", "/gaps/"), ("stash.web.access.door.look", "/lots/")],
)
def test_a_defect_shows_no_insides_to_anybody(club, monkeypatch, caplog, path, name):
    app = create_app(club, secret_key="for tests only")
    visitor = came_in(app, "guest")

    def broken(*_args, **_more):
        raise RuntimeError("secret insides of /home/somebody")

    monkeypatch.setattr(path, broken)
    answer = visitor.client.get(name)
    body = answer.get_data(as_text=True)
    assert answer.status_code == 500
    assert "Our mistake" in body
    for inside in ("secret insides", "Traceback", "RuntimeError", "/home", ".py", "sqlalchemy", "SELECT"):
        assert inside not in body
    assert "secret insides" in caplog.text


def test_a_database_that_fails_shows_no_statement(club, monkeypatch):
    from sqlalchemy.exc import OperationalError

    app = create_app(club, secret_key="for tests only")
    visitor = came_in(app, "guest")

    def broken(*_args, **_more):
        raise OperationalError("SELECT secret FROM accounts", {}, Exception("disk gone"))

    monkeypatch.setattr("stash.web.gaps.service.gaps", broken)
    body = visitor.client.get("/gaps/").get_data(as_text=True)
    assert "SELECT" not in body
    assert "disk gone" not in body
