"""What the screens ask of the services beside them, on both engines."""

import pytest

from stash.errors import Conflict, InvalidInput, NotFound
from stash.services import arrivals, page_lists, page_places, page_rows
from stash.services.history import history
from stash.services.page_lists import LotFilter
from tests.services.workshop import BIN_A, BIN_B, CARBS, MYSTERY, PROJECT, RUNNER, SHELF, furnish


@pytest.fixture
def workshop(store):
    furnish(store)
    return store


def test_rows_are_found_by_cells_and_words_a_page_at_a_time(workshop):
    page = page_rows.rows(workshop, "designs", size=3)
    assert (page.total, page.number, page.last, len(page.rows)) == (7, 1, 3, 3)
    assert page_rows.rows(workshop, "designs", number=99, size=3).number == 3
    found = page_rows.rows(workshop, "designs", {"kind": "carb"}, words="TURNED")
    assert [row.identity for row in found.rows] == [("carb-90",)]
    assert page_rows.rows(workshop, "designs", words="100%_").total == 0
    assert page_rows.rows(workshop, "positions", {"model": ""}).total == 8
    with pytest.raises(InvalidInput):
        page_rows.rows(workshop, "machines", {"year": "soon"})


def test_a_row_shows_every_cell_as_text(workshop):
    row = page_rows.row(workshop, "machines", (RUNNER,))
    assert row.cells["year"] == "1967"
    assert row.cells["serial"] == ""
    assert row.version == 1
    for table, identity in (
        ("machines", ("ABC",)),
        ("machines", (BIN_A,)),
        ("nothing", ("x",)),
        ("models", ("a", "b")),
    ):
        with pytest.raises(NotFound):
            page_rows.row(workshop, table, identity)


def test_options_are_named_as_people_name_them(workshop):
    assert page_rows.options(workshop, "makers") == [("fen", "Fennaby"), ("rud", "Ruddlow")]
    assert len(page_rows.options(workshop, "designs", most=3)) == 4
    assert dict(page_rows.options(workshop, "places"))[BIN_A] == f"Bin A ({BIN_A[:3]} {BIN_A[3:]})"
    assert dict(page_rows.options(workshop, "machines"))[RUNNER] == "Fennaby Early, 1967 (RVN R0E)"


def test_rows_are_counted(workshop):
    assert page_rows.counts(workshop, ["makers", "lots", "rules"]) == {"makers": 2, "lots": 6, "rules": 0}


def test_lots_are_filtered(workshop):
    def codes(**wanted):
        return {line.lot.code for line in page_lists.lots(workshop, LotFilter(**wanted)).lines}

    assert len(codes()) == 6
    assert codes(unidentified=True) == {MYSTERY}
    assert len(codes(place=SHELF)) == 6
    assert len(codes(place=BIN_A)) == 2
    assert codes(words="FN-11.120-A good") == {CARBS}
    assert codes(unplaced=True) == set()


def test_machines_tell_what_they_are_short_of(workshop):
    lines = {line.machine.code: line for line in page_lists.machines(workshop).lines}
    assert lines[PROJECT].short == ("carburettor", "clip")
    assert page_lists.machine_states(workshop) == {"donor": 1, "project": 1, "runner": 1}
    assert page_lists.machines(workshop, "donor").total == 1
    assert page_lists.machines(workshop, words="late").total == 1


def test_places_stand_in_walking_order(workshop):
    stock = workshop.stock()
    lines = page_places.tree(stock)
    assert [(line.place.name, line.depth, line.lots, line.places) for line in lines] == [
        ("Shelf", 0, 0, 2),
        ("Bin A", 1, 2, 0),
        ("Bin B", 1, 4, 0),
    ]
    assert [place.code for place in page_places.path(stock, stock.places[BIN_A])] == [SHELF]


def test_what_arrives_gets_a_code_and_a_movement(workshop):
    cells = {"kind": "carb", "design": "carb-0", "quantity": "2", "place": BIN_B}
    done = arrivals.arrive(workshop, "lots", cells, {"spigot_mm": "20.1", "rotation": ""}, who="Ann")
    (code,) = done.codes
    lot = workshop.stock().lots[code]
    assert (lot.quantity, lot.place, list(lot.values)) == (2, BIN_B, ["spigot_mm"])
    line = history(workshop, lot=code)[0]
    assert line.who == "Ann"
    assert [(entry.quantity, entry.source.name, entry.target.name) for entry in line.entries] == [
        (2, "received", BIN_B)
    ]


def test_what_can_not_arrive_leaves_nothing(workshop):
    before = len(workshop.stock().lots)
    with pytest.raises(InvalidInput) as caught:
        arrivals.arrive(workshop, "lots", {"kind": "carb", "quantity": "1"}, {"spigot_mm": "wide"}, who="Ann")
    assert [(problem.table, problem.column) for problem in caught.value.problems] == [("lot_measures", "value")]
    assert len(workshop.stock().lots) == before


def test_a_code_on_a_label_is_taken_once(workshop):
    with pytest.raises((InvalidInput, Conflict)):
        arrivals.arrive(workshop, "places", {"code": CARBS, "name": "Tin"}, who="Ann")
    assert CARBS not in workshop.stock().places


def test_a_lot_is_described_without_moving_it(workshop):
    arrivals.describe(
        workshop, CARBS, {"note": "rusty", "place": BIN_B, "quantity": "9"}, {"spigot_mm": "20"}, who="Ann", version=1
    )
    lot = workshop.stock().lots[CARBS]
    assert (lot.note, lot.place, lot.quantity, lot.design) == ("rusty", BIN_A, 3, "carb-0")
    arrivals.describe(workshop, CARBS, {}, {"spigot_mm": ""}, who="Ann", version=None)
    assert not workshop.stock().lots[CARBS].values
    with pytest.raises(Conflict):
        arrivals.describe(workshop, CARBS, {"note": "x"}, {}, who="Bob", version=1)
