"""Every clause of what a verdict means, as small worked cases with whole answers."""

import pytest

from stash.errors import StashError
from stash.fit.claims import part_of_design, part_of_lot
from stash.fit.companions import Shelf
from stash.fit.verdicts import judge_machine, judge_model
from tests.fit.reading import Given, case_files, load

CASES = [
    pytest.param(case["tables"], ask, id=f"{path.stem}-{place}")
    for path in case_files()
    for case in [load(path)]
    for place, ask in enumerate(case["ask"])
]


def shown(finding):
    """The finding in the words of the case files; what is empty is left out."""
    changes = finding.companions.changes if finding.companions else ()
    told = {
        "years": str(finding.years),
        "verdict": finding.verdict,
        "counting": sorted(f"{claim.key} {claim.verdict} {claim.evidence}" for claim in finding.counting),
        "beaten": {each.claim.key: each.beaten_by for each in finding.heard if each.beaten_by},
        "demanded": ["|".join(item) for item in finding.demanded],
        "companions": [f"{each.position}={each.design}" for each in changes],
        "check": sorted(f"{ask.measure} of {ask.of}" for ask in finding.companions.open) if finding.companions else [],
        "open": sorted(f"{ask.mate}: {ask.measure} of {ask.of}" for ask in finding.open),
        "work": finding.work,
        "minutes": finding.minutes,
        "note": finding.note,
    }
    return {name: value for name, value in told.items() if value not in ("", [], {}, None)}


def answers(given, ask):
    catalogue = given.catalogue
    lot = given.lots.get(ask["part"])
    part = part_of_lot(catalogue, lot) if lot else part_of_design(catalogue.design[ask["part"]])
    shelf = Shelf(frozenset(ask.get("shelf", [])))
    machine = given.machines.get(ask["on"])
    at = ask.get("at", part.kind)
    if machine is not None:
        return [judge_machine(catalogue, part, machine, at, shelf)]
    return judge_model(catalogue, part, ask["on"], at, shelf)


@pytest.mark.parametrize(("tables", "ask"), CASES)
def test_a_case_is_answered_as_written(tables, ask):
    given = Given(tables)
    if "error" in ask:
        with pytest.raises(StashError, match=ask["error"]):
            answers(given, ask)
        return
    found = answers(given, ask)
    told = [shown(finding) for finding in found]
    for mine, wanted in zip(told, ask["answer"], strict=False):
        mine.setdefault("years", "all years")
        if "years" not in wanted:
            assert len(ask["answer"]) == 1
            mine.pop("years")
    assert told == ask["answer"]
    reasons = " | ".join(claim.reason for finding in found for claim in finding.counting)
    for wanted in ask.get("reasons", []):
        assert wanted in reasons


def test_every_case_says_what_it_shows_and_asks_something():
    for path in case_files():
        case = load(path)
        assert case["idea"].endswith(".")
        assert case["ask"]
