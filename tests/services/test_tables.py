"""Loading says what is wrong, where and how to mend it; and writes all or nothing."""

import csv
import io
import sqlite3
from contextlib import closing

import pytest
from sqlalchemy import func, select

from stash.db.copies import copies, copies_folder
from stash.db.models import Batch, Movement
from stash.errors import NotFound, StorageError
from stash.exchange.raw import raw_table
from stash.services.tables import export, export_path, load, load_bytes, load_path

A, B, C, D = "AAAAAA", "BBBBBM", "CCCCCY", "DDDDD9"
"""Codes whose check characters are right, see the kernel's tests for codes."""

GOOD = {
    "makers": "key,name\nfen,Fenn\nrud,Rudd\n",
    "families": "key,name\nk,Kittle\n",
    "generations": "key,family,ordinal,name\ng1,k,1,first\ng2,k,2,second\n",
    "models": "key,name,maker,generation\nm1,One,fen,g1\nm2,Two,rud,g2\n",
    "kinds": "key,name\ncarb,carburettor\nboot,boot\n",
    "measures": (
        "kind,key,name,type,unit,choices\n"
        "carb,venturi_mm,venturi,number,mm,\ncarb,turn,rotation,choice,,left;right\ncarb,choke,choke,yes_no,,\n"
        "boot,id_mm,bore,number,mm,\nboot,turn,rotation,choice,,left;right\n"
    ),
    "designs": "key,kind,name,price\nc14,carb,C 14,18.50\nc15,carb,C 15,\nb1,boot,B 1,\n",
    "design_measures": (
        "design,measure,value,minus,plus\nc14,venturi_mm,14.0,0.05,0.05\nc14,turn,left,,\nc14,choke,Yes,,\n"
    ),
    "numbers": "number,maker,design,replaced_by\nFN-1-A,fen,c14,FN-1-B\nFN-1-B,fen,c15,\n",
    "positions": "generation,position,kind\ng1,carburettor,carb\ng1,boot,boot\ng2,carburettor,carb\n",
    "came_on": "design,position,generation\nc14,carburettor,g1\n",
    "mates": "key,name,kind_a,measure_a,kind_b,measure_b,relation\nturn,turned alike,carb,turn,boot,turn,same\n",
    "rules": "key,verdict,design,model,companions,evidence\nr1,with_companions,c15,m1,b1;boot,bench\n",
    "places": f"code,name,inside\n{A},shelf,\n{B},bin,{A}\n",
    "machines": f"code,model,state\n{C},m1,runner\n",
    "fitted": f"machine,position,state,design\n{C},carburettor,present,c14\n",
    "fitted_measures": f"machine,position,measure,value\n{C},carburettor,venturi_mm,14.02\n",
    "lots": f"code,kind,design,quantity,place\n{D},carb,c15,3,{B}\n",
    "lot_measures": f"lot,measure,value\n{D},turn,right\n",
    "wanted": "model,value\nm2,3\n",
    "law_lines": "key,name,up_to_cm3\nsmall,small,49.9\n",
    "builds": f"key,name,machine,status\nb,finish it,{C},open\n",
    "build_parts": f"build,position,design,lot\nb,carburettor,,{D}\n",
}


def raw(tables):
    return {name: raw_table(list(csv.reader(io.StringIO(text, newline="")))) for name, text in tables.items()}


def problems(store, tables):
    report = load(store, raw(tables), "ann")
    with store.reading() as session:
        written = session.scalar(select(func.count()).select_from(Batch))
    return report.errors, written


def movements(store):
    with store.reading() as session:
        rows = session.scalars(select(Movement).order_by(Movement.id)).all()
    return [(row.lot, row.quantity, row.source, row.target) for row in rows]


@pytest.fixture
def furnished(store):
    report = load(store, raw(GOOD), "ann")
    assert report.ok, report.errors
    return store


def test_a_good_set_of_tables_is_loaded_whole(furnished):
    exported = export(furnished)
    assert {name: len(rows) for name, rows in exported.items()} == {
        name: text.count("\n") - 1 for name, text in GOOD.items()
    }
    assert exported["design_measures"][0] == ["c14", "choke", "yes", "", ""]
    assert exported["designs"][1][5] == "18.50"


def test_the_report_counts_added_changed_and_same(furnished):
    changed = {**GOOD, "makers": "key,name\nfen,Fenn\nrud,Rudge\nnew,New\n"}
    report = load(furnished, raw({"makers": changed["makers"]}), "ann")
    assert report.as_dict() == {"tables": {"makers": {"added": 1, "changed": 1, "same": 1}}, "errors": []}


