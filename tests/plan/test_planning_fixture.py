"""Four builds that compete for boots and pistons: what each way of picking completes.

Source: worked by hand; every count below can be checked with pencil and paper.
"""

from __future__ import annotations

from stash.fit.facts import Lot
from stash.plan.solve import plan
from stash.plan.wares import Allowed
from tests.plan.worlds import build, catalogue, stock

NEEDS = {
    "P1": {"piston": "L1 L2", "reed": "L5", "boot": "L7 L8 L13"},
    "P2": {"piston": "L1", "ignition": "L9", "boot": "L8"},
    "P3": {"carburettor": "L10 L11", "clamp": "L12", "boot": "L7"},
    "P4": {"cylinder": "", "piston": "L1 L2"},
}


def workshop():
    kinds = {lot: kind for needs in NEEDS.values() for kind, lots in needs.items() for lot in lots.split()}
    facts = catalogue(
        {model: {kind: kind for kind in needs} for model, needs in NEEDS.items()},
        {f"d{lot}": kind for lot, kind in kinds.items()},
        came_on=[
            (f"d{lot}", model, kind)
            for model, needs in NEEDS.items()
            for kind, lots in needs.items()
            for lot in lots.split()
        ],
    )
    lots = [
        Lot(lot, kind, f"d{lot}", 3 if lot == "L12" else 1, "needs_work" if lot == "L13" else "good", "ran")
        for lot, kind in sorted(kinds.items())
    ]
    return facts, stock(lots, [build(key, key) for key in NEEDS])


def test_without_work_two_builds_are_completed_and_that_is_proven():
    answer = plan(*workshop())
    assert (answer.status, len(answer.completed), answer.value_u, answer.bound_u) == (
        "optimal",
        2,
        2_000_000,
        2_000_000,
    )


def test_with_work_three_builds_are_completed():
    answer = plan(*workshop(), allowed=Allowed(work=True))
    assert answer.completed == ("P1", "P2", "P3")
    assert {part.lot for part in answer.builds[0].parts} == {"L2", "L5", "L13"}


def test_picking_in_order_completes_one():
    answer = plan(*workshop())
    assert answer.naive_completed == ("P1",)


def test_the_build_without_a_cylinder_is_never_completed_and_says_so():
    answer = plan(*workshop(), allowed=Allowed(work=True))
    missing = answer.builds[3].missing
    assert [(each.position, each.why) for each in missing] == [
        ("cylinder", "nothing that can be had fits"),
        ("piston", "what fits goes into P1, P2"),
    ]


def test_no_lot_is_promised_twice():
    answer = plan(*workshop(), allowed=Allowed(work=True))
    used = [part.lot for planned in answer.builds for part in planned.parts]
    assert len(used) == len(set(used))
