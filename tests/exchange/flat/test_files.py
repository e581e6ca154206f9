"""Sheets as people save them, and as nobody should: a right grid or a clear error, never half."""

import csv
import io
import random
import zipfile

import pytest
import xlsxwriter
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from stash.errors import InvalidInput
from stash.exchange.flat.columns import FIELDS, fingerprint, guess_columns, name_columns
from stash.exchange.flat.files import read_flat
from stash.kernel.codes import parse_code

ROWS = [["Box", "Teil", "Anzahl"], ["A1", "Kolben Ø 38", "2"], ["A2", "Vergaser", "1"]]


def as_csv(rows, delimiter=";"):
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    return out.getvalue()


def workbook(fill):
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        fill(book)
    return out.getvalue()


def sheet_of(rows):
    def fill(book):
        sheet = book.add_worksheet("parts")
        for at, row in enumerate(rows):
            sheet.write_row(at, 0, row)

    return workbook(fill)


def texts(grid):
    return [list(grid.header), *[list(row) for _, row in grid.rows]]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
def test_any_usual_encoding_and_separator_gives_the_same_cells(encoding, delimiter):
    assert texts(read_flat("list.csv", as_csv(ROWS, delimiter).encode(encoding))) == ROWS


def test_a_first_line_that_names_the_separator_is_believed_and_rows_keep_their_numbers():
    grid = read_flat("list.csv", b"sep=;\r\na;b\r\n1,5;2\r\n")
    assert texts(grid) == [["a", "b"], ["1,5", "2"]]
    assert grid.rows[0][0] == 3


def test_a_title_and_empty_rows_above_the_header_are_passed_over():
    grid = read_flat("list.csv", as_csv([["My parts 2019"], [], *ROWS]).encode())
    assert texts(grid) == ROWS
    assert [number for number, _ in grid.rows] == [4, 5]


def test_a_workbook_gives_the_same_cells_as_a_csv():
    assert texts(read_flat("list.xlsx", sheet_of(ROWS))) == ROWS


def test_an_ods_gives_the_same_cells_as_a_csv():
    document = OpenDocumentSpreadsheet()
    table = Table(name="parts")
    for row in ROWS:
        line = TableRow()
        for text in row:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            line.addElement(cell)
        table.addElement(line)
    document.spreadsheet.addElement(table)
    out = io.BytesIO()
    document.write(out)
    assert texts(read_flat("list.ods", out.getvalue())) == ROWS


def test_what_a_file_is_is_told_by_its_content_not_its_name():
    assert texts(read_flat("list.csv", sheet_of(ROWS))) == ROWS
    assert texts(read_flat("list.xlsx", as_csv(ROWS).encode())) == ROWS


def test_headers_that_stand_there_twice_keep_all_their_cells():
    grid = read_flat("list.csv", b"note,what,note\nfirst,piston,second\n")
    assert [guess.field for guess in guess_columns(grid)] == ["note", "what", "note"]
    assert name_columns(grid.header) == ("note", "what", "note 2")


def test_ragged_rows_keep_every_cell():
    grid = read_flat("list.csv", b"what,box\npiston\ncarb,A1,extra,more\n")
    assert texts(grid) == [["what", "box", "", ""], ["piston", "", "", ""], ["carb", "A1", "extra", "more"]]
    assert [guess.field for guess in guess_columns(grid)] == ["what", "place", "note", "note"]


def test_a_header_that_stands_again_is_no_part_and_said():
    grid = read_flat("list.csv", b"what,box\npiston,A1\nwhat,box\ncarb,A1,more\n")
    assert [number for number, _ in grid.rows] == [2, 4]
    assert "The header stands again in row 3; that is no part." in grid.notes
    with pytest.raises(InvalidInput, match="no rows below its header"):
        read_flat("list.csv", b"what,box\nwhat,box\n")


def test_merged_cells_are_filled_and_said():
    def fill(book):
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["Box", "What"])
        sheet.merge_range(1, 0, 2, 0, "A1")
        sheet.write_string(1, 1, "piston")
        sheet.write_string(2, 1, "carb")

    grid = read_flat("list.xlsx", workbook(fill))
    assert texts(grid) == [["Box", "What"], ["A1", "piston"], ["A1", "carb"]]
    assert any("merged" in note for note in grid.notes)