def test_rows_and_columns_that_are_not_in_the_file_stay(furnished):
    load(furnished, raw({"designs": "key,note\nc14,brass\n"}), "ann")
    designs = {row[0]: row for row in export(furnished)["designs"]}
    assert designs["c14"] == ["c14", "carb", "C 14", "", "", "18.50", "brass"]
    assert set(designs) == {"c14", "c15", "b1"}


def test_an_empty_cell_of_a_column_in_the_file_empties_it(furnished):
    load(furnished, raw({"designs": "key,price\nc14,\n"}), "ann")
    assert next(row for row in export(furnished)["designs"] if row[0] == "c14")[5] == ""


WRONG = {
    "unknown table": ({"makerz": "key\n"}, "makerz", 0, "", "is not a table", "makers"),
    "unknown column": ({"makers": "key,name,colour\nx,X,red\n"}, "makers", 0, "colour", "not a column", "key, name"),
    "misspelt column": ({"makers": "key,nane\nx,X\n"}, "makers", 0, "nane", "not a column", "name"),
    "column twice": ({"makers": "key,name,name\nx,X,Y\n"}, "makers", 0, "name", "twice", "one of"),
    "column without a name": ({"makers": "key,,name\nx,y,X\n"}, "makers", 0, "", "without a name", "remove"),
    "no key column": ({"makers": "name\nX\n"}, "makers", 0, "key", "missing", "tells the rows apart"),
    "no header": ({"makers": ""}, "makers", 0, "", "no header", "key, name"),
    "required column left out": ({"makers": "key\nx\n"}, "makers", 1, "name", "missing", "new row"),
    "required cell empty": ({"makers": "key,name\nx,\n"}, "makers", 1, "name", "is empty", "filled"),
    "too many cells": ({"makers": "key,name\nx,X,Y\n"}, "makers", 1, "", "more cells", "comma"),
    "row twice": ({"makers": "key,name\nx,X\ny,Y\nx,Z\n"}, "makers", 3, "key", "same row as row 1", "once"),
    "decimal comma": ({"designs": 'key,kind,name,price\nd,carb,D,"18,50"\n'}, "designs", 1, "price", "number", "point"),
    "negative price": ({"designs": "key,kind,name,price\nd,carb,D,-1\n"}, "designs", 1, "price", "range", "between"),
    "absurd bore": (
        {"models": "key,name,maker,generation,bore_mm\nm,M,fen,g1,99999\n"},
        "models",
        1,
        "bore_mm",
        "range",
        "1000",
    ),
    "key with a space": ({"makers": "key,name\nfen nish,F\n"}, "makers", 1, "key", "not a key", "without spaces"),
    "unknown choice": ({"machines": f"code,model,state\n{C},m1,broken\n"}, "machines", 1, "state", "words", "runner"),
    "a slip in a code": ({"places": "code,name\nAAAAA2,x\n"}, "places", 1, "code", "not a code", "slip"),
    "control character": ({"makers": "key,name\nx,a\x07b\n"}, "makers", 1, "name", "can't be shown", "control"),
    "unknown key, near": ({"designs": "key,kind,name\nd,crab,D\n"}, "designs", 1, "kind", "not in kinds", "carb"),
    "unknown key, far": ({"designs": "key,kind,name\nd,zzzz,D\n"}, "designs", 1, "kind", "not in kinds", "Add it"),
    "years swapped": (
        {"generations": "key,family,ordinal,name,from_year,to_year\ng3,k,3,x,1970,1960\n"},
        "generations",
        1,
        "to_year",
        "before from_year",
        "Swap",
    ),
    "choice without words": (
        {"measures": "kind,key,name,type\ncarb,x,X,choice\n"},
        "measures",
        1,
        "choices",
        "empty",
        "semicolons",
    ),
    "choices with alternatives": (
        {"measures": "kind,key,name,type,choices\ncarb,x,X,choice,a|b\n"},
        "measures",
        1,
        "choices",
        "alternatives",
        "semicolons",
    ),
    "measure of another kind": (
        {"design_measures": "design,measure,value\nc14,id_mm,3\n"},
        "design_measures",
        1,
        "measure",
        "not a measure of the kind carb",
        "venturi_mm",
    ),
    "word for a number": (
        {"design_measures": "design,measure,value\nc15,venturi_mm,wide\n"},
        "design_measures",
        1,
        "value",
        "not a number",
        "digits",
    ),
    "negative millimetres": (
        {"design_measures": "design,measure,value\nc15,venturi_mm,-14\n"},
        "design_measures",
        1,
        "value",
        "range",
        "0 and 10000 mm",
    ),
    "seven decimals": (
        {"design_measures": "design,measure,value\nc15,venturi_mm,14.0000001\n"},
        "design_measures",
        1,
        "value",
        "too many decimals",
        "Six",
    ),
    "unknown word of a choice": (
        {"design_measures": "design,measure,value\nc15,turn,up\n"},
        "design_measures",
        1,
        "value",
        "choices",
        "left, right",
    ),
    "neither yes nor no": (
        {"design_measures": "design,measure,value\nc15,choke,perhaps\n"},
        "design_measures",
        1,
        "value",
        "neither",
        "yes or no",
    ),
    "tolerance of a word": (
        {"design_measures": "design,measure,value,plus\nc15,turn,left,0.1\n"},
        "design_measures",
        1,
        "plus",
        "no number",
        "empty",
    ),
    "replaced by another maker's number": (
        {"numbers": "number,maker,replaced_by\nR1,rud,FN-1-B\n"},
        "numbers",
        1,
        "replaced_by",
        "not a number of rud",
        "same maker",
    ),
    "replaced by a number written differently": (
        {"numbers": "number,maker,replaced_by\nFN-9,fen,FN 1 B\n"},
        "numbers",
        1,
        "replaced_by",
        "not a number of fen",
        "FN-1-B",
    ),
    "replaced in a circle": (
        {"numbers": "number,maker,replaced_by\nFN-1-B,fen,FN-1-A\n"},
        "numbers",
        0,
        "replaced_by",
        "circle: FN-1-A → FN-1-B → FN-1-A",
        "Empty",
    ),
    "replaced by itself": (
        {"numbers": "number,maker,replaced_by\nX1,fen,X1\n"},
        "numbers",
        1,
        "replaced_by",
        "circle",
        "Empty",
    ),
    "a number twice, written differently": (
        {"numbers": "number,maker\nfn 1a,fen\n"},
        "numbers",
        1,
        "number",
        "FN-1-A written differently",
        "Keep one",
    ),
    "a number of dashes": ({"numbers": "number,maker\n---,fen\n"}, "numbers", 1, "number", "no letter", "printed"),
    "neither generation nor model": (
        {"positions": "position,kind\np,carb\n"},
        "positions",
        1,
        "generation",
        "exactly one",
        "stays empty",
    ),
    "both generation and model": (
        {"positions": "generation,model,position,kind\ng1,m1,p,carb\n"},
        "positions",
        1,
        "generation",
        "exactly one",
        "stays empty",
    ),
    "came on a position of another kind": (
        {"came_on": "design,position,generation\nb1,carburettor,g1\n"},
        "came_on",
        1,
        "position",
        "takes the kind carb",
        "Correct",
    ),
    "came on a position that is not there": (
        {"came_on": "design,position,model\nc14,roof,m1\n"},
        "came_on",
        1,
        "position",
        "not a position of the model m1",
        "Add it",
    ),
    "mate of a measure that is not there": (
        {"mates": "key,name,kind_a,measure_a,kind_b,measure_b,relation\nx,X,carb,id_mm,boot,id_mm,gap\n"},
        "mates",
        1,
        "measure_a",
        "not a measure of the kind carb",
        "carb",
    ),
    "mate of a number and a word": (
        {"mates": "key,name,kind_a,measure_a,kind_b,measure_b,relation\nx,X,carb,turn,boot,id_mm,same\n"},
        "mates",
        1,
        "measure_b",
        "can't be compared",
        "choice",
    ),
    "mate across units": (
        {
            "measures": "kind,key,name,type,unit\nboot,length,length,number,cm\n",
            "mates": "key,name,kind_a,measure_a,kind_b,measure_b,relation\nx,X,carb,venturi_mm,boot,length,gap\n",
        },
        "mates",
        1,
        "measure_b",
        "another unit",
        "venturi_mm is in mm, length in cm",
    ),
    "came on a generation and a model": (
        {"came_on": "design,position,generation,model\nc14,carburettor,g1,m1\n"},
        "came_on",
        1,
        "generation",
        "exactly one",
        "stays empty",
    ),
    "gap between words": (
        {"mates": "key,name,kind_a,measure_a,kind_b,measure_b,relation\nx,X,carb,turn,boot,turn,gap\n"},
        "mates",
        1,
        "relation",
        "two numbers",
        "same",
    ),
    "bounds swapped": (
        {
            "mates": "key,name,kind_a,measure_a,kind_b,measure_b,relation,low,high\n"
            "x,X,carb,venturi_mm,boot,id_mm,gap,1,-1\n"
        },
        "mates",
        1,
        "high",
        "below low",
        "Swap",
    ),
    "bounds for words": (
        {
            "mates": "key,name,kind_a,measure_a,kind_b,measure_b,relation,low\nx,X,carb,turn,boot,turn,same,1\n",
        },
        "mates",
        1,
        "low",
        "no number",
        "empty",
    ),
    "rule about no part": (
        {"rules": "key,verdict,model,evidence\nr,wont_fit,m1,word\n"},
        "rules",
        1,
        "design",
        "both empty",
        "design or a kind",
    ),
    "rule about no machine": (
        {"rules": "key,verdict,design,evidence\nr,wont_fit,c14,word\n"},
        "rules",
        1,
        "model",
        "empty",
        "at least one",
    ),
    "rule whose design is of another kind": (
        {"rules": "key,verdict,design,kind,model,evidence\nr,wont_fit,c14,boot,m1,word\n"},
        "rules",
        1,
        "kind",
        "not the kind of c14",
        "leave it empty",
    ),
    "companion that is nothing": (
        {"rules": "key,verdict,design,model,companions,evidence\nr,with_companions,c14,m1,b1|b2,word\n"},
        "rules",
        1,
        "companions",
        "names b2",
        "alternatives",
    ),
    "place inside itself": ({"places": f"code,name,inside\n{A},x,{A}\n"}, "places", 1, "inside", "circle", "outermost"),
    "places in a circle": (
        {"places": f"code,name,inside\n{A},x,{B}\n{B},y,{A}\n"},
        "places",
        1,
        "inside",
        f"{A} → {B} → {A}",
        "outermost",
    ),
    "code of something else": (
        {"machines": f"code,model,state\n{A},m1,donor\n"},
        "machines",
        1,
        "code",
        "code of a place",
        "its own",
    ),
    "code in two tables": (
        {"places": "code,name\nFFFFFX,x\n", "machines": "code,model,state\nFFFFFX,m1,donor\n"},
        "machines",
        1,
        "code",
        "also in places row 1",
        "its own",
    ),
    "fitted where the model has no place for it": (
        {"fitted": f"machine,position,state\n{C},roof,present\n"},
        "fitted",
        1,
        "position",
        "not a position of the model m1",
        "boot, carburettor",
    ),
    "fitted part of another kind": (
        {"fitted": f"machine,position,state,design\n{C},boot,present,c14\n"},
        "fitted",
        1,
        "design",
        "takes boot",
        "Correct",
    ),
    "measured on a part that is assumed": (
        {"fitted_measures": f"machine,position,measure,value\n{C},boot,id_mm,14\n"},
        "fitted_measures",
        1,
        "position",
        "no row in fitted",
        "first",
    ),
    "lot whose design is of another kind": (
        {"lots": "code,kind,design,quantity\nFFFFFX,boot,c14,1\n"},
        "lots",
        1,
        "kind",
        "not the kind of c14",
        "Correct",
    ),
    "a lot of minus one": ({"lots": "code,kind,quantity\nFFFFFX,boot,-1\n"}, "lots", 1, "quantity", "range", "0 and"),
    "half a part": ({"lots": "code,kind,quantity\nFFFFFX,boot,1.5\n"}, "lots", 1, "quantity", "whole", "decimals"),
    "build of nothing": (
        {"builds": "key,name,status\nx,X,open\n"},
        "builds",
        1,
        "model",
        "empty",
        "machine or a model",
    ),
    "build of a machine of another model": (
        {"builds": f"key,name,model,machine,status\nx,X,m2,{C},open\n"},
        "builds",
        1,
        "model",
        "not the model of machine",
        "empty",
    ),
    "a decision that names nothing": (
        {"build_parts": "build,position\nb,boot\n"},
        "build_parts",
        1,
        "design",
        "empty",
        "Name",
    ),
    "a lot of another kind for a position": (
        {"build_parts": f"build,position,lot\nb,boot,{D}\n"},
        "build_parts",
        1,
        "lot",
        "takes boot",
        "Correct",
    ),
    "a lot of another design than decided": (
        {"build_parts": f"build,position,design,lot\nb,carburettor,c14,{D}\n"},
        "build_parts",
        1,
        "lot",
        "of the design c15",
        "Correct",
    ),
    "an edit that breaks a stored row": (
        {"measures": "kind,key,type\ncarb,turn,number\n"},
        "design_measures",
        0,
        "value",
        "not a number",
        "digits",
    ),
    "a design given another kind under its measures": (
        {"designs": "key,kind\nc14,boot\n"},
        "design_measures",
        0,
        "measure",
        "not a measure of the kind boot",
        "id_mm",
    ),
    "a model's own row that takes a position away": (
        {"positions": "model,position,kind,quantity\nm1,carburettor,carb,0\n"},
        "fitted",
        0,
        "position",
        "not a position of the model m1",
        "boot",
    ),
}


