"""Whole tables in workbooks and files as other programs leave them: a clear error or a right load, never half."""

import io
import zipfile

import openpyxl
import pytest
import xlsxwriter

from stash.services.tables import export, load_bytes


def book(fill):
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as made:
        fill(made)
    return out.getvalue()


def makers(*rows):
    def fill(made):
        sheet = made.add_worksheet("makers")
        for at, row in enumerate([("key", "name", "note"), *rows]):
            sheet.write_row(at, 0, row)

    return book(fill)


def problems(store, name, data):
    report = load_bytes(store, name, data, "owner")
    assert not store.catalogue().makers
    assert not store.stock().machines
    return [(problem.row, problem.column, problem.problem) for problem in report.errors]


def in_sheet(data, old, new):
    """Rewrite a workbook's sheets."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for entry in source.infolist():
            archive.writestr(entry.filename, source.read(entry).replace(old, new))
    return out.getvalue()


def test_a_header_that_stands_there_twice_is_told(other_store):
    twice = makers(("fen", "Fennaby", ""))
    said = (0, "name", "is there twice")
    assert problems(other_store, "makers.csv", b"key,name,name\nfen,Fennaby,Other\n") == [said]
    assert said in problems(other_store, "t.xlsx", in_sheet(twice, b">note<", b">name<"))


def test_ragged_rows_are_told_where_they_hold_too_much_or_too_little(other_store):
    assert problems(other_store, "makers.csv", b"key,name\nfen,Fennaby,more\nrud\n") == [
        (1, "", "has more cells than the header has columns"),
        (2, "name", "is empty"),
    ]


def test_rows_that_are_longer_by_empty_cells_only_are_taken(other_store):
    assert load_bytes(other_store, "makers.csv", b"key,name\nfen,Fennaby,,\nrud,Ruddlow\n", "owner").ok


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("makers.csv", b"key,name\nfen," + b"x" * 10_000_000 + b"\n"),
        ("t.xlsx", in_sheet(makers(("fen", "Fennaby", "")), b">Fennaby<", b">" + b"x" * 10_000_000 + b"<")),
    ],
    ids=["csv", "xlsx"],
)
def test_a_cell_of_ten_megabytes_is_refused(other_store, name, data):
    (told,) = problems(other_store, name, data)
    assert "too long" in told[2] or "larger than field limit" in told[2]


def test_merged_cells_are_filled_with_their_common_text(other_store):
    def fill(made):
        sheet = made.add_worksheet("makers")
        sheet.write_row(0, 0, ["key", "name", "note"])
        sheet.write_row(1, 0, ["fen", "Fennaby"])
        sheet.write_row(2, 0, ["rud", "Ruddlow"])
        sheet.merge_range(1, 2, 2, 2, "sisters")

    assert load_bytes(other_store, "t.xlsx", book(fill), "owner").ok
    assert {row[2] for row in export(other_store)["makers"]} == {"sisters"}


def test_a_table_in_a_hidden_sheet_is_loaded_like_any_other(other_store):
    def fill(made):
        made.add_worksheet("makers").write_row(0, 0, ["key", "name"])
        hidden = made.add_worksheet("families")
        hidden.write_row(0, 0, ["key", "name"])
        hidden.write_row(1, 0, ["a", "engine A"])
        hidden.hide()

    assert load_bytes(other_store, "t.xlsx", book(fill), "owner").tables["families"].added == 1


def test_a_formula_is_the_result_its_program_stored(other_store):
    def fill(made):
        sheet = made.add_worksheet("makers")
        sheet.write_row(0, 0, ["key", "name"])
        sheet.write(1, 0, "fen")
        sheet.write_formula(1, 1, '="Fenn"&"aby"', None, "Fennaby")

    assert load_bytes(other_store, "t.xlsx", book(fill), "owner").ok
    assert [row.name for row in other_store.catalogue().makers] == ["Fennaby"]


def test_a_formula_without_a_result_is_refused_rather_than_lost(other_store):
    made = openpyxl.Workbook()
    made.active.title = "makers"
    made.active.append(["key", "name", "note"])
    made.active.append(["fen", "Fennaby", '="a"&"b"'])
    out = io.BytesIO()
    made.save(out)
    (told,) = problems(other_store, "t.xlsx", out.getvalue())
    assert "formulas without their results (1 cells)" in told[2]


def test_a_day_that_is_a_bare_number_is_told_with_how_to_write_it(other_store):
    def fill(made):
        sheet = made.add_worksheet("places")
        sheet.write_row(0, 0, ["code", "name", "counted_on"])
        sheet.write_row(1, 0, ["", "Bin", 43558])

    report = load_bytes(other_store, "t.xlsx", book(fill), "owner")
    told = [problem for problem in report.errors if problem.column == "counted_on"]
    assert [problem.problem for problem in told] == ["is not a date"]
    assert "1974-05-31" in told[0].hint


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("t.xlsx", b"key,name\nfen,Fennaby\n", "is damaged"),
        ("makers.csv", makers(("fen", "Fennaby", "")), "is not UTF-8 text"),
    ],
)
def test_a_wrong_ending_is_told(other_store, name, data, said):
    (told,) = problems(other_store, name, data)
    assert said in told[2]
