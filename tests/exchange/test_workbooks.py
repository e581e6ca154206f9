"""Workbooks in and out: real types, inert texts, nothing trusted."""

import datetime as dt
import io
import re
import resource
import zipfile

import openpyxl
import pytest
from odf.opendocument import load as load_odf
from odf.table import Table as OdfTable

from stash.errors import InvalidInput
from stash.exchange import read_bytes, render_bytes
from stash.exchange.raw import MOST_COLUMNS, MOST_ROWS
from stash.exchange.workbooks import cell_text
from stash.kernel.tables import TABLE_BY_NAME, TABLES

LOT = [
    "7K3QX9",
    "carb",
    "=c14",
    "3",
    "good",
    "looked",
    "",
    "00123",
    "",
    "1974-05-31",
    "18.50",
    "@x\nsecond  line\n   third",
]
TABLES_OUT = {
    "lots": [(LOT + [""] * 20)[: len(TABLE_BY_NAME["lots"].columns)]],
    "kinds": [["carb", "carburettor", "intake", "no", "", "+1 if dirty", ""]],
    "measures": [["carb", "venturi_mm", "venturi", "number", "mm", "", "0.05", "none", "20", ""]],
    "design_measures": [["c14", "venturi_mm", "14.05", "", "0.000001"], ["c14", "turn", "007", "", ""]],
    "machines": [["7K3QX9", "m1", "1968", "0815", "runner", "", "1899-12-31", "", "", "2.5", ""]],
}
CONTENT = (
    '<?xml version="1.0" encoding="UTF-8"?>{doctype}<office:document-content '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" office:version="1.2"><office:body>'
    '<office:spreadsheet><table:table table:name="makers">{rows}</table:table></office:spreadsheet></office:body>'
    "</office:document-content>"
)
SHEET = (
    '<?xml version="1.0" encoding="UTF-8"?>{doctype}'
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{rows}</sheetData></worksheet>'
)


@pytest.fixture(scope="module")
def book():
    return openpyxl.load_workbook(io.BytesIO(render_bytes(".xlsx", TABLES_OUT)))


def column(book, table, name):
    sheet = book[table]
    return next(cells[1] for cells in sheet.iter_cols() if cells[0].value == name)