@pytest.mark.parametrize("store", ["sqlite"], indirect=True)
@pytest.mark.parametrize(("tables", "table", "row", "column", "problem", "hint"), WRONG.values(), ids=WRONG)
def test_what_is_wrong_is_told_with_its_place_and_its_mend(furnished, tables, table, row, column, problem, hint):
    before = export(furnished)
    errors, batches = problems(furnished, tables)
    told = [error for error in errors if (error.table, error.row, error.column) == (table, row, column)]
    assert told, errors
    assert problem in told[0].problem
    assert hint in told[0].hint
    assert batches == 1
    assert export(furnished) == before


def test_every_fault_is_told_at_once_in_order_of_table_and_row(furnished):
    tables = {
        "designs": "key,kind,name,price\nx,crab,X,abc\ny,carb,,2\nz,carb,Z,3\n",
        "makers": "key,name\nbad key,B\n",
        "design_measures": "design,measure,value\nz,venturi_mm,14\nz,turn,up\n",
    }
    errors, _ = problems(furnished, tables)
    places = [(error.table, error.row, error.column) for error in errors]
    assert places == [
        ("makers", 1, "key"),
        ("designs", 1, "price"),
        ("designs", 1, "kind"),
        ("designs", 2, "name"),
        ("design_measures", 2, "value"),
    ]