def test_hidden_sheets_are_left_out_and_named():
    def fill(book):
        book.add_worksheet("shown").write_column(0, 0, ["What", "piston"])
        secret = book.add_worksheet("secret")
        secret.write_column(0, 0, ["What", "carb"])
        secret.hide()

    grid = read_flat("list.xlsx", workbook(fill))
    assert texts(grid) == [["What"], ["piston"]]
    assert any("secret" in note for note in grid.notes)
    assert grid.sheets == ("shown",)


def test_another_sheet_is_read_when_it_is_asked_for():
    def fill(book):
        book.add_worksheet("one").write_column(0, 0, ["What", "piston"])
        book.add_worksheet("two").write_column(0, 0, ["What", "carb"])

    data = workbook(fill)
    assert texts(read_flat("list.xlsx", data, sheet="two")) == [["What"], ["carb"]]
    with pytest.raises(InvalidInput, match="no sheet 'three'"):
        read_flat("list.xlsx", data, sheet="three")


def test_a_formula_is_the_result_its_program_stored():
    def fill(book):
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["What", "Qty"])
        sheet.write_string(1, 0, "piston")
        sheet.write_formula(1, 1, "=1+1", None, 2)

    assert texts(read_flat("list.xlsx", workbook(fill))) == [["What", "Qty"], ["piston", "2"]]


def test_a_formula_without_a_result_is_refused_rather_than_read_as_nothing():
    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(["What", "Qty"])
    book.active.append(["piston", "=1+1"])
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(InvalidInput, match="formulas without their results"):
        read_flat("list.xlsx", out.getvalue())


def test_dates_and_numbers_of_a_workbook_come_as_texts():
    import datetime as dt

    def fill(book):
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["What", "Size", "When", "Whole"])
        sheet.write_row(1, 0, ["piston", 37.95])
        sheet.write_datetime(1, 2, dt.date(2019, 4, 3), book.add_format({"num_format": "dd.mm.yyyy"}))
        sheet.write_number(1, 3, 2)

    assert texts(read_flat("list.xlsx", workbook(fill)))[1] == ["piston", "37.95", "2019-04-03", "2"]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no rows"),
        (b"\n\n ; ;\n", "no rows"),
        (b"what;box\n", "no rows below"),
        (b"%PDF-1.7\n...", "a PDF"),
        (b"\x89PNG\r\n\x1a\n", "a picture"),
        (b"\xff\xd8\xff\xe0JFIF", "a picture"),
        (b"<!DOCTYPE html><html></html>", "a web page"),
        (b"SQLite format 3\0", "a database"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(100), "old or locked"),
        (b"what\0\0\0;box\n\0piston", "not a text file"),
        (b"PK\x03\x04rubbish", "damaged"),
        (b'what;box\n"piston;A1\ncarb;A2\n', "never closed"),
    ],
)
def test_what_is_no_sheet_is_said_to_be_none(data, said):
    with pytest.raises(InvalidInput, match=said) as error:
        read_flat("list.csv", data)
    assert error.value.hint


def test_a_cell_of_ten_megabytes_is_refused():
    with pytest.raises(InvalidInput, match="line 2"):
        read_flat("list.csv", b"what;box\n" + b"x" * 10_000_000 + b";A1\n")


def test_a_zip_that_unpacks_to_too_much_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", bytes(300 * 2**20))
    with pytest.raises(InvalidInput, match="too large"):
        read_flat("list.xlsx", out.getvalue())


def test_entities_that_blow_up_are_refused():
    bomb = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;">]><worksheet>&c;</worksheet>'
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(sheet_of(ROWS))) as source, zipfile.ZipFile(out, "w") as archive:
        for entry in source.infolist():
            name = entry.filename
            archive.writestr(name, bomb if name.startswith("xl/worksheets/sheet") else source.read(name))
    with pytest.raises(InvalidInput, match="document type"):
        read_flat("list.xlsx", out.getvalue())


def with_sheet(change):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(sheet_of(ROWS))) as source, zipfile.ZipFile(out, "w") as archive:
        for entry in source.infolist():
            part = source.read(entry)
            archive.writestr(entry.filename, change(part) if "worksheets/sheet" in entry.filename else part)
    return out.getvalue()


@pytest.mark.parametrize(
    "cell",
    [
        b'<c r="XFD1048576"><v>1</v></c>',
        b"<c r='XFD1048576'><v>1</v></c>",
        b'<c s="0" r="XFD1048576"><v>1</v></c>',
        b'<x:c xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main" r="XFD1048576"><x:v>1</x:v></x:c>',
    ],
)
def test_a_cell_in_the_last_corner_is_refused_however_it_is_written(cell):
    far = with_sheet(lambda part: part.replace(b"</row></sheetData>", cell + b"</row></sheetData>"))
    with pytest.raises(InvalidInput, match="reaches to row 1048576"):
        read_flat("list.xlsx", far)


