"""A whole shelf looked at by size says what asking part by part says, and loses no plan."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stash.fit.claims import part_of_design
from stash.fit.facts import Mate
from stash.fit.intervals import Outcome, interval
from stash.kernel.exact import MICRO
from stash.plan.facts import Stock
from stash.plan.judging import Judge
from stash.plan.prospects import Prospects
from stash.plan.sized import NOTHING, Sized, places_of
from stash.plan.solve import plan
from stash.plan.spots import part_signature
from stash.plan.wares import Allowed
from tests.plan.random_worlds import small_workshop
from tests.plan.test_plan import lot
from tests.plan.worlds import build, catalogue, stock


def spots(world, shelf):
    judge = Judge(world)
    for model, sheet in world.positions.items():
        for position in sheet.values():
            for machine in (None, *(row for row in shelf.machines.values() if row.model == model)):
                parts = [part_of_design(row) for row in world.designs if row.kind == position.kind]
                yield judge.spot(model, position.name, machine), Sized(parts)


def placed(sized, good):
    return [place for place, part in enumerate(sized.parts) if good(part)]


@pytest.mark.parametrize("seed", range(25))
def test_a_shelf_at_once_says_what_each_part_says_by_itself(seed):
    for spot, sized in spots(*small_workshop(seed)):
        standing = spot.standing(sized, None)
        assert list(places_of(standing.likely)) == placed(sized, lambda part: spot.sizes_in(part, None) == "likely")  # noqa: B023
        assert list(places_of(standing.breaking)) == placed(sized, lambda part: spot.sizes_in(part, None) == "breaks")  # noqa: B023
        assert list(places_of(spot.spoken_among(sized))) == placed(sized, spot.spoken_of)
        offered = [place for place, _ in spot.offered_among(sized)]
        assert offered == placed(sized, lambda part: spot.offered(part, part_signature(part)))  # noqa: B023
        for key, bits in standing.broken.items():
            broken = placed(sized, lambda part: spot.outcomes(part, None)[key] is Outcome.BREAKS)  # noqa: B023
            assert list(places_of(bits)) == broken


@pytest.mark.parametrize("seed", range(40))
def test_what_is_not_worth_judging_loses_no_plan(seed, monkeypatch):
    world, shelf = small_workshop(seed)
    bare = {key: replace(row, machine="") for key, row in shelf.builds.items()}
    for given in (shelf, Stock(shelf.machines, shelf.lots, shelf.places, bare)):
        quick = plan(world, given, allowed=Allowed(buy=True)).as_dict()
        with monkeypatch.context() as slow:
            slow.setattr(Prospects, "of", Prospects.anyhow)
            assert plan(world, given, allowed=Allowed(buy=True)).as_dict() == quick


def test_an_empty_shelf_has_no_places():
    assert (NOTHING.all, list(places_of(NOTHING.all))) == (0, [])


def test_two_parts_of_one_kind_that_meet_are_told_apart_by_the_solver():
    sizes = {"b1": 10, "b2": 12, "b3": 12}
    world = catalogue(
        {"a": {"left": "bearing", "right": "bearing"}},
        dict.fromkeys(sizes, "bearing"),
        values={key: {"bore": interval(size * MICRO)} for key, size in sizes.items()},
        came_on=[("b1", "a", "left"), ("b1", "a", "right")],
        mates=(Mate("pair", "pair", "bearing", "bore", "bearing", "bore", "same"),),
    )
    lots = [lot("L1", "b1"), lot("L2", "b2"), lot("L3", "b3")]
    assert plan(world, stock(lots, [build("A", "a")])).completed == ("A",)
    assert plan(world, stock(lots[:2], [build("A", "a")])).completed == ()


def test_a_size_not_known_of_the_models_own_part_leaves_its_mate_open():
    world = catalogue(
        {"a": {"piston": "piston", "bearing": "bearing"}},
        {"p1": "piston", "p2": "piston", "b1": "bearing"},
        values={"p1": {"pin": interval(MICRO)}, "p2": {"pin": interval(MICRO)}},
        came_on=[("p1", "a", "piston"), ("b1", "a", "bearing")],
        mates=(Mate("pin", "pin", "piston", "pin", "bearing", "pin", "same"),),
    )
    spot = Judge(world).spot("a", "piston", None)
    standing = spot.standing(Sized([part_of_design(world.design["p2"])]), None)
    assert (standing.likely, standing.breaking) == (0, 0)
