"""A model like that one, and a design from a part in the hand: each in one step, or nothing at all."""

import pytest

from stash.errors import Conflict, InvalidInput, NotFound
from stash.services import page_rows, rows, tables
from stash.services.design_from_lot import design_from_lot
from stash.services.first_model import first_model
from stash.services.history import history
from stash.services.model_like import model_like, pattern
from stash.services.new_rows import free_key
from tests.services.workshop import CARB_TURNED, MYSTERY


def everything(store):
    return tables.export(store)


def own_sheet(store):
    """Give the early model a position, an exception and a stock line of its own."""
    for table, cells in (
        ("positions", {"model": "early", "position": "second clip", "kind": "clip", "quantity": "3"}),
        ("positions", {"model": "early", "position": "module", "kind": "module", "quantity": "0"}),
        ("came_on", {"model": "early", "position": "boot", "design": "boot-90", "from_year": "1966"}),
    ):
        rows.save_row(store, table, cells, None, None, "owner")


def test_a_model_like_another_brings_its_own_sheet_along(workshop):
    own_sheet(workshop)
    key = model_like(workshop, "early", {"key": "", "name": "Early de luxe", "maker": "rud"}, who="owner")
    assert key == "early-de-luxe"
    catalogue = workshop.catalogue()
    assert catalogue.model[key].maker == "rud"
    assert catalogue.model[key].years == catalogue.model["early"].years
    assert catalogue.positions[key] == catalogue.positions["early"]
    assert {name: [row.design for row in lines] for name, lines in catalogue.stock_rows[key].items()} == {
        name: [row.design for row in lines] for name, lines in catalogue.stock_rows["early"].items()
    }
    assert history(workshop, limit=1)[0].why == "added like Fennaby Early"


def test_a_model_like_another_takes_a_key_of_its_own_and_a_copied_name_is_told_apart(workshop):
    assert model_like(workshop, "early", {"key": "mine", "name": "Mine"}, who="owner") == "mine"
    assert model_like(workshop, "early", {"key": "", "name": "Mine"}, who="owner") == "mine-2"
    before = everything(workshop)
    with pytest.raises(InvalidInput, match="taken"):
        model_like(workshop, "early", {"key": "late", "name": "Late again"}, who="owner")
    with pytest.raises(InvalidInput):
        model_like(workshop, "early", {"key": "", "name": ""}, who="owner")
    with pytest.raises(InvalidInput):
        model_like(workshop, "early", {"name": "Other", "maker": "nobody"}, who="owner")
    with pytest.raises(NotFound):
        model_like(workshop, "none", {"name": "Other"}, who="owner")
    assert everything(workshop) == before


def test_rules_that_name_a_model_stay_with_it(workshop):
    rule = {"key": "r", "verdict": "wont_fit", "kind": "carb", "model": "early", "evidence": "word"}
    rows.save_row(workshop, "rules", rule, None, None, "owner")
    assert pattern(workshop, "early").said == 1
    model_like(workshop, "early", {"name": "Other"}, who="owner")
    assert len(workshop.catalogue().rules) == 1


def test_a_part_in_the_hand_becomes_a_design_with_number_and_measures(workshop):
    rows.save_row(
        workshop, "lot_measures", {"lot": MYSTERY, "measure": "spigot_mm", "value": "21"}, None, None, "owner"
    )
    key = design_from_lot(
        workshop,
        MYSTERY,
        {"name": "wide carburettor", "maker": "fen", "price": "22"},
        {"spigot_mm": "21", "rotation": ""},
        "FN 99",
        who="owner",
    )
    assert key == "wide-carburettor"
    design = workshop.catalogue().design[key]
    assert (design.kind, design.maker, design.price_minor, list(design.values)) == ("carb", "fen", 2200, ["spigot_mm"])
    assert [row.number for row in workshop.catalogue().numbers_of[key]] == ["FN 99"]
    lot = workshop.stock().lots[MYSTERY]
    assert (lot.design, lot.number_seen, list(lot.values)) == (key, "FN 99", ["spigot_mm"])
    assert history(workshop, limit=1)[0].why == "design from a part in the hand"


