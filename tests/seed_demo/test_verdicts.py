"""The scenario judged by the real engine, loaded through the services: every case comes out as told."""

import csv
from pathlib import Path

import pytest

from stash.fit.claims import part_of_design, part_of_lot
from stash.fit.intervals import Outcome
from stash.fit.verdicts import Finding, judge_machine, judge_model
from stash.plan.solve import plan
from stash.plan.wares import Allowed
from stash.services.checks import check
from stash.services.gaps import gaps
from stash.services.identify import identification_dict, identify

Judged = tuple[str, str, str, Finding]
"""Design, model, position and one finding."""

CASES = list(csv.DictReader((Path(__file__).parent / "cases.csv").read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['part']} on {case['model']} {case['year']}")
def test_the_verdict_and_its_reason_are_as_the_scenario_tells(workshop, case):
    catalogue = workshop.catalogue()
    part = part_of_design(catalogue.design[case["part"]])
    found = judge_model(catalogue, part, case["model"], case["position"])
    (finding,) = (each for each in found if each.years.contains(int(case["year"])))
    assert finding.verdict == case["verdict"]
    assert case["said"] in " / ".join(claim.reason for claim in finding.counting)
    changes = finding.companions.changes if finding.companions else ()
    assert ";".join(f"{each.position}={each.design}" for each in changes) == case["companions"]


def test_no_two_stock_parts_contradict_each_other(stock_findings):
    for design, model, position, finding in stock_findings:
        broken = [state.mate.key for state in finding.mates if state.outcome is Outcome.BREAKS]
        assert finding.verdict == "bolts_on", (design, model, position)
        assert not broken, (design, model, position, broken)


def test_stock_sheets_leave_open_only_what_was_left_unmeasured_on_purpose(stock_findings):
    states = [state for *_, finding in stock_findings for state in finding.mates]
    assert {state.mate.key for state in states if state.outcome is Outcome.OPEN} == {
        "exhaust-port",
        "line-nipple",
        "plug-reach",
    }


def test_only_the_bush_is_disputed(every_finding):
    assert {design for design, *_, finding in every_finding if finding.verdict == "disputed"} == {"bush-12x14"}


def test_every_rule_counts_somewhere_but_the_hearsay_that_literature_beats(workshop, every_finding):
    heard = [each for *_, finding in every_finding for each in finding.heard]
    rules = {f"rule:{rule.key}" for rule in workshop.catalogue().rules}
    assert rules - {each.claim.key for each in heard if not each.beaten_by} == {"rule:straight-fuel-line-b"}
    assert {each.beaten_by for each in heard if each.claim.key == "rule:straight-fuel-line-b"} == {"came_on:line-4"}


def test_companions_never_grow_into_a_whole_engine(every_finding):
    sets = [finding.companions for *_, finding in every_finding if finding.companions]
    assert max(len(each.changes) for each in sets) <= 8


def test_the_blend_already_carries_the_other_half(workshop):
    catalogue, machine = workshop.catalogue(), _machine(workshop, "kittle", 1964)
    for design, position in (("carb-14-s", "carburettor"), ("flywheel-a2", "flywheel")):
        part = part_of_design(catalogue.design[design])
        assert judge_machine(catalogue, part, machine, position).verdict == "bolts_on"
        assert judge_model(catalogue, part, "kittle", position)[0].verdict == "with_companions"


def test_the_low_cover_does_not_go_back_on_the_blend(workshop):
    catalogue, machine = workshop.catalogue(), _machine(workshop, "kittle", 1964)
    part = part_of_design(catalogue.design["cover-a-low"])
    finding = judge_machine(catalogue, part, machine, "starter cover")
    assert finding.verdict == "disputed"
    assert {claim.verdict for claim in finding.counting} == {"bolts_on", "with_companions"}
    assert {state.mate.key for state in finding.mates if state.outcome is Outcome.BREAKS} == {"cover-fan"}


def test_the_sport_module_on_the_export_machine_stops_the_check(workshop):
    found = check(workshop, _machine(workshop, "pip-ii-e", 1975).code)
    assert not found.ok
    assert [(each.level, each.position) for each in found.findings if each.level == "stop"] == [("stop", "ignition")]


@pytest.mark.parametrize(
    ("model", "year"), [("kittle", 1964), ("kittle-s", 1966), ("pip", 1965), ("mardle-r", 1974), ("tansel-rk", 1981)]
)
def test_every_runner_goes_together(workshop, model, year):
    assert check(workshop, _machine(workshop, model, year).code).ok


def test_the_worn_piston_is_refused_by_the_worn_bore_and_welcome_in_the_other(workshop):
    catalogue, stock = workshop.catalogue(), workshop.stock()
    lot = next(lot for lot in stock.lots.values() if lot.design == "piston-380-b" and lot.condition == "good")
    part = part_of_lot(catalogue, lot)
    verdict = {
        model: judge_machine(catalogue, part, _machine(workshop, model, year), "piston").verdict
        for model, year in (("kittle-ii", 1972), ("pip-ii", 1973))
    }
    assert verdict == {"kittle-ii": "bolts_on", "pip-ii": "disputed"}


def test_a_machine_of_unknown_year_is_told_to_find_it_when_the_year_decides(workshop):
    catalogue, machine = workshop.catalogue(), _machine(workshop, "kittle", None)
    finding = judge_machine(catalogue, part_of_design(catalogue.design["bush-10x14"]), machine, "small-end bearing")
    assert finding.verdict == "unknown"
    assert "Find the year" in finding.note


def test_the_piston_from_the_mysteries_is_none_of_the_known_ones(workshop):
    answer = identify(
        workshop,
        "piston",
        {"skirt_mm": "36.4", "pin_bore_mm": "11", "compression_height_mm": "26.5"},
        {"window": "no"},
    )
    assert identification_dict(answer)["stop"] == "none"


def test_a_caliper_on_the_studs_tells_the_sister_silencers_apart(workshop):
    ranking = identify(workshop, "silencer", {"stud_spacing_mm": "40.0"}).ranking
    assert {design for design, probability in ranking if probability > 0.01} == {"silencer-pip", "silencer-pip-ii"}


def test_the_shelf_alone_would_fill_three_gaps_but_not_all_three_at_once(workshop):
    projects = {machine.code for machine in workshop.stock().machines.values() if machine.state == "project"}
    fillable = [gap.fillable for gap in gaps(workshop) if gap.key.removeprefix("machine:") in projects]
    assert sorted(fillable) == [False, True, True, True]
    assert _completed(workshop) == {"job-1-kittle-ii", "job-2-pip-ii"}


def test_picking_in_order_completes_one_build_where_two_are_proven_possible(workshop):
    found = plan(workshop.catalogue(), workshop.stock())
    assert found.naive_completed == ("job-1-kittle-ii",)
    assert (found.status, len(found.completed)) == ("optimal", 2)


def test_the_piston_that_fits_the_worn_bore_is_kept_for_it(workshop):
    found, lots = plan(workshop.catalogue(), workshop.stock()), workshop.stock().lots
    pistons = {build.build: lots[part.lot].condition for build in found.builds for part in build.parts
               if part.design == "piston-380-b" and part.lot}  # fmt: skip
    assert pistons == {"job-1-kittle-ii": "good", "job-2-pip-ii": "excellent"}


@pytest.mark.parametrize("allowed", [Allowed(work=True), Allowed(donors=True)], ids=["with work", "with donors"])
def test_work_or_a_donor_completes_the_third_build_and_nothing_the_fourth(workshop, allowed):
    assert _completed(workshop, allowed) == {"job-3-kittle-cargo", "job-1-kittle-ii", "job-2-pip-ii"}


@pytest.fixture(scope="module")
def every_finding(workshop) -> list[Judged]:
    """Every design at every position of its kind on every model."""
    catalogue = workshop.catalogue()
    return [
        (design.key, model, position.name, finding)
        for model, sheet in catalogue.positions.items()
        for position in sheet.values()
        for design in catalogue.designs_of_kind.get(position.kind, ())
        for finding in judge_model(catalogue, part_of_design(design), model, position.name)
    ]


@pytest.fixture(scope="module")
def stock_findings(workshop, every_finding) -> list[Judged]:
    """Those of them that are stock there, in the years they are."""
    rows = workshop.catalogue().stock_rows
    return [
        (design, model, position, finding)
        for design, model, position, finding in every_finding
        if any(row.design == design and row.years.common(finding.years) for row in rows[model].get(position, ()))
    ]


def _machine(store, model, year):
    machines = (each for each in store.stock().machines.values() if (each.model, each.year) == (model, year))
    return next(each for each in machines if each.state not in {"donor", "stripped"})


def _completed(store, allowed=None):
    found = plan(store.catalogue(), store.stock(), allowed=allowed or Allowed())
    return {build.build for build in found.builds if build.complete}
