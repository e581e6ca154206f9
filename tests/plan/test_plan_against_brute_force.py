"""The plan against trying everything, on small random workshops."""

from __future__ import annotations

import pytest

from stash.plan.solve import plan
from stash.plan.wares import Allowed
from tests.plan.by_the_words import Worth, best
from tests.plan.random_worlds import small_workshop


@pytest.mark.parametrize("seed", range(400))
def test_the_plan_is_what_trying_everything_finds(seed):
    facts, stock = small_workshop(seed)
    allowed = Allowed(donors=seed % 2 == 0, buy=seed % 3 == 0, work=seed % 5 == 0)
    answer = plan(facts, stock, allowed=allowed)
    expected = best(facts, stock, donors=allowed.donors, buy=allowed.buy, work=allowed.work)
    assert answer.status == "optimal"
    assert Worth(answer.value_u, answer.money_minor, answer.minutes, answer.condition) == expected
