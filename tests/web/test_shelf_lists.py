"""A shelf list through the screens, without scripts: columns, questions, every row, then one entry of the history."""

import csv
import io
import re
from pathlib import Path

import pytest

from stash.db.store import open_store
from stash.services.demo import load_demo
from stash.services.flat_sheet import Choices, accept
from stash.web import create_app
from tests.services.workshop import BIN_A
from tests.web.conftest import Page, Visitor

KEPT = Path(__file__).parents[1] / "services" / "shelf_list" / "as_kept.csv"
HEADER = "Box;What;Number;Qty;Condition;Note\n"
FIRST = HEADER + "Bin A;carb;FN-11.120-A;2;good;first\nCrate;boot;;3;new;\nCrate;gizmo;;1 bag;good;what is it\n"


def send(visitor, data, name="my list.csv", **more):
    """Choose a file and send it; gives the page it leads to and its address."""
    token = visitor.open("/sheets/shelf/").fields()["csrf_token"]
    form = {"csrf_token": token, "file": (io.BytesIO(data), name), **more}
    answer = visitor.client.post("/sheets/shelf/", data=form, content_type="multipart/form-data")
    if answer.status_code != 303:
        return Page(answer), ""
    return visitor.open(answer.headers["Location"]), answer.headers["Location"]


def press(visitor, page, address, **typed):
    """Send a page's fields, with some typed over, to an address."""
    return Page(visitor.client.post(address, data={**page.fields(), **typed}, follow_redirects=True))


@pytest.fixture
def mapped(visitor):
    """The first list with its columns confirmed: its page and address."""
    page, address = send(visitor, FIRST.encode())
    return press(visitor, page, f"{address}/columns"), address


def test_each_column_is_shown_with_what_it_is_taken_for_and_why(visitor):
    page, _ = send(visitor, FIRST.encode())
    fields = page.fields()
    assert [fields[f"c{at}"] for at in range(6)] == ["place", "what", "number", "quantity", "condition", "note"]
    assert page.text.count("its header says so") == 6
    assert "FN-11.120-A" in page.text


def test_a_column_taken_for_something_else_changes_what_rows_become(visitor):
    page, address = send(visitor, FIRST.encode())
    page = press(visitor, page, f"{address}/columns", c3="note")
    assert "Qty: 2" in visitor.open(f"{address}?show=all").text
    assert "quantity: 2" not in visitor.open(f"{address}?show=all").text
    assert "What each column is" in page.text


def test_two_columns_cannot_be_the_same_thing(visitor):
    page, address = send(visitor, FIRST.encode())
    page = press(visitor, page, f"{address}/columns", c5="what")
    assert page.status == 400
    assert "'What' and 'Note' can't both be 'what it is'" in page.text
    assert page.fields()["c5"] == "what"
    assert press(visitor, page, f"{address}/columns", c5="nonsense").status == 400


def test_nothing_is_written_before_the_last_step(visitor, shop, mapped):
    page, _ = mapped
    assert "2 new lots" in page.text
    assert "1 unclear" in page.text
    assert not [lot for lot in shop.stock().lots.values() if lot.note == "first"]


def test_an_answer_is_asked_for_once_and_settles_its_rows(visitor, mapped):
    page, address = mapped
    assert "3 questions" in page.text
    asked = {name: key for name, key in page.fields().items() if re.fullmatch(r"q\d", name)}
    at = next(name[1:] for name, key in asked.items() if key == "what:gizmo")
    count = next(name[1:] for name, key in asked.items() if key == "quantity:1 bag")
    page = press(
        visitor, page, f"{address}/answers", **{f"a{at}": "kind:carb", f"a{count}": "other", f"t{count}": "12"}
    )
    assert "0 unclear" in page.text
    assert "quantity: 12" in visitor.open(f"{address}?show=new").text
    assert "carburettor, not identified" in visitor.open(f"{address}?show=new").text


def test_an_answer_can_be_opened_again(visitor, mapped):
    page, address = mapped
    answer = {"csrf_token": page.fields()["csrf_token"], "q0": "what:gizmo"}
    page = press(visitor, page, f"{address}/answers", **answer, a0="kind:carb")
    assert "2 questions" in page.text
    page = Page(visitor.client.post(f"{address}/answers", data={**answer, "a0": ""}, follow_redirects=True))
    assert "3 questions" in page.text


