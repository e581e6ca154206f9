"""Laws that hold for every catalogue."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design
from stash.fit.companions import NO_SHELF, Shelf
from stash.fit.facts import CameOn, Design, Family, Fitted, Generation, Kind, Machine, Maker, Mate, Model, Rule
from stash.fit.intervals import Outcome, interval
from stash.fit.mates import stock_designs
from stash.fit.verdicts import judge_machine, judge_model
from stash.kernel.years import Years
from tests.fit.by_the_words import World
from tests.fit.small_worlds import catalogues, machines, questions, rule_rows

quick = settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
TABLES = ("models", "designs", "numbers", "position_rows", "came_on", "mates", "rules", "generations", "kinds")


def answers(catalogue, shelf=NO_SHELF):
    return {
        (design.key, model, position): judge_model(catalogue, part_of_design(design), model, position, shelf)
        for design, model, position in questions(catalogue)
    }


def verdicts(found):
    return {key: [(finding.verdict, finding.years) for finding in findings] for key, findings in found.items()}


@quick
@given(catalogues(), st.randoms(use_true_random=False))
def test_the_order_of_rows_never_matters(catalogue, random):
    shuffled = {table: list(getattr(catalogue, table)) for table in TABLES}
    for rows in shuffled.values():
        random.shuffle(rows)
    again = replace(catalogue, **{table: tuple(rows) for table, rows in shuffled.items()})
    assert answers(again) == answers(catalogue)


@quick
@given(catalogues(), st.integers(1970, 1975))
def test_a_row_about_something_else_changes_no_verdict(catalogue, year):
    other = replace(
        catalogue,
        makers=(*catalogue.makers, Maker("far", "far")),
        families=(*catalogue.families, Family("far", "far")),
        generations=(*catalogue.generations, Generation("far", "far", 1, "far")),
        models=(*catalogue.models, Model("far", "far", "far", "far", Years(year, year))),
        kinds=(*catalogue.kinds, Kind("far", "far")),
        designs=(*catalogue.designs, Design("far", "far")),
        came_on=(*catalogue.came_on, CameOn("far", "ka", "far")),
        mates=(*catalogue.mates, Mate("far", "far", "far", "size", "far", "size", "same")),
        rules=(*catalogue.rules, Rule("far", "wont_fit", "bench", design="far", model="far")),
    )
    before, after = verdicts(answers(catalogue)), verdicts(answers(other))
    assert {key: after[key] for key in before} == before


@quick
@given(catalogues(most_rules=3), st.data())
def test_a_claim_changes_only_what_it_covers(catalogue, data):
    """What it covers, and what would go in with a part it covers: only verdicts from broken sizes can follow."""
    positions = sorted({(row.position, row.kind) for row in catalogue.position_rows})
    added = data.draw(rule_rows(catalogue.designs, catalogue.mates, positions, 1))
    assume(added)
    rule = replace(added[0], key="added")
    longer = replace(catalogue, rules=(*catalogue.rules, rule))
    before, after = answers(catalogue), answers(longer)
    for design, model, position in questions(catalogue):
        key = (design.key, model, position)
        covered = (
            rule.design in {"", design.key}
            and rule.kind in {"", design.kind}
            and rule.position in {"", position}
            and catalogue.is_about(rule, catalogue.model[model])
        )
        if not covered:
            broken = any(state.outcome is Outcome.BREAKS for finding in before[key] for state in finding.mates)
            assert broken or verdicts({key: after[key]}) == verdicts({key: before[key]})


@quick
@given(catalogues(), st.data())
def test_companions_mend_what_broke_and_no_set_is_better(catalogue, data):
    asked = questions(catalogue)
    assume(asked)
    shelf = frozenset(data.draw(st.sets(st.sampled_from([row.key for row in catalogue.designs]), max_size=3)))
    broken = 0
    for design, model, position in asked:
        for finding in judge_model(catalogue, part_of_design(design), model, position, Shelf(shelf)):
            broken += _check_companions(catalogue, design, model, position, finding, shelf, None)
    assume(broken)


@quick
@given(st.data())
def test_companions_on_a_machine_as_built_are_the_best_too(data):
    catalogue = data.draw(catalogues())
    machine = data.draw(machines(catalogue))
    assume(machine.year is not None)
    broken = 0
    for position in catalogue.positions[machine.model].values():
        for design in catalogue.designs_of_kind[position.kind]:
            finding = judge_machine(catalogue, part_of_design(design), machine, position.name, Shelf())
            broken += _check_companions(catalogue, design, machine.model, position.name, finding, frozenset(), machine)
    assume(broken)


def _check_companions(catalogue, design, model, position, finding, shelf, machine):
    """Compare with every set tried by the words, in the first and the last year of the finding."""
    told = [each.claim.verdict for each in finding.heard if each.claim.origin == "mates"]
    if not any(state.outcome is Outcome.BREAKS for state in finding.mates):
        assert finding.companions is None
        return 0
    if any(state.outcome is Outcome.BREAKS for state in finding.mates) and len(set(told)) > 1:
        return 0  # merged over years in which the sizes say different things
    for year in {finding.years.from_year, finding.years.to_year}:
        if year is None and finding.years != (None, None):
            continue
        world = World(catalogue, model, year, machine)
        if "breaks" not in world.states({position: design.values}).values():
            continue
        best = world.best_cost(design.values, position, shelf)
        assert told == (["wont_fit"] if best is None else ["with_companions"]) * len(told)
        if finding.companions is not None:
            changes = {each.position: each.design for each in finding.companions.changes}
            sets = world.sets(design.values, position)
            opened = {tuple(sorted(names.items())): opened for opened, names in sets}
            assert world.cost(opened[tuple(sorted(changes.items()))], changes, shelf) == best
    return 1


@quick
@given(catalogues())
def test_a_machine_exactly_as_stock_answers_like_its_model_in_its_year(catalogue):
    for model in catalogue.model.values():
        year = model.years.from_year or model.years.to_year or 1972
        if model.years == (None, None):
            year = 1972
        fitted = {}
        for position in catalogue.positions[model.key]:
            stock = stock_designs(catalogue, model.key, position, year)
            if len(stock) == 1:
                fitted[position] = Fitted("present", stock[0])
        companions = {key for rule in catalogue.rules for item in rule.companions for key in item}
        if companions & {row.design for row in fitted.values()}:
            continue  # companions seen to be fitted are what a model can't know
        machine = Machine("M", model.key, year, fitted=fitted)
        for design, name, position in questions(catalogue):
            if name != model.key:
                continue
            mine = judge_machine(catalogue, part_of_design(design), machine, position)
            for finding in judge_model(catalogue, part_of_design(design), name, position):
                if finding.years.contains(year):
                    assert (mine.verdict, mine.companions) == (finding.verdict, finding.companions)


@quick
@given(catalogues())
def test_replacement_never_works_backwards(catalogue):
    """Where stock rows alone speak for an old design, they do so because it, or one before it, came on it."""
    for new, olds in catalogue.forerunners.items():
        assert new not in olds
    plain = replace(catalogue, rules=(), mates=())
    for (design, model, position), findings in answers(plain).items():
        came = {row.design for row in plain.stock_rows[model].get(position, ())}
        world = World(plain, model, None)
        for finding in findings:
            if finding.verdict != "unknown":
                assert finding.verdict == "bolts_on"
                assert any(design == old or world._replaces(design, old) for old in came)


@quick
@given(st.data())
def test_a_machine_of_unknown_year_is_never_told_more_than_every_year_tells(data):
    catalogue = data.draw(catalogues())
    machine = replace(data.draw(machines(catalogue)), year=None)
    years = catalogue.model[machine.model].years
    assume(years.from_year is not None and years.to_year is not None)
    every = [replace(machine, year=year) for year in range(years.from_year, years.to_year + 1)]
    for position in catalogue.positions[machine.model].values():
        for design in catalogue.designs_of_kind[position.kind]:
            part = part_of_design(design)
            told = judge_machine(catalogue, part, machine, position.name).verdict
            by_year = {judge_machine(catalogue, part, each, position.name).verdict for each in every}
            assert told == "unknown" or by_year == {told}


@quick
@given(st.data())
def test_every_answer_names_what_it_rests_on(data):
    catalogue = data.draw(catalogues())
    for findings in answers(catalogue).values():
        for before, after in pairwise(findings):
            assert before.years.to_year + 1 == after.years.from_year
        for finding in findings:
            counting = {claim.verdict for claim in finding.counting}
            if finding.verdict == "unknown":
                assert not counting
            elif finding.verdict == "disputed":
                assert len(counting) > 1
            else:
                assert counting == {finding.verdict}
            keys = {each.claim.key for each in finding.heard if not each.beaten_by}
            assert {each.beaten_by for each in finding.heard if each.beaten_by} <= keys


def test_a_lot_with_no_measures_of_its_own_answers_like_its_design():
    design = Design("d", "ka", values={"size": interval(2)})
    assert part_of_design(design) == Part("ka", "d", values={"size": interval(2)})
    assert Catalogue().forerunners == {}
