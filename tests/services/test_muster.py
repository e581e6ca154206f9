"""The muster: every model once, with what stands here of it."""

from stash.services import rows
from stash.services.muster import STATES, muster
from tests.services.workshop import DONOR, PROJECT, RUNNER


def tiles(store):
    return {tile.model.key: tile for _, ranks in muster(store).families for rank in ranks for tile in rank.tiles}


def test_every_model_stands_once_under_its_generation(workshop):
    found = muster(workshop)
    [(family, ranks)] = found.families
    assert family.key == "a"
    assert [(rank.generation.key, [tile.model.key for tile in rank.tiles]) for rank in ranks] == [
        ("a1", ["early"]),
        ("a2", ["late"]),
    ]
    assert sum(found.counts.values()) == 2
    assert tuple(found.counts) == STATES


def test_complete_short_and_for_parts_are_told_apart(workshop):
    found = tiles(workshop)
    assert (found["early"].state, found["early"].complete, found["early"].for_parts) == (
        "complete",
        (RUNNER,),
        (DONOR,),
    )
    assert (found["late"].state, found["late"].short) == ("short", (PROJECT,))
    assert found["late"].finishable == (PROJECT,)
    assert found["late"].wanted == "wanted:late"
    rows.save_row(workshop, "machines", {"state": "gone"}, {"code": RUNNER}, None, "owner")
    assert tiles(workshop)["early"].state == "parts"
    rows.save_row(workshop, "machines", {"state": "gone"}, {"code": DONOR}, None, "owner")
    assert tiles(workshop)["early"].state == "missing"
    rows.save_row(workshop, "wanted", {"model": "early"}, None, None, "owner")
    assert tiles(workshop)["early"].state == "wanted"
    assert tiles(workshop)["early"].kept == ()


def test_an_empty_stash_has_an_empty_muster(store):
    assert muster(store).families == ()
