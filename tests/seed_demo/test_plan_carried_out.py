"""The demo's best plan, done with the tools of the bench, leaves nothing to find on the machines it completes."""

from __future__ import annotations

import pytest

from stash.plan.wares import Allowed
from stash.services import checks, history, machines
from stash.services.demo import load_demo
from stash.services.plan_questions import Asked, make
from stash.services.plan_reserve import reserve
from stash.services.verify import verify


@pytest.fixture
def own(store):
    """A demo of one's own to work in."""
    load_demo(store)
    return store


def wrong_on(store, machine):
    return {
        (each.position, each.text) for each in checks.check(store, machine).findings if each.level in {"stop", "wrong"}
    }


def test_the_plan_is_reserved_and_carried_out(own):
    made = make(own, Asked(Allowed(), with_gaps=False))
    assert len(made.plan.completed) == 2
    done = reserve(own, made.catalogue, made.stock, made.plan, who="Ann")
    assert done.batch is not None
    again = make(own, Asked(Allowed(), with_gaps=False))
    assert (again.plan.completed, again.plan.value_u) == (made.plan.completed, made.plan.value_u)
    completed = [build for build in again.plan.builds if build.complete]
    before = {build.machine: wrong_on(own, build.machine) for build in completed}
    for build in completed:
        for part in build.parts:
            machines.fit(own, build.machine, part.position, part.lot, who="Ann")
        assert wrong_on(own, build.machine) <= before[build.machine]
        filled = {part.position for part in build.parts}
        assert not {position for position, _ in wrong_on(own, build.machine)} & filled
        assert all(own.stock().machines[build.machine].fitted[name].state == "present" for name in filled)
    assert verify(own).ok
    assert history.history(own, limit=1)