def test_a_comment_in_a_sheet_is_no_cell():
    hidden = with_sheet(lambda part: part.replace(b"</sheetData>", b'</sheetData><!-- <c r="XFD1048576"> -->'))
    assert texts(read_flat("list.xlsx", hidden)) == ROWS


def test_any_damage_to_a_workbook_is_an_error_or_a_grid_never_another_exception():
    whole = sheet_of(ROWS)
    chance = random.Random(7)
    refused = 0
    for _ in range(150):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 30)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        cut = bytes(data[: chance.randrange(len(data))]) if chance.random() < 0.3 else bytes(data)
        try:
            grid = read_flat("list.xlsx", cut)
        except InvalidInput:
            refused += 1
        else:
            assert all(len(row) == len(grid.header) for _, row in grid.rows)
    assert refused


def test_any_bytes_at_all_are_an_error_or_a_grid():
    chance = random.Random(3)
    refused = 0
    for _ in range(400):
        data = bytes(chance.choice(b';,\t"\n\r =ab12\xe9\xff\x00') for _ in range(chance.randrange(60)))
        try:
            grid = read_flat("list.csv", data)
        except InvalidInput:
            refused += 1
        else:
            assert all(len(row) == len(grid.header) for _, row in grid.rows)
    assert 0 < refused < 400


def test_the_headers_of_many_languages_are_understood():
    known = {
        "Lagerort;Bezeichnung;Teilenummer;Menge;Zustand;Preis;Kaufdatum;Bemerkung": "de",
        "Emplacement;Désignation;Référence;Qté;État;Prix;Date d'achat;Remarque": "fr",
        "Plaats;Omschrijving;Onderdeelnummer;Aantal;Staat;Prijs;Aankoopdatum;Opmerking": "nl",
        "Posto;Descrizione;Numero parte;Quantità;Condizione;Prezzo;Data acquisto;Osservazioni": "it",
        "Lugar;Descripción;Número de pieza;Cantidad;Estado;Precio;Fecha de compra;Observaciones": "es",
    }
    wanted = ["place", "what", "number", "quantity", "condition", "paid", "date", "note"]
    for header in known:
        grid = read_flat("list.csv", f"{header}\na;b;c;d;e;f;g;h\n".encode())
        assert [guess.field for guess in guess_columns(grid)] == wanted, header


def test_a_misspelt_header_and_one_without_words_are_told_by_likeness_and_content():
    grid = read_flat("list.csv", b"Quantitty,Foo\n2,FN-21.380-A\n3,FN-21.381-B\n")
    assert [(guess.field, guess.why) for guess in guess_columns(grid)] == [("quantity", "like"), ("number", "content")]


def test_a_place_whose_letters_happen_to_make_a_code_is_no_column_of_codes():
    assert parse_code("Regal 1") is not None
    grid = read_flat("list.csv", b"Wohinein,Was\nRegal 1,Kolben\nREGAL1,Kolben\n")
    assert "code" not in {guess.field for guess in guess_columns(grid)}
    grid = read_flat("list.csv", b"Foo,What\nREGAL1,piston\nregal1,piston\n")
    assert guess_columns(grid)[0].field == "code"


def test_a_choice_beats_every_guess_and_a_field_is_given_once():
    grid = read_flat("list.csv", b"Box,What\nA1,piston\n")
    fields = [guess.field for guess in guess_columns(grid, chosen={1: "place"})]
    assert fields == ["note", "place"]
    assert set(fields) <= set(FIELDS)


def test_the_fingerprint_forgets_case_and_our_own_columns_but_not_the_order():
    mark = fingerprint(["Box", "What"])
    assert mark == fingerprint(["box", "WHAT", "why it needs a look", "stash code", "stash row"])
    assert mark != fingerprint(["What", "Box"])


def test_bytes_that_nobody_typed_are_no_text_but_a_stray_sign_is_forgiven():
    with pytest.raises(InvalidInput, match="not a text file"):
        read_flat("bad.xlsx", bytes(range(1, 256)))
    assert read_flat("scanned.csv", b"what,number\n" + b"piston,AB-12\n" * 20 + b"piston,AB\x1d13\n").rows
