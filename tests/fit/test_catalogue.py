"""The indexes of a catalogue."""

import pytest

from stash.errors import BadCatalogue
from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_design, part_of_lot
from stash.fit.facts import Lot
from stash.fit.intervals import Interval
from stash.fit.verdicts import judge_model
from stash.fit.wording import design_name, mate_sentence
from tests.fit.reading import Given

GIVEN = Given(
    {
        "generations": "key, family, ordinal\nlate, fam, 2\nearly, fam, 1",
        "models": "key, generation, maker\nkestrel, late, fen\nrook, early, rud\nwren, early, fen",
        "positions": "generation, position\nlate, boot\nearly, boot\nearly, lamp",
        "designs": "key, kind, name, values\nboot-a, boot, red boot, size=12\nboot-b, boot, ,",
        "numbers": "number, maker, design\nFN-1, fen, boot-a\nfn 1, rud, boot-b\nFN.2, fen, boot-a",
        "rules": "key, design, generation, maker\nr, boot-a, early, fen",
    }
)


def test_rows_are_found_by_key_and_models_stand_by_family_and_age():
    catalogue = GIVEN.catalogue
    assert set(catalogue.maker) == {"fen", "mk", "rud"}
    assert set(catalogue.family) == {"fam"}
    assert list(catalogue.model) == ["wren", "rook", "kestrel"]
    assert catalogue.models_with_kind == {"boot": ("wren", "rook", "kestrel"), "lamp": ("wren", "rook")}


def test_numbers_are_found_as_people_write_them_and_by_design():
    catalogue = GIVEN.catalogue
    assert [row.maker for row in catalogue.numbers_by_text["FN1"]] == ["fen", "rud"]
    assert [row.number for row in catalogue.numbers_of["boot-a"]] == ["FN-1", "FN.2"]
    assert [design_name(catalogue, key) for key in ("boot-a", "boot-b", "boot-c")] == ["red boot", "boot-b", "boot-c"]


def test_rules_about_a_model_match_by_all_their_targets():
    about = {
        key: [rule.key for rule in GIVEN.catalogue.rulebook.about(row, "boot")]
        for key, row in GIVEN.catalogue.model.items()
    }
    assert about == {"wren": ["r"], "rook": [], "kestrel": []}


def test_a_circle_of_replacements_is_an_error_that_names_it():
    circle = Given({"numbers": "number, replaced_by\nN1, N2\nN2, N3\nN3, N2"}).catalogue
    with pytest.raises(BadCatalogue, match="N1 of mk is replaced in a circle") as caught:
        _ = circle.forerunners
    assert caught.value.hint == "Clear replaced_by on the newest of: N1, N2, N3"


def test_a_lot_lays_its_measures_over_its_design():
    catalogue = GIVEN.catalogue
    assert part_of_lot(catalogue, Lot("L", "boot", "boot-a")).values == {"size": Interval(12_000_000, 12_000_000)}
    own = part_of_lot(catalogue, Lot("L", "boot", "boot-a", values={"size": Interval(1, 1)}))
    assert (own.values, own.own, own.title) == ({"size": Interval(1, 1)}, frozenset({"size"}), "L")
    assert part_of_lot(catalogue, Lot("L", "boot")).values == {}
    assert part_of_design(catalogue.design["boot-b"]).title == "boot-b"
    assert Catalogue().model == {}


def test_a_mate_is_told_with_both_values_also_where_one_is_not_known():
    given = Given(
        {
            "models": "key\nkestrel",
            "positions": "position\npin\nrod",
            "measures": "kind, key, name, unit\npin, size, diameter, mm",
            "designs": "key, kind, values\npin-a, pin,\npin-b, pin, size=12\nrod-a, rod, size=12",
            "came_on": "design, position\nrod-a, rod",
            "mates": "key, name, kind_a, kind_b\nm, pin in rod, pin, rod",
        }
    )
    told = [
        mate_sentence(given.catalogue, "pin", state)
        for key in ("pin-a", "pin-b")
        for state in judge_model(given.catalogue, part_of_design(given.catalogue.design[key]), "kestrel", "pin")[
            0
        ].mates
    ]
    assert told == [
        "pin in rod: diameter not known against size 12 at the rod",
        "pin in rod: diameter 12 mm against size 12 at the rod",
    ]
