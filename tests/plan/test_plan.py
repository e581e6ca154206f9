"""The plan: what the owner decided, what may be used beyond the shelf, and the reasons given."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from stash.errors import NotFound
from stash.fit.facts import Fitted, Lot, Machine, Mate, Measure, Rule
from stash.fit.intervals import interval
from stash.kernel.exact import MICRO
from stash.kernel.years import Years
from stash.plan.facts import BuildPart, Wanted
from stash.plan.solve import plan
from stash.plan.wares import Allowed
from tests.plan.worlds import build, catalogue, stock

PIN = Mate("pin", "pin", "piston", "pin", "bearing", "pin", "same")


def facts(**more):
    """Two models that each take a piston and a bearing; p1 and b1 came on both, p2 is one nobody speaks of."""
    given = {
        "values": {},
        "came_on": [(part, model, kind) for part, kind in (("p1", "piston"), ("b1", "bearing")) for model in "ab"],
        **more,
    }
    return catalogue(
        {model: {"piston": "piston", "bearing": "bearing"} for model in "ab"},
        {"p1": "piston", "p2": "piston", "b1": "bearing", "b2": "bearing"},
        **given,
    )


def lot(code, design, quantity=1, condition="good", checked="ran", **more):
    return Lot(code, {"p": "piston", "b": "bearing"}[design[0]], design, quantity, condition, checked, **more)


def decided(position, design="", code=""):
    return BuildPart(position, design, code)


def missing(answer, number=0):
    return {each.position: each.why for each in answer.builds[number].missing}


def test_of_two_builds_that_want_one_part_the_worthier_is_completed():
    shelf = stock([lot("L1", "p1"), lot("L2", "b1", 2)], [build("A", "a", 1), build("B", "b", 3)])
    answer = plan(facts(), shelf)
    assert (answer.completed, answer.naive_completed, answer.naive_value_u) == (("B",), ("A",), MICRO)
    assert missing(answer) == {"piston": "what fits goes into B"}
    assert answer.builds[0].ready == ("bearing",)
    named = stock(
        [lot("L1", "p1"), lot("L2", "b1", 2)], [build("A", "a", 1), replace(build("B", "b", 3), name="Winter")]
    )
    assert missing(plan(facts(), named)) == {"piston": "what fits goes into Winter"}


def test_builds_that_are_held_or_done_are_not_planned_but_held_ones_keep_what_they_are_promised():
    held = build("B", "b", status="held", parts=(decided("piston", code="L1"),))
    done = build("C", "b", status="done", parts=(decided("bearing", code="L2"),))
    shelf = stock([lot("L1", "p1"), lot("L2", "b1")], [build("A", "a"), held, done])
    answer = plan(facts(), shelf)
    assert [each.build for each in answer.builds] == ["A"]
    assert answer.builds[0].ready == ("bearing",)
    assert not answer.completed


def test_only_the_builds_asked_for_are_planned():
    shelf = stock([lot("L1", "p1"), lot("L2", "b1")], [build("A", "a"), build("B", "b")])
    assert plan(facts(), shelf, builds=["B"]).completed == ("B",)


@pytest.mark.parametrize("asked", [{"builds": ["Z"]}, {"gaps": ["machine:Z"]}])
def test_a_build_or_gap_that_is_not_there_is_an_error_that_says_how_to_find_one(asked):
    with pytest.raises(NotFound, match="There is no") as error:
        plan(facts(), stock(), **asked)
    assert "List the" in error.value.hint


def test_gaps_are_planned_like_builds_and_left_to_a_build_on_the_same_machine():
    holed = Machine("MA", "a", None, "project", {"piston": Fitted("missing")}, value_u=5 * MICRO)
    other = Machine("MB", "b", None, "project", {"piston": Fitted("missing")})
    shelf = stock(
        [lot("L1", "p1", 3), lot("L2", "b1", 3)],
        [build("A", "a", machine="MA")],
        [holed, other],
        wanted=(Wanted("b", 2 * MICRO),),
    )
    answer = plan(facts(), shelf, gaps=["machine:MA", "machine:MB", "wanted:b"])
    assert [(each.build, each.complete) for each in answer.builds] == [("A", True), ("machine:MB", True)]
    alone = plan(facts(), shelf, builds=[], gaps=["machine:MA"])
    assert alone.value_u == 5 * MICRO


def test_a_wanted_model_not_owned_is_worth_what_its_wish_says():
    shelf = stock([lot("L1", "p1"), lot("L2", "b1")], wanted=(Wanted("b", 2 * MICRO),))
    assert plan(facts(), shelf, gaps=["wanted:b"]).value_u == 2 * MICRO


def test_a_decision_is_followed_and_flagged_where_it_would_not_have_been_chosen():
    shelf = stock(
        [lot("L1", "p1"), lot("L2", "b1"), lot("L3", "p2", condition="core")],
        [build("A", "a", parts=(decided("piston", code="L3"), decided("bearing")))],
    )
    answer = plan(facts(), shelf)
    piston = answer.builds[0].parts[1]
    assert (piston.lot, piston.decided, piston.flag) == ("L3", True, "nobody knows whether it fits")
    assert answer.condition == 5 + 2


def test_a_decision_for_a_design_takes_any_lot_of_it():
    rules = [Rule("p2", "bolts_on", "bench", design="p2", model="a")]
    shelf = stock(
        [lot("L1", "p1", condition="new"), lot("L2", "b1"), lot("L3", "p2")],
        [build("A", "a", parts=(decided("piston", "p2"),))],
    )
    assert [part.lot for part in plan(facts(rules=rules), shelf).builds[0].parts] == ["L2", "L3"]


def test_a_part_decided_on_for_a_machine_replaces_what_is_fitted():
    fitted = Machine("MA", "a", None, "runner", {"piston": Fitted("present", "p2")})
    shelf = stock([lot("L1", "p1")], [build("A", "a", machine="MA", parts=(decided("piston", code="L1"),))], [fitted])
    answer = plan(facts(), shelf)
    assert [(part.position, part.lot) for part in answer.builds[0].parts] == [("piston", "L1")]


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ((decided("piston", code="L9"),), "the part decided on is not there any more"),
        ((decided("piston", "p9"),), "the part decided on is not there any more"),
        ((decided("piston", "p1", "L3"),), "the part decided on is not there any more"),
        ((decided("piston", code="L2"),), "the part decided on is not a piston"),
        ((decided("piston", code="L1"), decided("piston", code="L3")), "two different parts are decided"),
        ((decided("piston", code="L4"),), "the lot decided on, L4, is empty"),
        ((decided("piston", code="L5"),), "the lot decided on, L5, is promised to another build"),
    ],
)
def test_a_decision_that_cannot_be_followed_is_refused_with_a_reason(parts, why):
    lots = [lot("L1", "p1"), lot("L2", "b1", 2), lot("L3", "p2"), lot("L4", "p1", 0), lot("L5", "p1")]
    first = build("A", "a", status="held", parts=(decided("piston", code="L5"),))
    answer = plan(facts(), stock(lots, [first, build("B", "b", parts=parts)]))
    ((_, reason),) = answer.builds[0].refused
    assert reason.startswith(why)
    assert not answer.builds[0].complete


def test_a_decision_for_a_position_the_model_lacks_is_told_and_stops_nothing():
    chosen = build("A", "a", parts=(decided("mirror", code="L1"),))
    (planned,) = plan(facts(), stock([lot("L1", "p1"), lot("L2", "b1")], [chosen])).builds
    assert (planned.complete, planned.refused) == (True, (("mirror", "the model has no such position"),))


def test_a_decision_that_breaks_a_mate_with_what_stays_is_refused():
    world = facts(values={"p2": {"pin": interval(12)}, "b1": {"pin": interval(10)}}, mates=(PIN,))
    machine = Machine("MA", "a", None, "runner", {"bearing": Fitted("present", "b1")})
    chosen = build("A", "a", machine="MA", parts=(decided("piston", code="L1"),))
    answer = plan(world, stock([lot("L1", "p2")], [chosen], [machine]))
    assert answer.builds[0].refused == (("piston", "it does not go with what is fitted at: bearing"),)
    assert missing(answer)["piston"].startswith("what is decided can't be followed")


def test_a_lot_decided_on_that_is_too_small_is_filled_up_with_equal_parts():
    world = facts(quantities={("a", "piston"): 2})
    chosen = build("A", "a", parts=(decided("piston", code="L1"),))
    answer = plan(world, stock([lot("L1", "p1"), lot("L2", "p1"), lot("L3", "b1")], [chosen]))
    assert [(part.lot, part.quantity) for part in answer.builds[0].parts] == [("L3", 1), ("L1", 1), ("L2", 1)]
    short = plan(world, stock([lot("L1", "p1"), lot("L3", "b1")], [chosen]))
    assert missing(short) == {"piston": "the part decided on is not there"}


def test_a_donor_is_stripped_for_its_value_only_where_it_completes_more():
    donor = Machine("MD", "a", None, "donor", {"bearing": Fitted("present", "b1", "good")}, value_u=80 * MICRO)
    shelf = stock([lot("L1", "p1", 3), lot("L2", "b1")], [build("A", "a"), build("B", "b")], [donor])
    without, allowed = plan(facts(), shelf), plan(facts(), shelf, allowed=Allowed(donors=True))
    assert (len(without.completed), len(allowed.completed), allowed.money_minor) == (1, 2, 8000)
    (note,) = allowed.donors
    assert (note.stripped, len(note.gives), note.cost_minor) == (True, 1, 8000)
    assert note.why.startswith("gives parts to")
    (part,) = [part for each in allowed.builds for part in each.parts if part.donor]
    assert (part.donor, part.donor_position, part.assumed, part.condition) == ("MD", "bearing", False, "good")


def test_what_nobody_looked_at_on_a_donor_is_assumed_stock_and_said_to_be():
    shelf = stock([lot("L1", "p1")], [build("A", "a")], [Machine("MD", "b", None, "donor", {})])
    answer = plan(facts(), shelf, allowed=Allowed(donors=True))
    (part,) = [part for part in answer.builds[0].parts if part.donor]
    assert (part.assumed, part.condition, answer.condition) == (True, "unknown", 2 + 5)


def test_of_donors_that_are_not_stripped_it_is_said_why():
    donors = [
        Machine("MD", "a", None, "donor", {}, value_u=MICRO),
        Machine("ME", "a", None, "donor", {"piston": Fitted("missing"), "bearing": Fitted("present", "b2", "scrap")}),
    ]
    shelf = stock([lot("L1", "p1"), lot("L2", "b1")], [build("A", "a")], donors)
    answer = plan(facts(), shelf, allowed=Allowed(donors=True))
    assert [(note.stripped, note.why) for note in answer.donors] == [
        (False, "what could use its parts is completed without it, at no more cost: A"),
        (False, "carries nothing usable that any of these builds needs"),
    ]
    assert answer.as_dict()["donors"][0]["cost"] == 1.0


def test_a_donor_that_does_not_complete_a_build_says_what_would_still_be_missing():
    donor = Machine("MD", "a", None, "donor", {"piston": Fitted("present", "p1"), "bearing": Fitted("missing")})
    answer = plan(facts(), stock([], [build("A", "a")], [donor]), allowed=Allowed(donors=True))
    assert [note.why for note in answer.donors] == ["A would still miss bearing"]


def test_a_donor_whose_parts_do_not_go_together_says_so():
    sizes = {"p1": {"pin": interval(10)}, "b1": {"pin": interval(12)}}
    donor = Machine("MD", "a", None, "donor", {"piston": Fitted("present", "p1"), "bearing": Fitted("present", "b1")})
    answer = plan(
        facts(values=sizes, mates=(PIN,)), stock([], [build("A", "a")], [donor]), allowed=Allowed(donors=True)
    )
    assert [note.why for note in answer.donors] == ["A lacks what goes with its parts"]


def test_one_donor_may_be_stripped_though_the_others_may_not():
    donors = [Machine(code, "a", None, "donor", value_u=MICRO) for code in ("MD", "ME")]
    answer = plan(facts(), stock([], [build("A", "a")], donors), allowed=Allowed(strip=frozenset({"ME"})))
    assert [(note.machine, note.stripped) for note in answer.donors] == [("ME", True)]


def test_all_that_is_bought_together_stays_within_the_purse():
    world = facts(prices={"p1": 900, "b1": 400})
    shelf = stock([lot("L1", "b1", 2)], [build("A", "a"), build("B", "b", 2)])
    answer = plan(world, shelf, allowed=Allowed(buy=True, purse_minor=1000))
    assert (answer.completed, answer.money_minor, answer.status) == (("B",), 900, "optimal")
    assert missing(answer) == {"piston": "buying it for 9.00 takes all builds together over what may be spent"}
    assert plan(world, shelf, allowed=Allowed(buy=True, purse_minor=1800)).completed == ("A", "B")
    assert plan(world, stock([], [build("A", "a")]), allowed=Allowed(purse_minor=100)).completed == ()


def test_the_machine_being_completed_is_not_its_own_donor():
    machine = Machine("MA", "a", None, "donor", {"piston": Fitted("missing")})
    answer = plan(facts(), stock([], [build("A", "b", machine="MA")], [machine]), allowed=Allowed(donors=True))
    assert not answer.completed


def test_buying_is_cheapest_and_stays_within_the_budget_of_each_build():
    rules = [
        Rule(f"{part}-{model}", "bolts_on", "bench", design=part, model=model) for part in ("p2",) for model in "ab"
    ]
    world = facts(rules=rules, prices={"p1": 900, "p2": 700, "b1": 400})
    builds = [build("A", "a", budget_minor=1000), build("B", "b", budget_minor=1100), build("C", "b")]
    answer = plan(world, stock([lot("L1", "p1")], builds), allowed=Allowed(buy=True))
    assert answer.completed == ("A", "B", "C")
    assert {each.build: each.money_minor for each in answer.builds} == {"A": 400, "B": 1100, "C": 1100}
    assert answer.as_dict()["money"] == 26.0


def test_a_budget_that_is_too_small_is_the_reason_given():
    world = facts(prices={"p1": 900})
    shelf = stock([lot("L2", "b1")], [build("A", "a", budget_minor=500)])
    answer = plan(world, shelf, allowed=Allowed(buy=True))
    assert missing(answer) == {"piston": "buying it for 9.00 takes the build over its budget of 5.00"}


def test_work_counts_before_condition_and_is_shown():
    rules = [
        Rule("slow", "with_work", "bench", design="p2", model="a", minutes=40, work="file it"),
        Rule("quick", "with_work", "bench", design="p1", model="a", minutes=10, because_mate="pin"),
    ]
    world = facts(rules=rules, came_on=[("b1", "a", "bearing")])
    shelf = stock([lot("L1", "p1", condition="serviceable"), lot("L2", "p2", condition="new"), lot("L3", "b1")])
    shelf = replace(shelf, builds={"A": build("A", "a")})
    answer = plan(world, shelf, allowed=Allowed(work=True))
    assert (answer.minutes, answer.builds[0].minutes, answer.builds[0].parts[1].lot) == (10, 10, "L1")
    assert not plan(world, shelf).completed
    looked_at = plan(world, shelf).builds[0].missing[0].look_at
    assert looked_at == (("L1", "fits only with work"), ("L2", "fits only with work"))


def test_a_safety_critical_part_nobody_inspected_is_offered_for_a_look():
    shelf = stock([lot("L1", "p1", checked="looked"), lot("L2", "b1")], [build("A", "a")])
    answer = plan(facts(safety=["piston"]), shelf)
    (short,) = answer.builds[0].missing
    assert short.look_at == (("L1", "inspect first: safety-critical, and neither new nor measured or seen running"),)
    pinned = replace(shelf, builds={"A": build("A", "a", parts=(decided("piston", code="L1"),))})
    assert plan(facts(safety=["piston"]), pinned).completed == ("A",)


def test_companions_a_rule_demands_are_in_the_build_or_the_part_is_not():
    rules = [Rule("p2", "with_companions", "bench", design="p2", model="a", companions=(("b2", "mirror"),))]
    rules.append(Rule("b2", "bolts_on", "bench", design="b2", model="a"))
    world = facts(rules=rules, came_on=[("b1", "a", "bearing")])
    with_stock = plan(world, stock([lot("L1", "p2"), lot("L2", "b1")], [build("A", "a")]))
    with_companion = plan(world, stock([lot("L1", "p2"), lot("L2", "b1"), lot("L3", "b2")], [build("A", "a")]))
    assert (with_stock.completed, with_companion.completed) == ((), ("A",))
    assert [part.design for part in with_companion.builds[0].parts] == ["b2", "p2"]
    carrying = Machine("MA", "a", None, "project", {"piston": Fitted("missing"), "bearing": Fitted("present", "b2")})
    shelf = stock([lot("L1", "p2")], [build("A", "a", machine="MA")], [carrying])
    assert plan(world, shelf).completed == ("A",)


def test_parts_that_break_with_the_models_own_go_in_only_where_the_build_mends_it():
    values = {"p1": 10, "b1": 10, "p2": 12, "b2": 12}
    world = facts(values={key: {"pin": interval(size)} for key, size in values.items()}, mates=(PIN,))
    mixed = plan(world, stock([lot("L1", "p2"), lot("L2", "b1")], [build("A", "a")]))
    paired = plan(world, stock([lot("L1", "p2"), lot("L2", "b2")], [build("A", "a")]))
    assert (mixed.completed, paired.completed) == ((), ("A",))
    assert {part.verdict for part in paired.builds[0].parts} == {"with_companions"}


def test_a_part_that_goes_only_with_what_is_fitted_already_is_used_on_that_machine():
    values = {"p1": 10, "b1": 10, "p2": 12, "b2": 12}
    world = facts(values={key: {"pin": interval(size)} for key, size in values.items()}, mates=(PIN,))
    blend = Machine("MA", "a", None, "project", {"piston": Fitted("missing"), "bearing": Fitted("present", "b2")})
    stays = Machine("MB", "a", None, "project", {"piston": Fitted("missing"), "bearing": Fitted("unknown")})
    lots = [lot("L1", "p2", 2)]
    on_blend = plan(world, stock(lots, [build("A", "a", machine="MA")], [blend]))
    on_unknown = plan(world, stock(lots, [build("A", "a", machine="MB")], [stays]))
    assert (on_blend.completed, on_unknown.completed) == (("A",), ())


def test_what_is_left_but_does_not_go_together_is_said_to_be_so():
    rules = [Rule(part, "bolts_on", "bench", design=part, model="a") for part in ("p1", "b2")]
    values = {"p1": {"pin": interval(10)}, "b2": {"pin": interval(12)}}
    world = facts(values=values, mates=(PIN,), rules=rules, came_on=[])
    answer = plan(world, stock([lot("L1", "p1"), lot("L2", "b2")], [build("A", "a")]))
    assert list(missing(answer).values()) == ["what is left does not go with the other parts"]


def test_a_bare_model_is_built_from_parts_of_one_span_of_its_years():
    rules = [
        Rule("early", "bolts_on", "book", design="p2", model="a", years=Years(None, 1972)),
        Rule("late", "bolts_on", "book", design="b2", model="a", years=Years(1973, None)),
        Rule("late piston", "bolts_on", "book", design="p1", model="a", years=Years(1973, None)),
    ]
    world = facts(rules=rules, came_on=[])
    torn = stock([lot("L1", "p2"), lot("L2", "b2")], [build("A", "a")])
    whole = stock([lot("L1", "p2"), lot("L2", "b2"), lot("L3", "p1")], [build("A", "a")])
    assert (plan(world, torn).completed, plan(world, whole).completed) == ((), ("A",))


def test_a_machine_is_planned_in_its_year_and_cautiously_without_one():
    rules = [Rule("early", "bolts_on", "book", design="p2", model="a", years=Years(None, 1972))]
    world = facts(rules=rules, came_on=[])

    def completed(year):
        machine = Machine("MA", "a", year, "project", {"piston": Fitted("missing")})
        return plan(world, stock([lot("L1", "p2")], [build("A", "a", machine="MA")], [machine])).completed

    assert (completed(1970), completed(1975), completed(None)) == (("A",), (), ())


def test_the_part_whose_arrival_completes_most_is_named():
    shelf = stock([lot("L1", "b1", 2)], [build("A", "a"), build("B", "b"), build("C", "b")])
    world = facts(prices={"p1": 650})
    answer = plan(world, shelf)
    assert answer.best_arrival.as_dict() == {
        "design": "p1",
        "kind": "piston",
        "quantity": 2,
        "completes": ["A", "B"],
        "value": 2,
        "price": 6.5,
    }
    assert answer.builds[0].missing[0].designs == ("p1",)


def test_a_part_elsewhere_may_be_what_would_complete_a_build():
    values = {"p1": 10, "b1": 10, "p2": 12, "b2": 12}
    rules = [Rule(part, "bolts_on", "bench", design=part, model="a") for part in ("p2", "b2")]
    world = facts(values={key: {"pin": interval(size)} for key, size in values.items()}, mates=(PIN,), rules=rules)
    silent = replace(world, came_on=())
    answer = plan(silent, stock([lot("L1", "p2"), lot("L2", "b1")], [build("A", "a")]))
    assert answer.best_arrival is None or answer.best_arrival.completes == ("A",)


def test_nothing_is_named_when_no_single_part_completes_anything():
    answer = plan(facts(), stock([], [build("A", "a")]))
    assert answer.best_arrival is None
    assert answer.as_dict()["best_arrival"] is None


def test_surplus_is_what_neither_plan_nor_gap_could_use():
    holed = Machine("MA", "b", None, "project", {"bearing": Fitted("missing")})
    lots = [
        lot("L1", "p1", 3),
        lot("L2", "b1", 3),
        lot("L3", "p2"),
        Lot("L4", "piston", "", 1),
        lot("L5", "b1", condition="serviceable"),
    ]
    answer = plan(facts(), stock(lots, [build("A", "a")], [holed]))
    assert [(each.lot, each.quantity) for each in answer.surplus] == [("L1", 2), ("L2", 1), ("L3", 1), ("L5", 1)]


def test_what_an_unfinished_build_could_use_is_no_surplus():
    answer = plan(facts(), stock([lot("L1", "p1")], [build("A", "a")]))
    assert answer.surplus == ()


def test_the_plan_as_plain_data_has_the_names_the_command_line_promises():
    shelf = stock([lot("L1", "p1"), lot("L2", "b1")], [build("A", "a"), build("B", "b", 0.5)])
    data = plan(facts(), shelf).as_dict()
    assert {"status", "completed", "value", "money", "minutes", "bound", "builds", "surplus", "best_arrival"} <= set(
        data
    )
    assert (data["value"], data["bound"], data["status"]) == (1, 1, "optimal")
    assert (
        data["builds"][0]["parts"][0] | {"design": "b1", "lot": "L2", "donor": None, "buy": False}
        == (data["builds"][0]["parts"][0])
    )
    assert data["builds"][1]["value"] == 0.5
    assert data["builds"][1]["missing"][0]["kind"] == "bearing"


def test_a_plan_without_builds_is_empty_and_proven():
    answer = plan(facts(), stock())
    assert (answer.status, answer.builds, answer.value_u) == ("optimal", (), 0)


def test_a_companion_kind_that_stays_on_the_machine_counts_as_there():
    rule = Rule("p2", "with_companions", "bench", design="p2", model="a", companions=(("p1", "bearing"),))
    carrying = Machine("MA", "a", None, "project", {"piston": Fitted("missing"), "bearing": Fitted("present", "b1")})
    shelf = stock([lot("L1", "p2")], [build("A", "a", machine="MA")], [carrying])
    answer = plan(facts(rules=[rule], came_on=[]), shelf)
    assert (answer.completed, answer.builds[0].parts[0].companions) == (("A",), (("p1", "bearing"),))


def test_a_size_nobody_took_goes_with_every_size():
    rules = [Rule(part, "bolts_on", "bench", design=part, model="a") for part in ("p1", "p2", "b1", "b2")]
    values = {"p2": 12, "b1": 10, "b2": 12}
    world = facts(
        values={key: {"pin": interval(size)} for key, size in values.items()}, mates=(PIN,), rules=rules, came_on=[]
    )
    lots = [
        lot("L1", "p1"),
        lot("L2", "p2", condition="new"),
        lot("L3", "b1"),
        lot("L4", "b2", condition="serviceable"),
    ]
    answer = plan(world, stock(lots, [build("A", "a")]))
    assert ([part.design for part in answer.builds[0].parts], answer.condition) == (["b2", "p2"], 3)


def test_of_two_spans_of_years_that_can_both_be_built_one_is():
    rules = [
        Rule(f"{part} {when}", "bolts_on", "book", design=part, model="a", years=years)
        for part, when, years in (
            ("p2", "early", Years(None, 1972)),
            ("p1", "late", Years(1973, None)),
            ("b1", "early", Years(None, 1972)),
            ("b1", "late", Years(1973, None)),
        )
    ]
    world = facts(rules=rules, came_on=[])
    answer = plan(world, stock([lot("L1", "p1"), lot("L2", "p2"), lot("L3", "b1", 2)], [build("A", "a", 3)]))
    assert (answer.completed, answer.value_u, len(answer.builds[0].parts)) == (("A",), 3 * MICRO, 2)


def test_of_several_lots_decided_on_no_more_is_set_aside_than_is_needed():
    chosen = build("A", "a", parts=(decided("piston", code="L1"), decided("piston", code="L2")))
    shelf = stock([lot("L1", "p1"), lot("L2", "p1"), lot("L3", "b1", 2)], [chosen, build("B", "b")])
    assert plan(facts(), shelf).completed == ("A", "B")


def test_a_part_that_would_run_too_fast_goes_in_only_where_its_owner_decided_so():
    world = facts(
        values={"p1": {"rev_limit_rpm": interval(8500 * MICRO)}},
        measures=(Measure("piston", "rev_limit_rpm", "rev limit", "number", "rpm"),),
    )
    slow = replace(world, models=tuple(replace(row, rated_rpm_u=5000 * MICRO) for row in world.models))
    shelf = stock([lot("L1", "p1"), lot("L2", "b1")], [build("A", "a")])
    (short,) = plan(slow, shelf).builds[0].missing
    assert short.look_at == (("L1", "its limit of 8500 rpm is above the machine's rated 5000 rpm"),)
    pinned = replace(shelf, builds={"A": build("A", "a", parts=(decided("piston", code="L1"),))})
    assert "above the machine's rated" in plan(slow, pinned).builds[0].parts[1].flag


@pytest.mark.parametrize(("positions", "completed"), [(5, ("A",)), (6, ())])
def test_a_part_mended_only_by_change_after_change_is_not_used(positions, completed):
    """Each part meets the next; the model's own are all of size 10, the loose ones of size 12."""
    kinds = [f"k{number}" for number in range(positions)]
    designs = {f"{kind}-{size}": kind for kind in kinds for size in (10, 12)}
    world = catalogue(
        {"a": {kind: kind for kind in kinds}},
        designs,
        values={key: {"size": interval(int(key[-2:]))} for key in designs},
        came_on=[(f"{kind}-10", "a", kind) for kind in kinds],
        mates=tuple(Mate(f"{one}{other}", "", one, "size", other, "size", "same") for one, other in pairwise(kinds)),
    )
    lots = [Lot(f"L{kind}", kind, f"{kind}-12", 1, "good") for kind in kinds]
    assert plan(world, stock(lots, [build("A", "a")])).completed == completed


