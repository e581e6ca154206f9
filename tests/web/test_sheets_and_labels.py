"""Spreadsheets in and out through the browser, and labels as PDF."""

import io
import zipfile

import pypdfium2
import pytest
import zxingcpp

from stash.services.labels import label_address
from stash.web import create_app
from stash.web.uploads import plain
from tests.services.workshop import BIN_A, CARB_TURNED, CARBS, RUNNER
from tests.web.conftest import Page, Visitor


def sent(visitor, name: str, data: bytes) -> Page:
    token = visitor.open("/sheets/").fields()["csrf_token"]
    form = {"csrf_token": token, "file": (io.BytesIO(data), name)}
    return Page(visitor.client.post("/sheets/check", data=form, content_type="multipart/form-data"))


def test_a_sheet_is_looked_at_first_and_then_taken_in(visitor, shop):
    page = sent(visitor, "makers.csv", b"key,name\ntan,Tansy\nfen,Fennaby\n")
    assert page.status == 200
    assert "Nothing is written yet" in page.text
    assert "tan" not in shop.catalogue().maker
    page = Page(visitor.client.post("/sheets/load", data=page.fields(), follow_redirects=True))
    assert "1 row added" in page.text
    assert shop.catalogue().maker["tan"].name == "Tansy"


def test_every_fault_of_a_sheet_is_named_with_its_place_and_mend(visitor, shop):
    page = sent(visitor, "models.csv", b"key,name,maker,generation,bore_mm\nx,X,nobody,a1,wide\n")
    assert page.status == 400
    assert "2 things need mending" in page.text
    assert "models, row 1, maker" in page.text
    assert "models, row 1, bore_mm" in page.text
    assert len(shop.catalogue().models) == 2


def test_a_file_of_another_kind_is_told(visitor):
    page = sent(visitor, "../../etc/photo.png", b"\x89PNG")
    assert page.status == 400
    assert "photo.png" in page.text
    assert "etc" not in page.text


def test_no_file_and_a_forgotten_file_are_told(visitor):
    token = visitor.open("/sheets/").fields()["csrf_token"]
    assert visitor.client.post("/sheets/check", data={"csrf_token": token}).status_code == 400
    for ticket in ("", "x" * 32, "../../../etc/passwd"):
        answer = visitor.client.post("/sheets/load", data={"csrf_token": token, "ticket": ticket})
        assert answer.status_code == 404


@pytest.mark.parametrize(
    ("name", "kept"),
    [("a/b/c.csv", "c.csv"), ("..\\x.csv", "x.csv"), ("...", "upload"), ("a\x00b.csv", "a_b.csv"), ("", "upload")],
)
def test_a_path_in_a_file_name_is_dropped(name, kept):
    assert plain(name) == kept


def test_what_is_taken_home_loads_into_an_empty_stash(visitor, make_url_of):
    answer = visitor.client.get("/sheets/stash.zip")
    assert answer.mimetype == "application/zip"
    assert "lots.csv" in zipfile.ZipFile(io.BytesIO(answer.data)).namelist()
    from stash.db.store import open_store

    other = open_store(make_url_of("sqlite"))
    empty = Visitor(create_app(other, secret_key="for tests only").test_client())
    page = sent(empty, "stash.zip", answer.data)
    assert page.status == 200
    Page(empty.client.post("/sheets/load", data=page.fields(), follow_redirects=True))
    assert empty.client.get("/sheets/stash.zip").data == answer.data
    other.close()


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_workbooks_are_sent_too(visitor, kind):
    answer = visitor.client.get(f"/sheets/stash.{kind}")
    assert answer.status_code == 200
    assert answer.data[:2] == b"PK"
    assert visitor.client.get("/sheets/stash.exe").status_code == 404


def test_the_archive_holds_tables_and_ledger(visitor):
    answer = visitor.client.get("/sheets/archive.zip", buffered=True)
    names = zipfile.ZipFile(io.BytesIO(answer.data)).namelist()
    assert any("manifest" in name for name in names)
    assert len(names) > 2


def codes_on(pdf: bytes) -> set[str]:
    picture = pypdfium2.PdfDocument(pdf)[0].render(scale=3).to_pil()
    return {found.text for found in zxingcpp.read_barcodes(picture)}


def printed(visitor, address: str, **typed: str):
    fields = {**visitor.open(address).fields(), "do": "print", **typed}
    return visitor.client.post("/labels/sheet", data=fields)


def test_a_label_is_printed_and_reads_back(shop):
    app = create_app(shop, secret_key="for tests only", base_url="http://stash.local")
    visitor = Visitor(app.test_client())
    answer = printed(visitor, f"/labels/?codes={CARBS.lower()}")
    assert answer.mimetype == "application/pdf"
    assert codes_on(answer.data) == {f"HTTP://STASH.LOCAL/Q/{CARBS}"}


def test_a_bin_is_printed_with_all_in_it(visitor):
    answer = printed(visitor, f"/labels/?inside={BIN_A}", first="3")
    assert {text[-6:] for text in codes_on(answer.data)} == {BIN_A, CARBS, CARB_TURNED}


def test_what_was_printed_is_not_offered_again(visitor):
    assert "12 labels" in visitor.open("/labels/?not_printed=yes").text
    printed(visitor, f"/labels/?codes={RUNNER}")
    page = visitor.open("/labels/?not_printed=yes")
    assert "11 labels" in page.text
    assert RUNNER not in page.fields()["codes"]