def test_a_faulty_row_does_not_make_the_rows_that_name_it_wrong(furnished):
    tables = {"designs": "key,kind,name,price\nx,carb,X,abc\n", "lots": "code,kind,design,quantity\nFFFFFX,carb,x,1\n"}
    errors, _ = problems(furnished, tables)
    assert [(error.table, error.column) for error in errors] == [("designs", "price")]


def test_a_strange_column_does_not_make_the_rows_that_name_its_rows_wrong(store):
    tables = GOOD | {"makers": "key,name,colour\nfen,Fenn,red\nrud,Rudd,blue\n"}
    errors, _ = problems(store, tables)
    assert [(error.table, error.column) for error in errors] == [("makers", "colour")]


def test_a_table_without_its_key_column_is_told_alone(store):
    errors, _ = problems(store, GOOD | {"makers": "name\nFenn\n"})
    assert [(error.table, error.column) for error in errors] == [("makers", "key")]


def test_a_report_with_errors_counts_nothing_as_done(furnished):
    report = load(furnished, raw({"makers": "key,name\nnew,New\nbad key,B\n"}), "ann")
    assert report.as_dict()["tables"] == {"makers": {"added": 0, "changed": 0, "same": 0}}
    error = report.as_dict()["errors"][0]
    assert set(error) == {"table", "row", "column", "value", "problem", "hint"}
    assert (error["row"], error["value"]) == (2, "bad key")