def test_two_positions_that_meet_in_two_sizes_must_agree_in_both():
    rules = [Rule(part, "bolts_on", "bench", design=part, model="a") for part in ("p1", "p2", "b1", "b2")]
    sizes = {"p1": (10, 1), "p2": (12, 2), "b1": (10, 2), "b2": (10, 1)}
    world = facts(
        values={key: {"pin": interval(pin), "width": interval(width)} for key, (pin, width) in sizes.items()},
        mates=(PIN, Mate("width", "width", "piston", "width", "bearing", "width", "same")),
        rules=rules,
        came_on=[],
    )
    lots = [lot("L1", "p1"), lot("L2", "p2", condition="new"), lot("L3", "b1", condition="new"), lot("L4", "b2")]
    answer = plan(world, stock(lots, [build("A", "a")]))
    assert [part.design for part in answer.builds[0].parts] == ["b2", "p1"]


def test_what_would_complete_a_build_leaves_alone_what_is_decided():
    rules = [Rule(part, "bolts_on", "bench", design=part, model="a") for part in ("p1", "p2", "b1", "b2")]
    sizes = {"p1": 10, "p2": 12, "b1": 10, "b2": 12}
    world = facts(
        values={key: {"pin": interval(size)} for key, size in sizes.items()}, mates=(PIN,), rules=rules, came_on=[]
    )
    chosen = build("A", "a", parts=(decided("bearing", code="L2"),))
    answer = plan(world, stock([lot("L1", "p1"), lot("L2", "b2")], [chosen]))
    assert (answer.completed, answer.best_arrival.design) == ((), "p2")
