"""One row at a time: the checks of a load, renames that take references along, stale forms, refused deletions."""

import pytest
from sqlalchemy import select

from stash.db import models
from stash.errors import Conflict, InvalidInput, NotFound
from stash.services.tables import delete_row, export, get_row, load, save_row
from tests.services.test_tables import GOOD, A, B, C, D, movements, raw


@pytest.fixture
def furnished(store):
    assert load(store, raw(GOOD), "ann").ok
    return store


def column(store, table, index):
    return [row[index] for row in export(store)[table]]


def test_a_new_row_is_added_and_comes_back_as_it_is(furnished):
    view = save_row(furnished, "makers", {"key": "new", "name": " New "}, None, None, "ann")
    assert (view.cells, view.version) == ({"key": "new", "name": "New", "note": ""}, 1)
    assert view.identity("makers") == {"key": "new"}
    assert get_row(furnished, "makers", {"key": "new"}) == view


def test_a_new_row_with_a_taken_key_is_refused(furnished):
    with pytest.raises(InvalidInput) as caught:
        save_row(furnished, "makers", {"key": "fen", "name": "Again"}, None, None, "ann")
    assert [(p.column, p.problem) for p in caught.value.problems] == [("key", "is taken")]
    assert get_row(furnished, "makers", {"key": "fen"}).cells["name"] == "Fenn"


def test_a_form_changes_only_the_cells_it_has(furnished):
    view = save_row(furnished, "designs", {"note": "brass"}, {"key": "c14"}, 1, "ann")
    assert view.cells["price"] == "18.50"
    assert (view.cells["note"], view.version) == ("brass", 2)


def test_a_wrong_cell_is_told_with_its_column(furnished):
    with pytest.raises(InvalidInput) as caught:
        save_row(furnished, "designs", {"price": "18,50", "kind": "crab"}, {"key": "c14"}, 1, "ann")
    assert [(p.row, p.column) for p in caught.value.problems] == [(1, "price"), (1, "kind")]


def test_an_edit_that_breaks_another_row_is_refused(furnished):
    with pytest.raises(InvalidInput) as caught:
        save_row(furnished, "designs", {"kind": "boot"}, {"key": "c14"}, 1, "ann")
    assert "design_measures" in {p.table for p in caught.value.problems}


def test_a_stale_form_is_told_what_changed_and_by_whom(furnished):
    save_row(furnished, "makers", {"name": "Fenn & Sons"}, {"key": "fen"}, 1, "bob")
    with pytest.raises(Conflict) as caught:
        save_row(furnished, "makers", {"name": "Fenn Ltd"}, {"key": "fen"}, 1, "ann")
    assert "by bob" in caught.value.message
    assert "name: Fenn → Fenn & Sons" in caught.value.message
    assert get_row(furnished, "makers", {"key": "fen"}).cells["name"] == "Fenn & Sons"


def test_a_form_that_changes_nothing_leaves_no_trace(furnished):
    view = save_row(furnished, "makers", {"name": "Fenn"}, {"key": "fen"}, 1, "ann")
    assert view.version == 1
    with furnished.reading() as session:
        assert len(session.scalars(select(models.Batch)).all()) == 1


def test_a_row_that_is_gone_is_not_found(furnished):
    for act in (
        lambda: save_row(furnished, "makers", {"name": "X"}, {"key": "gone"}, 1, "ann"),
        lambda: delete_row(furnished, "makers", {"key": "gone"}, None, "ann"),
        lambda: get_row(furnished, "makers", {"key": "gone"}),
        lambda: get_row(furnished, "makers", {"key": "not a key"}),
        lambda: get_row(furnished, "stamps", {"key": "x"}),
    ):
        with pytest.raises(NotFound):
            act()


