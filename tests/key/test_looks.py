"""What is this? Kinds ranked by what agrees and what does not."""

import pytest

from stash.errors import InvalidInput
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Kind, Measure
from stash.key.looks import first_looks


@pytest.fixture
def bench(shelf):
    return Catalogue(
        kinds=tuple(Kind(key, key) for key in ("pin", "seal", "bearing", "piston", "stud")),
        measures=(
            Measure("pin", "od_mm", "outside diameter", "number", "mm", (), 5_000, "smaller"),
            Measure("pin", "blued", "blued", "yes_no"),
            Measure("seal", "od_mm", "outside diameter", "number", "mm", (), 30_000, "larger"),
            Measure("seal", "form", "form", "choice", "", ("plain", "lipped")),
            Measure("bearing", "od_mm", "outside diameter", "number", "mm", (), 30_000, "none"),
            Measure("bearing", "form", "form", "choice", "", ("open", "sealed")),
            Measure("piston", "window", "window", "yes_no"),
            Measure("stud", "od_mm", "outside diameter", "number", "mm", (), 30_000, "none"),
        ),
        designs=(
            Design("pin-10", "pin", values={"od_mm": shelf.mm(10)}),
            Design("pin-12", "pin", values={"od_mm": shelf.mm(12)}),
            Design("pin-x", "pin"),
            Design("seal-35", "seal", values={"od_mm": shelf.mm(35), "form": "lipped"}),
            Design("bearing-35", "bearing", values={"od_mm": shelf.mm(35), "form": "open"}),
            Design("bearing-40", "bearing", values={"od_mm": shelf.mm(40), "form": "sealed"}),
            Design("stud-6", "stud"),
        ),
    )


def test_the_kind_whose_sizes_agree_comes_first(bench):
    looks = first_looks(bench, {"od_mm": "34.98"}, {"form": "open"})
    assert [look.kind for look in looks] == ["bearing", "seal", "stud", "pin"]
    top = looks[0]
    assert (top.agrees, top.differs, top.open, top.foreign, top.designs) == (
        ("form", "od_mm"),
        (),
        (),
        (),
        ("bearing-35",),
    )
    assert (looks[1].agrees, looks[1].differs) == (("od_mm",), ("form",))
    assert (looks[2].open, looks[2].foreign) == (("od_mm",), ("form",))
    assert (looks[3].differs, looks[3].designs) == (("od_mm",), ("pin-x",))


@pytest.mark.parametrize(
    ("reading", "agreeing"),
    [
        (9.86, {"pin"}),
        (10.05, set()),
        (35.09, {"bearing", "seal"} - {"bearing"}),
        (34.9, set()),
        (35.05, {"bearing", "seal"}),
    ],
)
def test_wear_is_forgiven_only_in_its_own_direction(bench, reading, agreeing):
    looks = first_looks(bench, {"od_mm": reading})
    assert {look.kind for look in looks if look.agrees} == agreeing


def test_a_kind_that_is_asked_nothing_of_this_is_left_out(bench):
    assert [look.kind for look in first_looks(bench, {}, {"window": True})] == ["piston"]
    assert first_looks(bench, {"od_mm": None, "form": ""}) == ()


def test_no_answer_speaks_for_no_kind(bench):
    assert first_looks(bench, {"window": "can't see", "od_mm": "?"}) == ()


def test_a_measure_no_kind_has_is_refused(bench):
    with pytest.raises(InvalidInput, match="No kind has a measure weight"):
        first_looks(bench, {"weight": 3})


def test_an_answer_no_kind_can_have_is_refused(bench):
    with pytest.raises(InvalidInput, match="'wavy' is not one of its answers"):
        first_looks(bench, {}, {"form": "wavy"})
