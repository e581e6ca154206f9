"""Two plans side by side."""

from __future__ import annotations

from stash.fit.facts import Machine
from stash.kernel.exact import MICRO
from stash.plan.comparing import compare
from stash.plan.solve import plan
from stash.plan.wares import Allowed
from tests.plan.test_plan import facts, lot
from tests.plan.worlds import build, stock


def test_buying_shows_what_it_gains_and_costs():
    world = facts(prices={"b1": 400})
    shelf = stock([lot("L1", "p1", 2)], [build("A", "a", 2), build("B", "b", 3)])
    found = compare(plan(world, shelf), plan(world, shelf, allowed=Allowed(buy=True)))
    assert (found.gained, found.lost, found.value_u, found.money_minor) == (("A", "B"), (), 5 * MICRO, 800)
    assert found.as_dict()["bought"] == [{"design": "b1", "quantity": 2}]
    assert found.proven


def test_a_donor_shows_as_stripped_and_a_build_that_gives_way_as_lost():
    donor = Machine("MD", "a", None, "donor", value_u=2 * MICRO)
    shelf = stock([lot("L1", "p1"), lot("L2", "b1")], [build("A", "a"), build("B", "b", 3)], [donor])
    without, with_it = plan(facts(), shelf), plan(facts(), shelf, allowed=Allowed(donors=True))
    assert compare(without, with_it).stripped == ("MD",)
    assert (compare(with_it, without).lost, compare(with_it, without).money_minor) == (("A",), -200)


def test_a_plan_beside_itself_differs_in_nothing():
    made = plan(facts(), stock([lot("L1", "p1"), lot("L2", "b1")], [build("A", "a")]), seconds=0)
    assert compare(made, made).as_dict() == {
        "gained": [],
        "lost": [],
        "value": 0,
        "money": 0.0,
        "minutes": 0,
        "condition": 0,
        "bought": [],
        "stripped": [],
        "proven": made.status == "optimal",
    }