def test_a_renamed_design_takes_everything_that_names_it_along(furnished):
    view = save_row(furnished, "designs", {"key": "carb-14", "name": "C 14 brass"}, {"key": "c14"}, 1, "ann")
    assert (view.cells["key"], view.cells["name"]) == ("carb-14", "C 14 brass")
    exported = export(furnished)
    assert [row[0] for row in exported["design_measures"]] == ["carb-14"] * 3
    assert exported["fitted"][0][3] == "carb-14"
    assert exported["came_on"][0][0] == "carb-14"
    with furnished.reading() as session:
        changed = {change.table for change in session.scalars(select(models.Change).where(models.Change.batch == 2))}
    assert {"designs", "design_measures", "fitted", "came_on", "numbers"} <= changed


def test_a_row_that_names_a_renamed_one_twice_is_remembered_once_and_whole(furnished):
    mate = {"key": "m", "name": "M", "kind_a": "carb", "measure_a": "turn", "kind_b": "carb", "measure_b": "turn"}
    save_row(furnished, "mates", mate | {"relation": "same"}, None, None, "ann")
    save_row(furnished, "kinds", {"key": "mixer"}, {"key": "carb"}, 1, "ann")
    with furnished.reading() as session:
        changes = session.scalars(select(models.Change).where(models.Change.batch == 3)).all()
        twice = [change for change in changes if (change.table, change.identity) == ("mates", "m")]
        after = dict(
            session.execute(select(*models.Mate.__table__.columns).where(models.Mate.key == "m")).mappings().one()
        )
    assert len(twice) == 1
    assert {name: after[name] for name in ("kind_a", "kind_b")} == {"kind_a": "mixer", "kind_b": "mixer"}
    assert {name: twice[0].after[name] for name in ("kind_a", "kind_b")} == {"kind_a": "mixer", "kind_b": "mixer"}


def test_a_renamed_companion_is_renamed_in_rules(furnished):
    save_row(furnished, "designs", {"key": "b-one"}, {"key": "b1"}, 1, "ann")
    save_row(furnished, "kinds", {"key": "hose"}, {"key": "boot"}, 1, "ann")
    assert column(furnished, "rules", 13) == ["b-one;hose"]
    assert "hose" in column(furnished, "measures", 0)


def test_a_renamed_maker_takes_its_numbers_and_their_replacements_along(furnished):
    save_row(furnished, "makers", {"key": "fenn"}, {"key": "fen"}, 1, "ann")
    assert [row[:4] for row in export(furnished)["numbers"]] == [
        ["FN-1-A", "fenn", "c14", "FN-1-B"],
        ["FN-1-B", "fenn", "c15", ""],
    ]


def test_a_renamed_number_stays_the_replacement(furnished):
    save_row(furnished, "numbers", {"number": "FN-1-C"}, {"number": "FN-1-B", "maker": "fen"}, 1, "ann")
    assert column(furnished, "numbers", 3) == ["FN-1-C", ""]


def test_a_measure_in_use_is_not_renamed_from_under_its_values(furnished):
    with pytest.raises(InvalidInput):
        save_row(furnished, "measures", {"key": "bore"}, {"kind": "carb", "key": "venturi_mm"}, 1, "ann")
    assert "venturi_mm" in column(furnished, "measures", 1)


def test_a_position_row_is_moved_from_generation_to_model_as_one_row(furnished):
    view = save_row(
        furnished,
        "positions",
        {"generation": "", "model": "m2"},
        {"generation": "g2", "position": "carburettor"},
        1,
        "ann",
    )
    assert view.cells["model"] == "m2"
    assert ["", "m2", "carburettor", "carb", "1", ""] in export(furnished)["positions"]


def test_a_key_is_not_renamed_to_a_taken_one(furnished):
    with pytest.raises(InvalidInput, match="is taken"):
        save_row(furnished, "makers", {"key": "rud"}, {"key": "fen"}, 1, "ann")


def test_a_code_stays_for_ever(furnished):
    with pytest.raises(InvalidInput, match="can't be changed"):
        save_row(furnished, "places", {"code": "FFFFFX"}, {"code": A}, 1, "ann")


def test_a_code_is_found_as_people_type_it(furnished):
    assert get_row(furnished, "places", {"code": A.lower()}).cells["name"] == "shelf"