def test_a_model_may_have_a_position_of_its_own_that_a_generations_design_came_on(furnished):
    tables = {
        "positions": "model,position,kind\nm2,boot,boot\n",
        "came_on": "design,position,generation\nb1,boot,g2\n",
    }
    assert load(furnished, raw(tables), "ann").ok


def test_a_first_load_of_a_lot_receives_it_into_its_place(furnished):
    assert movements(furnished) == [(D, 3, "outside:received", f"place:{B}")]


@pytest.mark.parametrize(
    ("cells", "moved"),
    [
        (f"5,{B}", [(D, 2, "outside:found", f"place:{B}")]),
        (f"1,{B}", [(D, 2, f"place:{B}", "outside:lost")]),
        (f"3,{A}", [(D, 3, f"place:{B}", f"place:{A}")]),
        (f"4,{A}", [(D, 3, f"place:{B}", f"place:{A}"), (D, 1, "outside:found", f"place:{A}")]),
        ("3,", [(D, 3, f"place:{B}", "place:")]),
        (f"0,{B}", [(D, 3, f"place:{B}", "outside:lost")]),
    ],
)
def test_a_lot_whose_count_or_place_changes_by_a_load_moves_in_the_ledger(furnished, cells, moved):
    assert load(furnished, raw({"lots": f"code,quantity,place\n{D},{cells}\n"}), "ann").ok
    assert movements(furnished)[1:] == moved