def test_the_columns_that_tell_rows_apart_are_ticked(visitor, mapped):
    page, address = mapped
    form = {"csrf_token": page.fields()["csrf_token"], "q0": "keys", "a0": ["place", "what"]}
    page = Page(visitor.client.post(f"{address}/answers", data=form, follow_redirects=True))
    ticked = re.findall(r'type="checkbox" id="a\d+-\d+" name="a\d+" value="(\w+)" checked', page.body)
    assert ticked == ["place", "what"]


def test_a_single_row_is_kept_out_or_said_to_be_a_lot(visitor, mapped, shop):
    page, address = mapped
    page = press(visitor, page, f"{address}/rows", r4="hold")
    assert "1 held" in page.text
    lot = next(iter(shop.stock().lots))
    page = visitor.open(f"{address}?show=new")
    page = press(visitor, page, f"{address}/rows", l2=lot)
    page = visitor.open(f"{address}?show=changed")
    assert "→" in page.text
    assert lot[:3] in page.text


def test_taken_in_it_is_one_entry_that_is_taken_back_as_one(visitor, shop, mapped):
    page, address = mapped
    before = shop.stock()
    page = press(visitor, page, f"{address}/accept")
    assert "3 lots new, 0 changed" in page.text
    assert len(shop.stock().lots) == len(before.lots) + 3
    assert "Labels for what is new" in page.text
    undo = re.search(r'action="(/ledger/\d+/undo)"', page.body)[1]
    page = press(visitor, page, undo)
    assert sum(lot.quantity for lot in shop.stock().lots.values()) == sum(lot.quantity for lot in before.lots.values())


def test_unclear_rows_are_kept_out_where_that_is_ticked(visitor, shop, mapped):
    page, address = mapped
    page = press(visitor, page, f"{address}/accept", unclear="hold")
    assert "2 lots new" in page.text
    assert "1 rows left out" in page.text


def test_the_same_list_later_changes_its_lots_field_by_field(visitor, shop, mapped):
    page, address = mapped
    press(visitor, page, f"{address}/accept")
    lots = len(shop.stock().lots)
    page, address = send(visitor, FIRST.replace(";2;good;first", ";1;excellent;first").encode())
    assert "taken in before" in page.text
    assert "1 lot changed" in page.text
    changed = visitor.open(f"{address}?show=changed").text
    assert "condition good → excellent" in changed
    assert "quantity 2 → 1" in changed
    press(visitor, page, f"{address}/accept")
    assert len(shop.stock().lots) == lots


def test_a_sheet_that_was_taken_in_is_not_taken_in_twice(visitor, mapped):
    page, address = mapped
    press(visitor, page, f"{address}/accept")
    assert press(visitor, page, f"{address}/accept").status == 404


def test_what_was_shown_is_what_is_done_or_nothing(visitor, shop, mapped):
    page, address = mapped
    accept(shop, "other.csv", b"stash code,Qty,Box,What\n,5,Crate,boot\n", Choices(), "somebody else")
    again = press(visitor, page, f"{address}/accept")
    assert "changed in the meantime" in again.text
    assert "Nothing was written" in again.text
    assert "3 lots new" in press(visitor, again, f"{address}/accept").text


def test_rejects_are_downloaded_mended_and_come_back_to_their_lots(visitor, shop, mapped):
    page, address = mapped
    press(visitor, page, f"{address}/accept")
    rows = list(csv.reader(io.StringIO(visitor.client.get(f"{address}/needs-a-look.csv").data.decode("utf-8-sig"))))
    assert len(rows) == 2
    assert "gizmo" in rows[1]
    rows[1][1], rows[1][3] = "carb", "4"
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    lots = len(shop.stock().lots)
    page, address = send(visitor, out.getvalue().encode(), "mended.csv")
    press(visitor, page, f"{address}/accept")
    assert len(shop.stock().lots) == lots
    assert [(lot.kind, lot.quantity) for lot in shop.stock().lots.values() if "what is it" in lot.note] == [("carb", 4)]
    assert visitor.client.get(f"{address}/needs-a-look.xlsx").data[:2] == b"PK"
    assert visitor.client.get(f"{address}/needs-a-look.exe").status_code == 404


