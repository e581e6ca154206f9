"""Laws of the plan on small random workshops."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stash.plan.facts import BuildPart, Stock
from stash.plan.solve import plan
from stash.plan.wares import Allowed
from tests.plan.random_worlds import small_workshop

some = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
seeds = st.integers(0, 10_000)
EVERYTHING = Allowed(donors=True, buy=True, work=True)


def order(answer):
    return (answer.value_u, -answer.money_minor, -answer.minutes, -answer.condition)


@some
@given(seeds)
def test_another_part_never_makes_a_plan_worse(seed):
    facts, shelf = small_workshop(seed)
    code, lot = min(shelf.lots.items())
    more = replace(shelf, lots={**shelf.lots, code: replace(lot, quantity=lot.quantity + 1)})
    assert order(plan(facts, more)) >= order(plan(facts, shelf))


@some
@given(seeds)
def test_leaving_out_a_build_never_lowers_what_the_others_get(seed):
    facts, shelf = small_workshop(seed)
    whole = plan(facts, shelf)
    for key, row in shelf.builds.items():
        others = plan(
            facts, replace(shelf, builds={other: each for other, each in shelf.builds.items() if other != key})
        )
        assert others.value_u >= whole.value_u - (row.value_u if key in whole.completed else 0)


@some
@given(seeds)
def test_allowing_more_never_lowers_the_value(seed):
    facts, shelf = small_workshop(seed)
    assert plan(facts, shelf, allowed=EVERYTHING).value_u >= plan(facts, shelf).value_u


@some
@given(seeds)
def test_the_plan_never_completes_less_than_picking_in_order(seed):
    answer = plan(*small_workshop(seed), allowed=EVERYTHING)
    assert answer.value_u >= answer.naive_value_u


@some
@given(seeds)
def test_no_lot_gives_more_than_it_holds(seed):
    facts, shelf = small_workshop(seed)
    answer = plan(facts, shelf, allowed=EVERYTHING)
    for code, lot in shelf.lots.items():
        used = sum(part.quantity for planned in answer.builds for part in planned.parts if part.lot == code)
        spare = sum(each.quantity for each in answer.surplus if each.lot == code)
        assert used + spare <= lot.quantity


@some
@given(seeds, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(seed, rng):
    facts, shelf = small_workshop(seed)

    def shuffled(rows):
        items = list(rows.items())
        rng.shuffle(items)
        return dict(items)

    mixed = Stock(shuffled(shelf.machines), shuffled(shelf.lots), shelf.places, shuffled(shelf.builds))
    assert plan(facts, mixed, allowed=EVERYTHING).as_dict() == plan(facts, shelf, allowed=EVERYTHING).as_dict()


@some
@given(seeds)
def test_a_decision_is_honoured_or_refused_with_a_reason(seed):
    facts, shelf = small_workshop(seed)
    code, lot = min(shelf.lots.items())
    key, row = max(shelf.builds.items())
    for position in facts.positions[row.model].values():
        if position.kind != lot.kind:
            continue
        pinned = replace(row, parts=(BuildPart(position.name, "", code),))
        answer = plan(facts, replace(shelf, builds={**shelf.builds, key: pinned}))
        planned = next(each for each in answer.builds if each.build == key)
        if planned.complete:
            assert code in {part.lot for part in planned.parts if part.position == position.name}
        else:
            assert all(each.why for each in planned.missing)
            assert planned.missing
        assert all(part.lot != code for each in answer.builds if each.build != key for part in each.parts) or (
            lot.quantity > position.quantity
        )


@some
@given(seeds)
def test_one_part_whose_arrival_is_named_does_complete_its_builds(seed):
    facts, shelf = small_workshop(seed)
    before = plan(facts, shelf)
    arrival = before.best_arrival
    if arrival is None:
        return
    lot = replace(next(iter(shelf.lots.values())), code="NEW", kind=arrival.kind, design=arrival.design)
    arrived = replace(lot, quantity=arrival.quantity, condition="new", values={})
    after = plan(facts, replace(shelf, lots={**shelf.lots, "NEW": arrived}))
    assert after.value_u >= before.value_u + arrival.value_u
