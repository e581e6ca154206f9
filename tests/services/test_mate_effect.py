"""What is said before a mate is saved is what is found after it: on random worlds, and through the database."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stash.errors import InvalidInput, NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.checks import fitted_part
from stash.fit.table import VerdictTable
from stash.fit.verdicts import judge_machine
from stash.plan.facts import Stock
from stash.plan.judging import Judge
from stash.services import page_rows, previews, rows, say_mate
from stash.services.mate_effect import mate_effect
from tests.fit.small_worlds import KINDS, catalogues, machines, mate_rows
from tests.services.test_rule_effect import in_years, really, verdicts


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_what_is_foretold_is_what_the_plain_judge_finds_afterwards(data):
    catalogue = data.draw(catalogues(most_rules=3))
    positions = sorted({(row.position, row.kind) for row in catalogue.position_rows})
    kinds = sorted({row.kind for row in catalogue.designs} & set(KINDS))
    old = data.draw(st.none() | st.sampled_from(catalogue.mates))
    new = data.draw(st.none() | st.sampled_from(data.draw(mate_rows(kinds, positions))))
    if new is not None:
        new = replace(new, key="another" if old is None else old.key)
    machine = data.draw(machines(catalogue))
    facts = {name: getattr(catalogue, name) for name in Catalogue.__dataclass_fields__}
    kept = [mate for mate in catalogue.mates if mate != old]
    after = Catalogue(**{**facts, "mates": (*kept, *([new] if new is not None else []))})

    effect = mate_effect(VerdictTable(catalogue), Judge(catalogue), Stock(machines={machine.code: machine}), old, new)

    assert in_years(effect.changes) == in_years(really(catalogue, after))
    for own in effect.own:
        part = fitted_part(catalogue, machine, own.position)
        assert judge_machine(catalogue, part, machine, own.position).verdict == own.before
        assert judge_machine(after, part, machine, own.position).verdict == own.after


def some_mate(store):
    return dict(page_rows.rows(store, "mates").rows[0].cells)


def test_saving_does_what_was_shown(workshop):
    told = [
        (row.cells, say_mate.preview_without(workshop, row.identity[0]))
        for row in page_rows.rows(workshop, "mates").rows
    ]
    cells, shown = next(each for each in told if each[1].effect.changes)
    before = verdicts(workshop)
    rows.delete_row(workshop, "mates", {"key": cells["key"]}, None, "owner")
    after = verdicts(workshop)
    foretold = {(each.design, each.model, each.position): (each.before, each.after) for each in shown.effect.changes}
    assert foretold == {spot: (before[spot], after[spot]) for spot in before if before[spot] != after[spot]}
    again = say_mate.preview(workshop, {**cells, "key": ""})
    assert {(each.after, each.before) for each in again.effect.changes} == set(foretold.values())
    previews.save(workshop, again, "", None, "owner")
    assert verdicts(workshop) == before


def test_another_key_alone_changes_nothing(workshop):
    cells = some_mate(workshop)
    shown = say_mate.preview(workshop, {**cells, "key": "renamed"}, cells["key"])
    assert shown.effect.changes == ()
    assert shown.effect.own == ()
    assert previews.save(workshop, shown, cells["key"], None, "owner") == "renamed"


@pytest.mark.parametrize(
    ("bounds", "said"),
    [
        ({"relation": "same", "low": "", "high": ""}, " are the same"),
        ({"relation": "same", "low": "-0.5", "high": "0.5"}, " are the same within 0.5 "),
        ({"relation": "same", "low": "-0.5", "high": ""}, " being from -0.5 to 0"),
        ({"relation": "gap", "low": "0.2", "high": "2.5"}, " is from 0.2 to 2.5 "),
        ({"relation": "gap", "low": "0.2", "high": ""}, " is at least 0.2 "),
        ({"relation": "gap", "low": "", "high": "2.5"}, " is at most 2.5 "),
        ({"relation": "gap", "low": "", "high": ""}, " is whatever it may be"),
    ],
)
def test_a_mate_is_said_as_a_sentence(workshop, bounds, said):
    rows = page_rows.rows(workshop, "mates").rows
    sizes = next(row.cells for row in rows if row.cells["measure_a"].endswith("_mm"))
    assert said in say_mate.preview(workshop, {**sizes, **bounds}, sizes["key"]).sentence


def test_what_is_wrong_is_named_and_nothing_is_written(workshop):
    rows = page_rows.rows(workshop, "mates").rows
    one, two = rows[0].cells, rows[1].cells
    with pytest.raises(InvalidInput, match="taken"):
        say_mate.preview(workshop, {**one, "key": two["key"]}, one["key"])
    with pytest.raises(InvalidInput) as caught:
        say_mate.preview(workshop, {**one, "low": "wide"}, one["key"])
    assert {problem.column for problem in caught.value.problems} == {"low"}
    with pytest.raises(NotFound):
        say_mate.preview_without(workshop, "no-such")
    assert page_rows.rows(workshop, "mates").rows == rows