def test_what_is_wrong_with_a_row_is_said_and_it_stays_out(visitor, shop):
    page, address = send(visitor, b"stash code;What;Qty\nABC;carb;1\n;boot;1\n")
    page = press(visitor, page, f"{address}/columns")
    assert "1 wrong" in page.text
    assert "'ABC' is no code of ours" in visitor.open(f"{address}?show=wrong").text
    page = press(visitor, page, f"{address}/accept")
    assert "1 lots new" in page.text
    assert "1 rows left out" in page.text


def test_a_long_list_is_paged(visitor):
    rows = "".join(f"Bin A;carb;;1;good;number {at}\n" for at in range(130))
    page, address = send(visitor, (HEADER + rows).encode())
    page = press(visitor, page, f"{address}/columns")
    assert "Page 1 of 4" in page.text
    assert "number 39" in page.text
    assert "number 40" not in page.text
    last = visitor.open(f"{address}?show=new&page=4")
    assert "number 129" in last.text
    assert len(page.data) < 100_000
    assert "Page 4 of 4" in visitor.open(f"{address}?show=new&page=99").text


def test_another_sheet_of_a_workbook_and_another_encoding_are_chosen(visitor):
    import xlsxwriter

    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        for name, what in (("first", "carb"), ("second", "boot")):
            sheet = book.add_worksheet(name)
            sheet.write_row(0, 0, ["What", "Qty"])
            sheet.write_row(1, 0, [what, 2])
    page, address = send(visitor, out.getvalue(), "two.xlsx")
    assert "Another sheet of the workbook" in page.text
    page = press(visitor, page, f"{address}/columns", sheet="second")
    assert "boot" in page.text
    assert page.fields()["sheet"] == "second"
    page, address = send(visitor, "What;Qty\nřetěz;1\n".encode("cp1250"))
    assert "řetěz" not in page.text
    assert "řetěz" in press(visitor, page, f"{address}/columns", encoding="cp1250").text
    assert press(visitor, page, f"{address}/columns", encoding="ebcdic").status == 400


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("photo.xlsx", b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "is a picture, not a sheet"),
        ("empty.csv", b"", "no rows"),
        ("deep.csv", b'What\n"never closed\n', "quotation mark"),
        ("broken.xlsx", b"PK\x03\x04broken", "broken.xlsx"),
    ],
)
def test_what_is_no_sheet_is_told_and_not_kept(visitor, name, data, said):
    page, address = send(visitor, data, name)
    assert page.status == 400
    assert said in page.text
    assert address == ""


def test_no_file_and_a_forgotten_sheet_are_told(visitor):
    token = visitor.open("/sheets/shelf/").fields()["csrf_token"]
    assert visitor.client.post("/sheets/shelf/", data={"csrf_token": token}).status_code == 400
    for ticket in ("x" * 32, "..", ".said"):
        assert visitor.client.get(f"/sheets/shelf/{ticket}").status_code == 404
        assert visitor.client.post(f"/sheets/shelf/{ticket}/accept", data={"csrf_token": token}).status_code == 404


def test_a_form_without_its_seal_changes_nothing(visitor, shop, mapped):
    page, address = mapped
    before = shop.stock()
    fields = {name: text for name, text in page.fields().items() if name != "csrf_token"}
    assert visitor.client.post(f"{address}/accept", data=fields).status_code == 400
    assert shop.stock() == before


def test_cells_are_shown_as_text_and_not_run(visitor):
    page, address = send(visitor, (HEADER + '"<script>alert(1)</script>";<b>carb;;1;good;=1+1\n').encode())
    page = press(visitor, page, f"{address}/columns")
    assert "<script>alert" not in page.body
    assert "<b>carb" not in page.body
    assert BIN_A not in page.text


def test_the_shelf_list_as_it_was_kept_comes_in_with_no_row_lost(make_url_of):
    store = open_store(make_url_of("sqlite"))
    load_demo(store)
    before = set(store.stock().lots)
    visitor = Visitor(create_app(store, secret_key="for tests only").test_client())
    page, address = send(visitor, KEPT.read_bytes(), "as_kept.csv")
    page = press(visitor, page, f"{address}/columns")
    assert "63 rows" in page.text
    shown = "".join(visitor.open(f"{address}?show=all&page={at}").text for at in (1, 2))
    assert all(f"row {number} " in shown for number in range(2, 65) if number != 28)
    page = press(visitor, page, f"{address}/accept")
    assert "63 lots new" in page.text
    assert len(set(store.stock().lots) - before) == 63
    store.close()
