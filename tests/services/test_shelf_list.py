"""The main job on a shelf list as people keep it, turned into tables by hand.

``as_kept.csv`` is the list as it was kept; ``tables`` are its rows as tables, in the same order.
"""

import csv
import datetime as dt
from pathlib import Path

import pytest

from stash.exchange import read_tables
from stash.services import labels
from stash.services.demo import load_demo
from stash.services.find import find
from stash.services.fits import fits
from stash.services.tables import export, export_path, load_path
from stash.services.uses import uses

HERE = Path(__file__).parent / "shelf_list"


def rows_as_kept():
    text = (HERE / "as_kept.csv").read_bytes().decode("latin-1")
    return [row for row in csv.DictReader(text.splitlines(), delimiter=";") if any(row.values())]


@pytest.fixture
def shelf(store):
    load_demo(store)
    report = load_path(store, HERE / "tables", "owner")
    assert report.ok, [str(problem) for problem in report.errors]
    return store


@pytest.fixture
def lots(shelf):
    with (HERE / "tables" / "lots.csv").open(encoding="utf-8", newline="") as file:
        return [shelf.stock().lots[row["code"]] for row in csv.DictReader(file)]


def test_no_row_of_the_list_is_lost(lots):
    assert len(lots) == len(rows_as_kept()) == 63


def test_a_number_written_another_way_still_finds_its_design(shelf, lots):
    for written, lot in (("FN 21 380 B", lots[2]), ("R 41\u00b7085/1", lots[18])):
        assert find(shelf, written)[0].code == lot.design


def test_each_lot_says_what_it_is_good_for(shelf, lots):
    told = uses(shelf, lots)
    assert "bolts_on" in told[0].models
    assert not told[59].models, "nobody knows what the mystery spring is"


def test_the_fast_module_is_said_not_to_bolt_on_to_the_export_model(shelf, lots):
    answer = fits(shelf, lots[18].code)
    export_model = {fit.verdict for fit in answer.fits if fit.model.key == "pip-ii-e"}
    assert "bolts_on" not in export_model
    assert export_model


def test_a_label_for_every_lot_and_box(shelf, lots):
    places = sorted({lot.place for lot in lots})
    codes = labels.chosen(shelf, labels.Choice(inside=places))
    assert set(codes) >= {lot.code for lot in lots} | set(places)
    pdf = labels.sheet(shelf, codes, labels.Printing(), who="owner", now=dt.datetime(1980, 1, 1, tzinfo=dt.UTC))
    assert pdf.startswith(b"%PDF")


def test_the_cell_that_was_a_formula_comes_out_as_text(shelf, tmp_path):
    export_path(shelf, tmp_path / "out.xlsx")
    import openpyxl

    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["lots"]
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value and "SUM(" in str(cell.value)]
    assert cells
    assert all(cell.data_type == "s" for cell in cells)


def test_the_list_survives_the_round_trip_byte_for_byte(shelf, tmp_path, other_store):
    export_path(shelf, tmp_path / "first")
    report = load_path(other_store, tmp_path / "first", "owner")
    assert report.ok
    export_path(other_store, tmp_path / "second")
    assert export(other_store) == export(shelf)
    for file in sorted((tmp_path / "first").iterdir()):
        assert file.read_bytes() == (tmp_path / "second" / file.name).read_bytes()
    assert read_tables(tmp_path / "first")["lots"].rows