def test_a_lot_that_was_taken_for_another_design_can_become_a_new_one(workshop):
    key = design_from_lot(workshop, CARB_TURNED, {"name": "odd one"}, {}, "", who="owner")
    assert key == "odd-one"
    assert workshop.stock().lots[CARB_TURNED].design == "odd-one"
    assert "carb-90" in workshop.catalogue().design


@pytest.mark.parametrize(
    ("cells", "measures", "number", "column"),
    [
        ({"name": "x"}, {}, "FN 99", "maker"),
        ({"name": "x", "maker": "fen"}, {}, "fn 11120a", "number"),
        ({"name": "x", "key": "carb-0"}, {}, "", "key"),
        ({"name": "x"}, {"spigot_mm": "wide"}, "", "value"),
        ({"name": "x", "maker": "nobody"}, {}, "FN 99", "maker"),
    ],
)
def test_what_is_wrong_is_named_and_neither_design_nor_lot_is_touched(workshop, cells, measures, number, column):
    before = everything(workshop)
    with pytest.raises(InvalidInput) as caught:
        design_from_lot(workshop, MYSTERY, cells, measures, number, who="owner")
    assert column in {problem.column for problem in caught.value.problems}
    assert everything(workshop) == before


def test_a_lot_that_others_changed_meanwhile_is_left_alone(workshop):
    version = page_rows.row(workshop, "lots", (MYSTERY,)).version
    rows.save_row(workshop, "lots", {"note": "seen"}, {"code": MYSTERY}, version, "somebody")
    before = everything(workshop)
    with pytest.raises(Conflict):
        design_from_lot(workshop, MYSTERY, {"name": "x"}, {}, "", who="owner", version=version)
    assert everything(workshop) == before


def test_a_key_is_made_of_words():
    assert free_key("Größe 18, wide!", ()) == "grösse-18-wide"
    assert free_key("pin", ("pin", "pin-2")) == "pin-3"
    assert free_key("!", ()) == ""


NAMES = {"maker": "Orvell", "family": "engine C", "generation": "", "model": "Orvell 50"}


def test_the_first_model_brings_maker_family_generation_and_sheet(store):
    rows.save_row(store, "kinds", {"key": "carb", "name": "carburettor"}, None, None, "owner")
    key = first_model(store, NAMES, ("1961", ""), ["carb", "none"], who="owner")
    catalogue = store.catalogue()
    model = catalogue.model[key]
    assert (key, model.maker, model.generation, model.years.from_year) == (
        "orvell-50",
        "orvell",
        "engine-c-first",
        1961,
    )
    assert catalogue.generation[model.generation].family == "engine-c"
    assert list(catalogue.positions[key]) == ["carburettor"]
    second = {**NAMES, "maker": "ORVELL", "generation": "later", "model": "Orvell 60"}
    later = first_model(store, second, ("", ""), ["carb"], who="owner")
    sister = first_model(store, {**second, "maker": "Tamm"}, ("", ""), ["carb"], who="owner")
    catalogue = store.catalogue()
    assert [catalogue.generation[catalogue.model[each].generation].ordinal for each in (key, later, sister)] == [
        1,
        2,
        2,
    ]
    assert (len(catalogue.makers), len(catalogue.families), len(catalogue.models)) == (2, 1, 3)


def test_a_model_without_its_names_is_refused_whole(store):
    with pytest.raises(InvalidInput) as caught:
        first_model(store, {"model": "x"}, ("", ""), [], who="owner")
    assert {problem.column for problem in caught.value.problems} == {"maker", "family"}
    with pytest.raises(InvalidInput):
        first_model(store, NAMES, ("soon", ""), [], who="owner")
    assert store.catalogue().makers == ()
