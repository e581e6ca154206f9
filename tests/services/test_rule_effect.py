"""What is said before a rule is saved is what is found after it: on random worlds, and through the database."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stash.errors import InvalidInput, NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_design
from stash.fit.facts import Rule
from stash.fit.table import VerdictTable
from stash.fit.verdicts import judge_machine, judge_model
from stash.kernel.years import Years
from stash.plan.facts import Stock
from stash.plan.judging import Judge
from stash.services import fits, previews, rows, say_rule, tables
from stash.services.effects import Change
from stash.services.rule_effect import rule_effect, silent
from tests.fit.small_worlds import catalogues, machines, questions, rule_rows
from tests.services.workshop import BOOTS, CARBS, PROJECT

thorough = settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))


def with_rules(catalogue, rules):
    """A catalogue of its own with other rules and nothing worked out before."""
    facts = {name: getattr(catalogue, name) for name in Catalogue.__dataclass_fields__}
    return Catalogue(**{**facts, "rules": tuple(rules)})


def really(before, after):
    """Every verdict that differs, as the plain judge finds them."""
    found = set()
    for design, model, position in questions(before):
        part = part_of_design(design)
        for old in judge_model(before, part, model, position):
            for new in judge_model(after, part, model, position):
                years = old.years.common(new.years)
                if years is not None and old.verdict != new.verdict:
                    found.add(Change(design.key, model, position, years, old.verdict, new.verdict))
    return found


def in_years(changes):
    """Changes year by year, so that it does not matter how stretches of years are cut."""
    return {
        (each.design, each.model, each.position, year, each.before, each.after)
        for each in changes
        for year in range(1968, 1979)
        if each.years.contains(year)
    }


@thorough
@given(st.data())
def test_what_is_foretold_is_what_the_plain_judge_finds_afterwards(data):
    catalogue = data.draw(catalogues(most_rules=4))
    positions = sorted({(row.position, row.kind) for row in catalogue.position_rows})
    drawn = data.draw(rule_rows(catalogue.designs, catalogue.mates, positions, 6))
    new = data.draw(st.none() | st.sampled_from(drawn)) if drawn else None
    old = data.draw(st.none() | st.sampled_from(catalogue.rules)) if catalogue.rules else None
    machine = data.draw(machines(catalogue))
    kept = [rule for rule in catalogue.rules if rule != old and (new is None or rule.key != new.key)]
    if new is not None and old is None:
        old = next((rule for rule in catalogue.rules if rule.key == new.key), None)
    if new is not None and old is not None and new.key != old.key:
        catalogue = with_rules(catalogue, [rule for rule in catalogue.rules if rule.key != new.key])
    after = with_rules(catalogue, [*kept, *([new] if new is not None else [])])
    stock = Stock(machines={machine.code: machine})

    effect = rule_effect(VerdictTable(catalogue), Judge(catalogue), stock, old, new)

    assert in_years(effect.changes) == in_years(really(catalogue, after))
    assert sum(len(changes) for changes in effect.groups.values()) == len(effect.changes)
    for own in effect.own:
        part = part_of_design(catalogue.design[own.design])
        carried = machine.fitted[own.position]
        part = type(part)(part.kind, part.design, "", {**part.values, **carried.values}, frozenset(carried.values))
        assert judge_machine(catalogue, part, machine, own.position).verdict == own.before
        assert judge_machine(after, part, machine, own.position).verdict == own.after


def test_a_rule_without_a_target_says_nothing():
    catalogue = with_rules(Catalogue(), ())
    rule = silent(Rule("r", "wont_fit", "word", kind="carb", model="early", family="a", maker="x"))
    assert not list(catalogue.with_rule(rule).rulebook.models_about(rule))


RULE = {"design": "module-85", "verdict": "bolts_on", "model": "early", "evidence": "bench", "reason": "tried it twice"}


def rows_but_rules(store):
    return {name: rows for name, rows in tables.export(store).items() if name != "rules"}


def verdicts(store):
    return {
        (answer.part.design, fit.model.key, fit.position): fit.verdict
        for answer in fits.fits_all(store)
        for fit in answer.fits
    }


def test_saving_does_what_was_shown_and_nothing_else(workshop):
    rows, before = rows_but_rules(workshop), verdicts(workshop)
    shown = say_rule.preview(workshop, RULE)
    assert verdicts(workshop) == before
    assert not workshop.catalogue().rules
    key = previews.save(workshop, shown, "", None, "owner")
    after = verdicts(workshop)
    assert key == "module-85-on-early"
    foretold = {(each.design, each.model, each.position): (each.before, each.after) for each in shown.effect.changes}
    assert foretold == {spot: (before[spot], after[spot]) for spot in before if before[spot] != after[spot]}
    assert foretold == {("module-85", "early", "module"): ("unknown", "bolts_on")}
    assert rows_but_rules(workshop) == rows


def test_what_it_refuses_as_a_companion_is_foretold_too(workshop):
    shown = say_rule.preview(
        workshop, {"design": "boot-90", "verdict": "wont_fit", "model": "early", "evidence": "bench", "reason": "rubs"}
    )
    turns = {(each.design, each.before, each.after) for each in shown.effect.changes}
    assert ("carb-90", "with_companions", "wont_fit") in turns
    before = verdicts(workshop)
    previews.save(workshop, shown, "", None, "owner")
    after = verdicts(workshop)
    assert {(spot[0], before[spot], after[spot]) for spot in before if before[spot] != after[spot]} == turns


def test_taking_a_rule_back_foretells_the_way_back(workshop):
    key = previews.save(workshop, say_rule.preview(workshop, RULE), "", None, "owner")
    without = say_rule.preview_without(workshop, key)
    assert [(each.before, each.after) for each in without.effect.changes] == [("bolts_on", "unknown")]
    assert without.effect.voices == ()
    before = verdicts(workshop)
    rows.delete_row(workshop, "rules", {"key": key}, None, "owner")
    assert before != verdicts(workshop)
    with pytest.raises(NotFound):
        say_rule.preview_without(workshop, key)


def test_a_changed_rule_is_compared_with_what_it_said(workshop):
    key = previews.save(workshop, say_rule.preview(workshop, RULE), "", None, "owner")
    softer = say_rule.preview(workshop, {**RULE, "key": "another", "verdict": "with_work", "work": "file it"}, key)
    assert [(each.before, each.after) for each in softer.effect.changes] == [("bolts_on", "with_work")]
    assert previews.save(workshop, softer, key, None, "owner") == "another"
    assert [rule.key for rule in workshop.catalogue().rules] == ["another"]
    same = say_rule.preview(workshop, {**RULE, "verdict": "with_work", "work": "file it"}, "another")
    assert same.effect.changes == ()


def test_one_reads_what_beats_it_and_what_it_would_dispute(workshop):
    wide = {"model": "", "generation": "a1", "evidence": "word", "design": "module-55"}
    weak = say_rule.preview(workshop, {**RULE, **wide, "verdict": "wont_fit"})
    assert weak.effect.changes == ()
    [voice] = weak.effect.voices
    assert (voice.outcome, voice.places) == ("beaten", 1)
    assert "stock sheet" in voice.why
    previews.save(workshop, say_rule.preview(workshop, RULE), "", None, "owner")
    against = say_rule.preview(workshop, {**RULE, "verdict": "wont_fit", "source": "a neighbour"})
    assert [each.after for each in against.effect.changes] == ["disputed"]
    assert [each.outcome for each in against.effect.voices] == ["disputed"]
    agreeing = say_rule.preview(workshop, {**RULE, "source": "a neighbour"})
    assert [each.outcome for each in agreeing.effect.voices] == ["agrees"]
    assert agreeing.cells["key"] == "module-85-on-early-2"


def test_my_machines_and_lots_are_named(workshop):
    shown = say_rule.preview(
        workshop, {"design": "carb-0", "verdict": "wont_fit", "model": "late", "evidence": "bench", "reason": "hits"}
    )
    mine = {(each.machine.code, each.position, each.design): each for each in shown.effect.own}
    assert mine[PROJECT, "carburettor", "carb-0"].lots == (CARBS,)
    assert CARBS in shown.effect.lots
    assert PROJECT in shown.effect.machines
    assert BOOTS not in shown.effect.lots


def test_a_rule_about_one_machine_is_heard_on_that_machine_alone(workshop):
    rule = {**RULE, "model": "late", "design": "carb-0", "machine": PROJECT, "verdict": "wont_fit"}
    shown = say_rule.preview(workshop, rule)
    assert shown.effect.changes == ()
    assert {each.machine.code for each in shown.effect.own} == {PROJECT}
    assert sum(each.places for each in shown.effect.voices) == 1


def test_a_design_may_be_named_by_its_number(workshop):
    assert say_rule.preview(workshop, {**RULE, "design": "r41085"}).cells["design"] == "module-85"


@pytest.mark.parametrize(
    ("wrong", "column"),
    [
        ({"design": "no such number"}, "design"),
        ({"evidence": ""}, "evidence"),
        ({"model": ""}, "model"),
        ({"from_year": "soon"}, "from_year"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_written(workshop, wrong, column):
    with pytest.raises(InvalidInput) as caught:
        say_rule.preview(workshop, {**RULE, **wrong})
    assert column in {problem.column for problem in caught.value.problems}
    assert not workshop.catalogue().rules


def test_a_key_that_is_taken_is_refused(workshop):
    key = previews.save(workshop, say_rule.preview(workshop, RULE), "", None, "owner")
    with pytest.raises(InvalidInput, match="taken"):
        say_rule.preview(workshop, {**RULE, "key": key})


def test_the_seal_tells_whether_it_is_still_what_was_shown(workshop):
    first = say_rule.preview(workshop, RULE)
    assert say_rule.preview(workshop, RULE).seal == first.seal
    assert say_rule.preview(workshop, {**RULE, "reason": "another"}).seal != first.seal
    previews.save(workshop, say_rule.preview(workshop, {**RULE, "source": "before"}), "", None, "owner")
    assert say_rule.preview(workshop, {**RULE, "key": "mine"}).effect.changes != first.effect.changes


def test_a_rule_is_said_as_a_sentence(workshop):
    told = say_rule.preview(
        workshop,
        {
            **RULE,
            "design": "",
            "kind": "carb",
            "part_maker": "rud",
            "part_generation": "a2",
            "verdict": "with_companions",
            "companions": "boot-90|boot-0;clip",
            "work": "turn it",
            "model": "",
            "generation": "a1",
            "family": "a",
            "maker": "fen",
            "position": "carburettor",
            "from_year": "1965",
            "to_year": "1967",
            "source": "bench book",
        },
    )
    assert told.sentence == (
        "Any carburettor by Ruddlow of engine A: second goes on machines of engine A: first, every machine of engine "
        f"A, machines by Fennaby, at the carburettor, {Years(1965, 1967)}, together with turned boot or "
        "straight boot and pin clip, after this work: turn it, because tried it twice (fitted it on the "
        "bench: bench book)"
    )
