"""How far each build is by itself."""

from __future__ import annotations

from stash.fit.facts import Fitted, Machine
from stash.plan.alone import builds_alone
from tests.plan.test_plan import decided, facts, lot
from tests.plan.worlds import build, stock


def test_positions_are_counted_as_there_on_the_shelf_or_short():
    machine = Machine("MA", "a", None, "project", {"bearing": Fitted("missing")})
    shelf = stock(
        [lot("L1", "p1")],
        [build("A", "a"), build("B", "b", machine="MA"), build("C", "a", parts=(decided("piston", code="L1"),))],
        [machine],
    )
    found = builds_alone(facts(), shelf)
    counts = {key: (each.there, each.on_shelf, each.short, each.decided) for key, each in found.items()}
    assert counts == {"A": (0, 1, 1, ()), "B": (1, 0, 1, ()), "C": (0, 1, 1, ("piston",))}
    assert [each.filled_by for each in found["A"].gap.short] == [(), ("L1",)]


def test_a_build_that_is_not_open_is_left_out():
    assert builds_alone(facts(), stock([], [build("A", "a", status="held")])) == {}