def changed(suffix, part, text):
    """One of our workbooks with one of its parts replaced."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(render_bytes(suffix, {}))) as old, zipfile.ZipFile(out, "w") as new:
        for entry in old.infolist():
            new.writestr(entry.filename, text if entry.filename == part else old.read(entry))
    return out.getvalue()


def ods(rows, doctype=""):
    return changed(".ods", "content.xml", CONTENT.format(rows=rows, doctype=doctype))


def xlsx(rows, doctype=""):
    return changed(".xlsx", "xl/worksheets/sheet2.xml", SHEET.format(rows=rows, doctype=doctype))


def test_the_workbook_begins_with_a_sheet_that_explains_each_table(book):
    """Against: openpyxl."""
    assert book.sheetnames == ["About", *(table.name for table in TABLES)]
    told = {row[0].value: row[1].value for row in book["About"].iter_rows() if row[0].value in TABLE_BY_NAME}
    assert told == {table.name: table.about for table in TABLES}
    links = [cell.hyperlink.location for row in book["About"].iter_rows() for cell in row if cell.hyperlink]
    assert links == [f"'{table.name}'!A1" for table in TABLES]


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_sheet_has_a_frozen_bold_header_and_a_filter(book, table):
    """Against: openpyxl."""
    sheet = book[table.name]
    assert sheet.freeze_panes == "A2"
    assert sheet.auto_filter.ref.startswith("A1:")
    assert tuple(cell.value for cell in sheet[1]) == table.names
    assert all(cell.font.bold for cell in sheet[1])
    assert all(8 <= width.width <= 61 for width in sheet.column_dimensions.values())


@pytest.mark.parametrize(
    ("table", "name", "value", "form"),
    [
        ("lots", "quantity", 3, "0"),
        ("lots", "acquired_on", dt.datetime(1974, 5, 31), "yyyy-mm-dd"),  # noqa: DTZ001 - workbooks know no zone
        ("lots", "paid", 18.5, "0.00"),
        ("lots", "number_seen", "00123", "@"),
        ("lots", "note", "@x\nsecond  line\n   third", "@"),
        ("kinds", "safety_critical", "no", "@"),
        ("machines", "serial", "0815", "@"),
        ("machines", "year", 1968, "0"),
        ("machines", "acquired_on", "1899-12-31", "yyyy-mm-dd"),
        ("machines", "value", 2.5, "General"),
        ("design_measures", "value", 14.05, "General"),
    ],
)
def test_cells_have_their_real_types(book, table, name, value, form):
    """Against: openpyxl."""
    cell = column(book, table, name)
    assert (cell.value, cell.number_format) == (value, form)


def test_no_text_becomes_a_formula(book):
    """Against: openpyxl, which marks formulas with the type f."""
    assert column(book, "lots", "design").value == "=c14"
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert kinds <= {"s", "n", "d"}


def test_columns_of_choices_offer_their_words(book):
    """Against: openpyxl."""
    offered = {rule.formula1 for rule in book["machines"].data_validations.dataValidation}
    assert '"runner,display,project,donor,stripped,loaned,gone"' in offered


@pytest.mark.parametrize("suffix", [".xlsx", ".ods"])
def test_every_cell_comes_back_as_the_text_it_was(suffix):
    read = read_bytes("t" + suffix, render_bytes(suffix, TABLES_OUT))
    assert set(read) == set(TABLE_BY_NAME)
    for name, rows in TABLES_OUT.items():
        width = len(TABLE_BY_NAME[name].columns)
        back = [(row + [""] * width)[:width] for _, row in read[name].rows]
        assert back == [["18.5" if cell == "18.50" else cell for cell in row] for row in rows]


def test_the_ods_is_one_that_its_own_library_reads():
    """Against: odfpy."""
    document = load_odf(io.BytesIO(render_bytes(".ods", TABLES_OUT)))
    names = [table.getAttribute("name") for table in document.spreadsheet.getElementsByType(OdfTable)]
    assert names == ["About", *(table.name for table in TABLES)]


def test_an_ods_starts_with_its_plain_media_type():
    """Source: OpenDocument 1.2 part 3, section 3.3: first entry, stored, without extra field."""
    data = render_bytes(".ods", {})
    assert data[30:38] == b"mimetype"
    assert data[38:84] == b"application/vnd.oasis.opendocument.spreadsheet"


def test_a_workbook_made_elsewhere_is_read_with_its_types():
    """Against: openpyxl as the other program."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Design Measures"
    sheet.append(["design ", "measure", "value", "minus", "plus", None])
    sheet.append(["c14", "venturi_mm", 14.0, 0.05, None, None])
    sheet.append([])
    sheet.append(["c15", "choke", True, None, None])
    sheet.append(["c15", "seen", dt.date(1974, 5, 31), 1e-06, 7000])
    empty = book.create_sheet("Sheet2")
    empty["A1"] = " "
    out = io.BytesIO()
    book.save(out)
    tables = read_bytes("t.XLSX", out.getvalue())
    table = tables.pop("design_measures")
    assert table.header == ("design", "measure", "value", "minus", "plus")
    assert [(number, row[:5]) for number, row in table.rows] == [
        (1, ["c14", "venturi_mm", "14", "0.05", ""]),
        (3, ["c15", "choke", "yes", "", ""]),
        (4, ["c15", "seen", "1974-05-31", "0.000001", "7000"]),
    ]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "yes"),
        (False, "no"),
        (38.2, "38.2"),
        (7000.0, "7000"),
        (1e-6, "0.000001"),
        (1e21, "1" + "0" * 21),
        (float("nan"), "nan"),
        (float("inf"), "inf"),
        (12, "12"),
        (dt.datetime(1974, 5, 31), "1974-05-31"),  # noqa: DTZ001 - workbooks know no zone
        (dt.datetime(1974, 5, 31, 12, 30), "1974-05-31T12:30:00"),  # noqa: DTZ001
        (dt.time(12, 30), "12:30:00"),
        (dt.timedelta(hours=1), "1:00:00"),
        ("#REF!", "#REF!"),
    ],
)
def test_typed_cells_become_our_texts(value, text):
    assert cell_text(value) == text