@pytest.mark.parametrize(("name", "text"), [("quantity", "4"), ("place", A), ("place", "")])
def test_what_the_ledger_says_of_a_lot_is_not_edited(furnished, name, text):
    with pytest.raises(InvalidInput) as caught:
        save_row(furnished, "lots", {name: text}, {"code": D}, 1, "ann")
    assert caught.value.problems[0].column == name
    assert "Count" in caught.value.hint


def test_the_rest_of_a_lot_is_edited_and_a_new_one_is_received(furnished):
    same = {"condition": "good", "quantity": "3", "place": B}
    assert save_row(furnished, "lots", same, {"code": D}, 1, "ann").cells["condition"] == "good"
    save_row(furnished, "lots", {"code": "FFFFFX", "kind": "boot", "quantity": "2", "place": A}, None, None, "ann")
    assert movements(furnished)[1:] == [("FFFFFX", 2, "outside:received", f"place:{A}")]


def test_a_row_nothing_refers_to_is_deleted_with_what_is_part_of_it(furnished):
    delete_row(furnished, "builds", {"key": "b"}, 1, "ann")
    exported = export(furnished)
    assert (exported["builds"], exported["build_parts"]) == ([], [])
    delete_row(furnished, "machines", {"code": C}, 1, "ann")
    exported = export(furnished)
    assert (exported["machines"], exported["fitted"], exported["fitted_measures"]) == ([], [], [])


@pytest.mark.parametrize(
    ("table", "identity", "user"),
    [
        ("makers", {"key": "fen"}, "models m1"),
        ("kinds", {"key": "carb"}, "measures"),
        ("designs", {"key": "c14"}, "numbers FN-1-A fen"),
        ("designs", {"key": "b1"}, "rules r1"),
        ("measures", {"kind": "carb", "key": "choke"}, "design_measures c14 choke"),
        ("measures", {"kind": "boot", "key": "turn"}, "mates turn"),
        ("numbers", {"number": "FN-1-B", "maker": "fen"}, "numbers FN-1-A fen"),
        ("positions", {"generation": "g1", "position": "carburettor"}, "came_on c14 carburettor g1"),
        ("places", {"code": A}, f"places {B}"),
        ("machines", {"code": C}, "builds b"),
        ("models", {"key": "m2"}, "wanted m2"),
    ],
)
def test_a_row_that_is_still_needed_is_not_deleted(furnished, table, identity, user):
    before = export(furnished)
    with pytest.raises(Conflict) as caught:
        delete_row(furnished, table, identity, None, "ann")
    assert user in caught.value.message
    assert export(furnished) == before


def test_what_the_ledger_knows_is_kept(furnished):
    with pytest.raises(Conflict, match="in the ledger"):
        delete_row(furnished, "lots", {"code": D}, None, "ann")
    save_row(furnished, "lots", {"code": "FFFFFX", "kind": "boot", "quantity": "0"}, None, None, "ann")
    delete_row(furnished, "lots", {"code": "FFFFFX"}, 1, "ann")
    assert column(furnished, "lots", 0) == [D]


def test_what_has_photos_is_kept(furnished):
    import datetime as dt

    save_row(furnished, "places", {"code": "FFFFFX", "name": "box"}, None, None, "ann")
    photo = {"sha256": "0" * 64, "media_type": "image/jpeg", "width": 1, "height": 1}
    with furnished.writing("ann", "photo") as work:
        work.session.add(models.Photo(code="FFFFFX", added_at=dt.datetime.now(dt.UTC), **photo))
    with pytest.raises(Conflict, match="photos"):
        delete_row(furnished, "places", {"code": "FFFFFX"}, None, "ann")


def test_a_stale_deletion_is_refused(furnished):
    save_row(furnished, "models", {"note": "rare"}, {"key": "m2"}, 1, "bob")
    with pytest.raises(Conflict, match="note: empty → rare"):
        delete_row(furnished, "models", {"key": "m2"}, 1, "ann")