def test_a_ledger_that_comes_along_is_not_written_twice(store):
    assert load(store, raw(GOOD), "ann", ledger=False).ok
    assert movements(store) == []
    assert store.stock().lots[D].quantity == 3


def test_codes_are_read_as_people_type_them(furnished):
    assert load(furnished, raw({"places": "code,name\nfff-ffx,x\n"}), "ann").ok
    assert any(row[0] == "FFFFFX" for row in export(furnished)["places"])


def test_a_path_is_loaded_and_exported_whatever_its_format(furnished, two_stores, tmp_path):
    first, second = two_stores
    for name in ("folder", "tables.zip", "tables.xlsx", "tables.ods"):
        export_path(first, tmp_path / name)
        report = load_path(second, tmp_path / name, "bob")
        assert report.ok, report.errors
        assert export(second) == export(first)
    with second.reading() as session:
        assert session.scalars(select(Batch.why)).all() == ["loaded folder"]


def test_an_upload_is_loaded_by_its_name(store):
    assert load_bytes(store, "makers.csv", b"key,name\nx,X\n", "ann").ok
    assert export(store)["makers"] == [["x", "X", ""]]


def test_a_file_that_cannot_be_read_is_an_error_without_a_table(store, tmp_path):
    file = tmp_path / "tables.xlsx"
    file.write_bytes(b"no workbook at all")
    for report in (load_path(store, file, "ann"), load_bytes(store, file.name, file.read_bytes(), "ann")):
        assert not report.ok
        assert report.as_dict()["errors"][0]["table"] == ""
        assert report.errors[0].hint


def test_a_path_with_nothing_there_is_not_found(store, tmp_path):
    with pytest.raises(NotFound):
        load_path(store, tmp_path / "nowhere", "ann")


def test_a_long_chain_of_replacements_is_followed_once(store):
    rows = "".join(f"N{n},fen,N{n + 1}\n" for n in range(3000)) + "N3000,fen,\n"
    tables = {"makers": "key,name\nfen,F\n", "numbers": "number,maker,replaced_by\n" + rows}
    assert load(store, raw(tables), "ann").ok
    circle = load(store, raw({"numbers": "number,maker,replaced_by\nN3000,fen,N2999\n"}), "ann")
    assert {(error.row, error.problem) for error in circle.errors} == {
        (1, "goes in a circle: N3000 → N2999 → N3000"),
        (0, "goes in a circle: N2999 → N3000 → N2999"),
    }


def test_thousands_of_unknown_keys_are_all_told(store):
    rows = "".join(f"d{n},kk{n},D\n" for n in range(2000))
    report = load(store, raw({"kinds": "key,name\nkx,K\n", "designs": "key,kind,name\n" + rows}), "ann")
    assert len(report.errors) == 2000


@pytest.mark.parametrize("store", ["sqlite"], indirect=True)
def test_a_load_that_changes_something_keeps_a_copy_of_what_was_there(store):
    makers = {"makers": raw_table([["key", "name"], ["fen", "Fenn"]])}
    renamed = {"makers": raw_table([["key", "name"], ["fen", "Fennaby"]])}
    load(store, makers, "Ann")
    assert copies(store.file) == ()  # there was nothing to lose
    load(store, makers, "Ann")
    load(store, renamed, "Ann", dry_run=True)
    load(store, {"makers": raw_table([["key"], ["new one"]])}, "Ann")
    assert copies(store.file) == ()
    load(store, renamed, "Ann")
    (copied,) = copies(store.file)
    with closing(sqlite3.connect(copied)) as kept:
        assert kept.execute("SELECT name FROM makers").fetchall() == [("Fenn",)]


@pytest.mark.parametrize("store", ["sqlite"], indirect=True)
def test_a_load_without_room_for_a_copy_writes_nothing(store):
    load(store, {"makers": raw_table([["key", "name"], ["fen", "Fenn"]])}, "Ann")
    copies_folder(store.file).write_text("in the way")
    with pytest.raises(StorageError, match="No copy"):
        load(store, {"makers": raw_table([["key", "name"], ["fen", "Fennaby"]])}, "Ann")
    assert export(store)["makers"] == [["fen", "Fenn", ""]]