def test_two_sheets_for_one_table_are_refused_by_name():
    book = openpyxl.Workbook()
    for title in ("Makers", "makers "):
        book.create_sheet(title).append(["key"])
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(InvalidInput, match="two sheets for makers") as caught:
        read_bytes("t.xlsx", out.getvalue())
    assert caught.value.problems[0].table == "makers"


TEXT = '<table:table-cell office:value-type="string"><text:p>x</text:p></table:table-cell>'
BOMB = '<!DOCTYPE a [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]>'


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (ods(f"<table:table-row>{TEXT}</table:table-row>", BOMB), "document type"),
        (xlsx('<row r="1"><c r="A1"><v>1</v></c></row>', BOMB), "document type"),
        (xlsx('<row r="1"><c r="XFD1"><v>1</v></c></row>'), "column 16384"),
        (xlsx('<row r="9999999"><c r="A9999999"><v>1</v></c></row>'), "row 9999999"),
        (xlsx('<row r="9999999"><c><v>1</v></c></row>'), "row 9999999"),
        (xlsx("<row>" + "<c><v>1</v></c>" * (MOST_COLUMNS + 1) + "</row>"), f"column {MOST_COLUMNS + 1}"),
        (xlsx(f'<row r="{MOST_ROWS}"><c r="IV{MOST_ROWS}"><v>1</v></c></row>'), "too many cells"),
        (ods(f'<table:table-row table:number-rows-repeated="999999999">{TEXT}</table:table-row>'), "row 999999999"),
        (
            ods(f'<table:table-row table:number-rows-repeated="999999999"/><table:table-row>{TEXT}</table:table-row>'),
            "row 1000000000",
        ),
        (
            ods(f'<table:table-row><table:table-cell table:number-columns-repeated="9999"/>{TEXT}</table:table-row>'),
            "column 10000",
        ),
        (ods('<table:table-row table:number-rows-repeated="-1"/>'), "damaged"),
        (ods("<table:table-row>"), "damaged"),
        (changed(".xlsx", "xl/worksheets/sheet2.xml", '<?xml version="1.0" encoding="UTX-8"?><worksheet/>'), "damaged"),
    ],
    ids=[
        "entities ods",
        "entities xlsx",
        "last column",
        "last row",
        "last row unnamed",
        "wide without names",
        "far corner",
        "rows repeated",
        "gap repeated",
        "columns repeated",
        "minus one",
        "cut off",
        "unknown encoding",
    ],
)
def test_a_workbook_that_blows_up_is_refused_before_it_does(data, told):
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(InvalidInput, match=re.escape(told)) as caught:
        read_bytes("t.xlsx" if b"worksheets" in data else "t.ods", data)
    assert caught.value.hint
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000  # kilobytes


def test_a_sheet_that_is_empty_to_its_last_row_and_column_is_read():
    """What spreadsheet programs write below and beside a table; common practice, no source."""
    rest = '<table:table-cell table:number-columns-repeated="16383"/>'
    below = f'<table:table-row table:number-rows-repeated="1048574"><table:table-cell/>{rest}</table:table-row>'
    data = ods(f"<table:table-row>{TEXT}{rest}</table:table-row><table:table-row>{TEXT}{rest}</table:table-row>{below}")
    assert read_bytes("t.ods", data)["makers"].rows == [(1, ["x"])]


def test_a_workbook_of_another_program_by_our_ending_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("word/document.xml", "<a/>")
    for name in ("t.xlsx", "t.ods"):
        with pytest.raises(InvalidInput, match="not a workbook"):
            read_bytes(name, out.getvalue())


def test_a_workbook_locked_with_a_password_is_told_so():
    manifest = "<manifest:manifest><manifest:encryption-data/></manifest:manifest>"
    for name, data in (
        ("t.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)),
        ("t.ods", changed(".ods", "META-INF/manifest.xml", manifest)),
    ):
        with pytest.raises(InvalidInput, match="locked with a password"):
            read_bytes(name, data)


def test_columns_left_of_a_table_and_rows_above_it_are_not_cut_off():
    book = openpyxl.Workbook()
    book.active.title = "makers"
    book.active["B2"] = "key"
    out = io.BytesIO()
    book.save(out)
    table = read_bytes("t.xlsx", out.getvalue())["makers"]
    assert (table.header, table.rows) == ((), [(1, ["", "key"])])