def test_looking_first_shows_the_sheet_and_remembers_nothing(visitor):
    fields = {**visitor.open(f"/labels/?codes={CARBS}").fields(), "do": "look"}
    page = Page(visitor.client.post("/labels/sheet", data=fields))
    assert 'src="data:image/png;base64,' in page.body
    assert "12 labels" in visitor.open("/labels/?not_printed=yes").text


def test_a_calibration_page_is_a_pdf(visitor):
    fields = {**visitor.open(f"/labels/?codes={CARBS}").fields(), "do": "calibrate"}
    assert visitor.client.post("/labels/sheet", data=fields).data.startswith(b"%PDF")


def test_a_bad_number_or_code_loses_nothing(visitor):
    fields = {**visitor.open(f"/labels/?codes={CARBS}").fields(), "do": "print", "first": "99"}
    page = Page(visitor.client.post("/labels/sheet", data=fields))
    assert page.status == 400
    assert page.fields()["first"] == "99"
    assert page.fields()["codes"] == CARBS
    page = visitor.open("/labels/?codes=RUBBISH")
    assert page.status == 400
    assert "RUBBISH" in page.fields()["codes"]


def test_the_address_on_labels_is_kept(visitor, shop):
    page = visitor.send("/labels/address", open_at="/labels/", address="http://192.0.2.7:8470/")
    assert "HTTP://192.0.2.7:8470" in page.text
    assert label_address(shop) == "HTTP://192.0.2.7:8470"
    page = visitor.send("/labels/address", open_at="/labels/", address="stash")
    assert page.status == 400
    assert page.problem("address")
    assert page.fields()["address"] == "stash"


def test_a_sheet_goes_on_where_it_stopped(visitor):
    printed(visitor, f"/labels/?inside={BIN_A}", copies="2")
    answer = printed(visitor, f"/labels/?codes={RUNNER}")
    picture = pypdfium2.PdfDocument(answer.data)[0].render(scale=3).to_pil()
    (found,) = zxingcpp.read_barcodes(picture)
    assert found.position.top_left.y > picture.height / 5  # six were printed, three in a row: it opens the third row


def test_a_printers_corrections_are_kept_and_taken_up_again(visitor):
    printed(visitor, f"/labels/?codes={CARBS}", offset_x_mm="1.5", scale="1.01", printer="laser upstairs")
    fields = visitor.open(f"/labels/?codes={CARBS}&printer=laser upstairs").fields()
    assert fields["offset_x_mm"] == "1.5"
    assert fields["scale"] == "1.01"
    page = visitor.send("/labels/printers/remove", open_at="/labels/stocks", name="laser upstairs")
    assert "laser upstairs is forgotten" in page.text


def test_a_stock_of_ones_own_is_kept_by_its_dimensions(visitor):
    size = {"page_w_mm": "60", "page_h_mm": "40", "label_w_mm": "60", "label_h_mm": "40", "qr_mm": "30"}
    page = visitor.send("/labels/stocks", key="jar-lid", name="Jar lids", form="roll", **{**size, "label_w_mm": "70"})
    assert page.status == 400
    assert page.fields()["key"] == "jar-lid"
    page = visitor.send("/labels/stocks", key="jar-lid", name="Jar lids", form="roll", **size)
    assert "Jar lids is kept: 1 labels a page" in page.text
    assert 'value="jar-lid"' in visitor.open(f"/labels/?codes={CARBS}").body
    page = visitor.send("/labels/stocks/jar-lid/remove", open_at="/labels/stocks")
    assert "jar-lid is forgotten" in page.text


def test_a_stock_is_looked_at_before_it_is_kept(visitor):
    size = {"page_w_mm": "60", "page_h_mm": "40", "label_w_mm": "60", "label_h_mm": "40", "qr_mm": "30"}
    sent = {"key": "jar-lid", "name": "Jar lids", "form": "roll", **size}
    page = visitor.send("/labels/stocks", do="look", **sent)
    assert page.status == 200
    assert "data:image/png;base64," in page.body
    assert page.fields()["key"] == "jar-lid"
    assert 'value="jar-lid"' not in visitor.open(f"/labels/?codes={CARBS}").body, "looking keeps nothing"
    page = visitor.send("/labels/stocks", do="look", **{**sent, "label_w_mm": "70"})
    assert page.status == 400
    assert "data:image/png" not in page.body


def test_what_a_list_shows_gets_its_labels_and_nothing_else(visitor):
    body = visitor.open("/lots/?kind=carb").body
    assert "listed=yes" in body
    page = visitor.open("/labels/?kind=carb&listed=yes")
    assert CARBS in page.body
    assert visitor.open("/labels/?kind=boot&listed=yes").body.count(CARBS) == 0


def test_a_stock_that_is_being_typed_is_drawn_and_what_can_not_be_drawn_is_said(visitor):
    size = {"page_w_mm": "60", "page_h_mm": "40", "label_w_mm": "60", "label_h_mm": "40", "qr_mm": "30"}
    sent = {"key": "jar-lid", "name": "Jar lids", "form": "roll", **size}
    form = {**visitor.open("/labels/stocks").fields(), **sent}
    drawn = visitor.client.post("/labels/stocks/look", data=form)
    assert (drawn.status_code, drawn.mimetype) == (200, "image/png")
    refused = visitor.client.post("/labels/stocks/look", data={**form, "label_w_mm": "70"})
    assert refused.status_code == 400
