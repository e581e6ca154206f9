"""Designs refused by rules that name none: where several such rules speak, they are weighed like any claims."""

import pytest

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Site
from stash.fit.facts import Design, Family, Generation, Kind, Maker, Model, PositionRow, Rule
from stash.fit.refusals import refused_designs

NO = Rule("no", "wont_fit", "word", kind="boot", part_maker="rud", family="a")


def refused_with(*rules):
    catalogue = Catalogue(
        makers=(Maker("fen", "Fennaby"), Maker("rud", "Ruddlow")),
        families=(Family("a", "engine A"),),
        generations=(Generation("a1", "a", 1, "first"),),
        models=(Model("early", "Early", "fen", "a1"),),
        kinds=(Kind("boot", "intake boot"),),
        designs=(Design("ours", "boot", maker="fen"), Design("theirs", "boot", maker="rud")),
        position_rows=(PositionRow("a1", "", "boot", "boot"),),
        rules=rules,
    )
    return set(refused_designs(catalogue, "boot", Site(catalogue.model["early"], "boot"), None))


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (None, {"theirs"}),
        (Rule("yes", "bolts_on", "bench", kind="boot", part_maker="rud", model="early"), set()),
        (Rule("yes", "bolts_on", "word", kind="boot", part_maker="rud", family="a"), {"theirs"}),
        (Rule("yes", "bolts_on", "bench", kind="boot", part_maker="fen", model="early"), {"theirs"}),
    ],
    ids=["alone", "beaten by the bench", "disputed by equal word", "about another maker"],
)
def test_a_maker_wide_refusal_stands_unless_it_is_beaten(other, expected):
    assert refused_with(*(rule for rule in (NO, other) if rule)) == expected
