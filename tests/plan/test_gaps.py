"""Gaps: what is missing, what fills it, and what stays short."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stash.fit.claims import part_of_design, part_of_lot
from stash.fit.facts import Fitted, Lot, Machine, Mate, Measure, Rule
from stash.fit.intervals import interval
from stash.kernel.exact import MICRO
from stash.kernel.years import Years
from stash.plan.facts import Wanted
from stash.plan.gaps import fills, gaps, one_short
from stash.plan.judging import Judge
from tests.plan.worlds import catalogue, stock

SHEET = {"piston": "piston", "ring upper": "ring", "ring lower": "ring", "reed": "reed"}


def facts(**more):
    return catalogue(
        {"kittle": SHEET},
        {"p1": "piston", "p2": "piston", "r1": "ring", "r2": "ring", "d1": "reed"},
        came_on=[("p1", "kittle", "piston"), ("r1", "kittle", "ring upper"), ("r1", "kittle", "ring lower")],
        **more,
    )


def machine(state="project", **fitted):
    rows = {name.replace("_", " "): Fitted(how) for name, how in fitted.items()}
    return Machine("MA", "kittle", None, state, rows)


def lot(code, design, quantity=1, condition="good", checked="ran", **more):
    kind = {"p": "piston", "r": "ring", "d": "reed"}[design[0]]
    return Lot(code, kind, design, quantity, condition, checked, "BIN", **more)


def test_a_missing_position_lists_the_lots_that_fill_it():
    (gap,) = gaps(facts(), stock([lot("L1", "p1")], machines=[machine(piston="missing")]))
    (short,) = gap.short
    assert (gap.key, gap.machine, gap.fillable, gap.sure) == ("machine:MA", "MA", True, True)
    assert (short.position, short.kind, short.quantity, short.filled_by) == ("piston", "piston", 1, ("L1",))
    assert short.candidates[0].as_dict() == {
        "lot": "L1",
        "design": "p1",
        "verdict": "bolts_on",
        "place": "BIN",
        "condition": "good",
        "quantity": 1,
        "usable": True,
        "why_not": "",
        "years": "",
    }


def test_the_gap_as_plain_data_has_the_names_the_command_line_promises():
    (gap,) = gaps(facts(), stock(machines=[machine(piston="faulty")]))
    assert gap.as_dict() == {
        "gap": "machine:MA",
        "model": "kittle",
        "machine": "MA",
        "short": [{"position": "piston", "kind": "piston", "quantity": 1, "candidates": [], "filled_by": []}],
        "fillable": False,
        "still_short": [{"position": "piston", "quantity": 1}],
        "sure": True,
    }


@pytest.mark.parametrize("state", ["donor", "stripped", "gone"])
def test_holes_of_machines_that_are_not_kept_are_no_gaps(state):
    assert gaps(facts(), stock(machines=[machine(state, piston="missing")])) == []


def test_one_ring_does_not_fill_two_grooves():
    (gap,) = gaps(facts(), stock([lot("L1", "r1")], machines=[machine(ring_upper="missing", ring_lower="missing")]))
    assert not gap.fillable
    assert [len(short.candidates) for short in gap.short] == [1, 1]
    assert gap.still_short == (("ring upper", 1),)
    assert one_short([gap]) == [gap]


def test_two_rings_in_one_lot_fill_two_grooves():
    (gap,) = gaps(facts(), stock([lot("L1", "r1", 2)], machines=[machine(ring_upper="missing", ring_lower="missing")]))
    assert gap.fillable
    assert one_short([gap]) == []


def test_a_position_for_two_takes_equal_parts_from_two_lots_the_better_first():
    world = facts(quantities={("kittle", "piston"): 2})
    lots = [lot("L1", "p1", 1, "serviceable"), lot("L2", "p1", 1, "new"), lot("L3", "p1", 0)]
    (gap,) = gaps(world, stock(lots, machines=[machine(piston="missing")]))
    assert gap.short[0].filled_by == ("L2", "L1")


def test_a_position_for_two_with_one_at_hand_is_one_short():
    world = facts(quantities={("kittle", "piston"): 2})
    (gap,) = gaps(world, stock([lot("L1", "p1")], machines=[machine(piston="missing")]))
    assert gap.still_short == (("piston", 1),)


@pytest.mark.parametrize(
    ("condition", "why_not"),
    [
        ("needs_work", "needs work first"),
        ("core", "only a core to rebuild"),
        ("pattern", "kept as a pattern"),
        ("scrap", "scrap"),
    ],
)
def test_a_part_in_a_poor_condition_is_shown_but_not_used(condition, why_not):
    (gap,) = gaps(facts(), stock([lot("L1", "p1", 1, condition)], machines=[machine(piston="missing")]))
    (candidate,) = gap.short[0].candidates
    assert (candidate.usable, candidate.why_not, gap.fillable) == (False, why_not, False)


@pytest.mark.parametrize(
    ("condition", "checked", "usable"),
    [("new", "", True), ("good", "measured", True), ("good", "looked", False), ("unknown", "ran", False)],
)
def test_a_safety_critical_part_is_used_only_new_or_measured_or_seen_running(condition, checked, usable):
    world = facts(safety=["piston"])
    (gap,) = gaps(world, stock([lot("L1", "p1", 1, condition, checked)], machines=[machine(piston="missing")]))
    (candidate,) = gap.short[0].candidates
    assert candidate.usable == usable
    assert usable or candidate.why_not.startswith("inspect first")


def test_what_is_unknown_or_wont_fit_is_left_out_and_disputed_is_kept_unused():
    rules = [
        Rule("no", "wont_fit", "book", design="p2", model="kittle"),
        Rule("yes", "bolts_on", "word", design="d1", model="kittle"),
        Rule("but", "wont_fit", "word", design="d1", model="kittle"),
    ]
    lots = [lot("L1", "p2"), lot("L2", "d1"), lot("L3", "r2")]
    (gap,) = gaps(
        facts(rules=rules), stock(lots, machines=[machine(piston="missing", reed="missing", ring_upper="missing")])
    )
    shown = {
        short.position: [(each.lot, each.verdict, each.usable) for each in short.candidates] for short in gap.short
    }
    assert shown == {"piston": [], "reed": [("L2", "disputed", False)], "ring upper": []}


def test_fitting_with_work_says_which_work():
    rules = [Rule("file", "with_work", "bench", design="p2", model="kittle", work="file the window")]
    (gap,) = gaps(facts(rules=rules), stock([lot("L1", "p2")], machines=[machine(piston="missing")]))
    assert gap.short[0].candidates[0].why_not == "fits only with work: file the window"


def test_better_verdicts_come_first_then_what_may_be_used_then_condition():
    rules = [Rule("twin", "with_companions", "bench", design="p2", model="kittle", companions=(("d1",),))]
    lots = [lot("L1", "p2"), lot("L2", "p1", 1, "scrap"), lot("L3", "p1", 1, "serviceable"), lot("L4", "p1", 1, "new")]
    (gap,) = gaps(facts(rules=rules), stock(lots, machines=[machine(piston="missing")]))
    assert [each.lot for each in gap.short[0].candidates] == ["L4", "L3", "L2", "L1"]


def test_a_companion_that_a_rule_demands_must_be_there():
    rules = [
        Rule("twin", "with_companions", "bench", design="p2", model="kittle", companions=(("d1",),)),
        Rule("reed", "bolts_on", "bench", design="d1", model="kittle"),
    ]
    world = facts(rules=rules)
    holes = machine(piston="missing", reed="missing")
    alone = gaps(world, stock([lot("L1", "p2")], machines=[holes]))[0]
    both = gaps(world, stock([lot("L1", "p2"), lot("L2", "d1")], machines=[holes]))[0]
    assert (alone.fillable, both.fillable) == (False, True)


def test_parts_that_break_a_mate_between_them_do_not_fill_a_gap_together():
    world = facts(
        values={"p1": {"pin": interval(10)}, "d1": {"pin": interval(12)}},
        mates=(Mate("pin", "pin", "piston", "pin", "reed", "pin", "same"),),
        rules=[Rule("reed", "bolts_on", "bench", design="d1", model="kittle")],
    )
    (gap,) = gaps(
        world,
        stock([lot("L1", "p1"), lot("L2", "d1")], machines=[machine(piston="missing", reed="missing")]),
    )
    assert not gap.fillable
    assert len(gap.still_short) == 1


def test_what_is_fitted_keeps_out_what_does_not_go_with_it():
    world = facts(
        values={"p1": {"pin": interval(10)}, "p2": {"pin": interval(12)}, "d1": {"pin": interval(12)}},
        mates=(Mate("pin", "pin", "piston", "pin", "reed", "pin", "same"),),
        rules=[
            Rule("bench", "with_companions", "bench", design="p1", model="kittle", machine="MA", position="piston"),
        ],
    )
    carrying = Machine("MA", "kittle", None, "runner", {"piston": Fitted("missing"), "reed": Fitted("present", "d1")})
    (gap,) = gaps(world, stock([lot("L1", "p1"), lot("L2", "p2")], machines=[carrying]))
    found = {each.lot: each.why_not for each in gap.short[0].candidates}
    assert found["L1"].startswith("does not go with what is fitted at: reed")
    assert found["L2"] == ""


def test_a_wanted_model_that_is_not_owned_is_short_of_every_position():
    (gap,) = gaps(facts(), stock(wanted=(Wanted("kittle"),)))
    assert (gap.key, gap.machine, len(gap.short)) == ("wanted:kittle", None, 4)


def test_a_wanted_model_owned_incomplete_names_the_most_complete_example():
    worse = Machine("MA", "kittle", None, "project", {"piston": Fitted("missing"), "reed": Fitted("unknown")})
    better = Machine("MB", "kittle", None, "display", {"reed": Fitted("unknown")})
    found = gaps(facts(), stock(machines=[worse, better], wanted=(Wanted("kittle"),)))
    assert [(gap.key, gap.machine, [short.position for short in gap.short]) for gap in found] == [
        ("machine:MA", "MA", ["piston"]),
        ("wanted:kittle", "MB", ["reed"]),
    ]


def test_a_wanted_model_owned_complete_is_no_gap():
    assert gaps(facts(), stock(machines=[machine("runner")], wanted=(Wanted("kittle"),))) == []


def test_a_wanted_model_is_filled_with_parts_of_one_span_of_its_years():
    world = catalogue(
        {"kittle": {"piston": "piston", "reed": "reed"}},
        {"p1": "piston", "d1": "reed"},
        rules=[
            Rule("early", "bolts_on", "book", design="p1", model="kittle", years=Years(None, 1972)),
            Rule("late", "bolts_on", "book", design="d1", model="kittle", years=Years(1973, None)),
        ],
    )
    (gap,) = gaps(world, stock([lot("L1", "p1"), lot("L2", "d1")], wanted=(Wanted("kittle"),)))
    assert not gap.fillable
    assert [short.candidates[0].years for short in gap.short] == ["up to 1972", "from 1973"]


def test_one_lot_is_told_every_gap_it_could_fill():
    holes = [machine(piston="missing", reed="missing"), Machine("MB", "kittle", None, "runner", {})]
    world, shelf = facts(), stock(machines=holes)
    assert fills(world, shelf, lot("L1", "p1")) == [("machine:MA", "piston", "bolts_on")]
    assert fills(world, shelf, lot("L2", "p2"), Judge(world)) == []


def test_an_unidentified_lot_fills_by_its_own_measures():
    world = catalogue(
        {"kittle": {"piston": "piston", "reed": "reed"}},
        {"p1": "piston", "d1": "reed"},
        values={"d1": {"pin": interval(10)}},
        came_on=[("d1", "kittle", "reed")],
        mates=(Mate("pin", "pin", "piston", "pin", "reed", "pin", "same"),),
    )
    stray = Lot("L1", "piston", "", 1, "good", "measured", "", {"pin": interval(10)})
    mute = Lot("L2", "piston", "", 1, "good", "measured", "")
    (gap,) = gaps(world, stock([stray, mute], machines=[machine(piston="missing")]))
    assert [(each.lot, each.verdict) for each in gap.short[0].candidates] == [("L1", "likely")]


def test_a_judge_that_remembers_gives_the_same_gaps():
    world = facts()
    shelf = stock([lot("L1", "p1"), lot("L2", "r1", 2)], machines=[machine(piston="missing", ring_upper="faulty")])
    judge = Judge(world)
    assert gaps(world, shelf, judge) == gaps(world, shelf, judge) == gaps(world, shelf)


def test_two_machines_alike_share_what_is_found_for_one():
    twins = [machine(piston="missing"), replace(machine(piston="missing"), code="MB")]
    found = gaps(facts(), stock([lot("L1", "p1")], machines=twins))
    assert [gap.fillable for gap in found] == [True, True]
    assert found[0].short == found[1].short


def test_rings_of_two_lots_fill_two_grooves_without_taking_one_twice():
    both = machine(ring_upper="missing", ring_lower="missing")
    (gap,) = gaps(facts(), stock([lot("L1", "r1"), lot("L2", "r1")], machines=[both]))
    assert sorted(code for short in gap.short for code in short.filled_by) == ["L1", "L2"]


def test_a_mate_between_two_parts_of_one_kind_is_looked_at_between_positions_only():
    world = facts(
        values={"r1": {"height": interval(10)}, "r2": {"height": interval(12)}},
        mates=(Mate("height", "height", "ring", "height", "ring", "height", "same"),),
        rules=[Rule("r2", "bolts_on", "bench", design="r2", model="kittle")],
    )
    both = machine(ring_upper="missing", ring_lower="missing")
    (gap,) = gaps(world, stock([lot("L1", "r1"), lot("L2", "r2")], machines=[both]))
    assert not gap.fillable


def test_a_size_nobody_took_keeps_nothing_apart():
    world = facts(
        values={"p1": {"pin": interval(10)}},
        mates=(Mate("pin", "pin", "piston", "pin", "reed", "pin", "same"),),
        rules=[Rule("reed", "bolts_on", "bench", design="d1", model="kittle")],
    )
    holes = machine(piston="missing", reed="missing")
    (gap,) = gaps(world, stock([lot("L1", "p1"), lot("L2", "d1")], machines=[holes]))
    assert gap.fillable


@pytest.mark.parametrize(("maker", "generation", "shown"), [("fennaby", "", 1), ("", "small-1", 1), ("other", "", 0)])
def test_a_rule_about_every_part_of_a_maker_or_generation_is_heard(maker, generation, shown):
    rule = Rule("all", "bolts_on", "book", kind="reed", part_maker=maker, part_generation=generation, model="kittle")
    world = facts(rules=[rule])
    made = tuple(replace(row, maker="fennaby", generation="small-1") for row in world.designs)
    (gap,) = gaps(replace(world, designs=made), stock([lot("L1", "d1")], machines=[machine(reed="missing")]))
    assert len(gap.short[0].candidates) == shown


def test_a_module_above_the_rated_speed_is_shown_but_not_used():
    world = facts(
        values={"p1": {"rev_limit_rpm": interval(8500 * MICRO)}},
        measures=(Measure("piston", "rev_limit_rpm", "rev limit", "number", "rpm"),),
    )
    slow = replace(world, models=tuple(replace(row, rated_rpm_u=5000 * MICRO) for row in world.models))
    (gap,) = gaps(slow, stock([lot("L1", "p1")], machines=[machine(piston="missing")]))
    (candidate,) = gap.short[0].candidates
    assert (candidate.usable, gap.fillable) == (False, False)
    assert candidate.why_not == "its limit of 8500 rpm is above the machine's rated 5000 rpm"


def test_the_judge_answers_single_questions_too():
    world = facts()
    judge, part = Judge(world), part_of_design(world.design["p1"])
    assert [finding.verdict for finding in judge.on_model(part, "kittle", "piston")] == ["bolts_on"]
    everywhere = {
        (model, position): tuple(finding.verdict for finding in judge.on_model(part, model, position))
        for model in world.models_with_kind[part.kind]
        for position in world.positions_of_kind[model][part.kind]
    }
    assert judge.on_models(part) == everywhere
    measured = part_of_lot(world, Lot("L1", part.kind, "p1", values={"colour": "red"}))
    assert measured.own
    assert judge.on_models(measured) == everywhere
    assert judge.on_machine(part, machine(piston="missing"), "piston").verdict == "bolts_on"
