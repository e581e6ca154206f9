import datetime as dt

import pytest

from stash.errors import InvalidInput, NotFound
from stash.services import labels, uses
from stash.services.checks import check
from stash.services.find import find, scanned_code
from stash.services.fits import fits, fits_all
from stash.services.gaps import finishable, gaps
from stash.services.home import gap_title, home, lots_in, mixed_bins, pick_list
from stash.services.machines import mark
from stash.services.settle import BenchFinding, settle
from stash.services.sheets import as_built, machine_facts, stock_sheet
from stash.services.unidentified import unidentified
from tests.services.workshop import (
    BIN_A,
    BIN_B,
    BOOTS,
    CARB_TURNED,
    CARBS,
    CLIPS,
    DONOR,
    FAST,
    MYSTERY,
    PROJECT,
    RUNNER,
    SHELF,
    first_coded,
)


def verdicts(answer):
    return {(fit.model.key, fit.position): fit.verdict for fit in answer.fits}


def test_a_lot_is_found_by_code_key_and_number(workshop):
    for ref in (CARBS, "carb-0", "FN-11.120-A", "fn 11 120 a"):
        assert fits(workshop, ref).part.design == "carb-0"
    assert fits(workshop, CARBS).part.lot == CARBS


def test_one_number_of_two_makers_asks_which(workshop):
    with pytest.raises(InvalidInput) as caught:
        fits(workshop, "77.100")
    assert "fen:77.100" in caught.value.hint
    assert "rud:77.100" in caught.value.hint
    assert fits(workshop, "rud:77.100").part.design == "clip-10"


def test_a_misread_number_is_offered_and_not_taken(workshop):
    with pytest.raises(NotFound) as caught:
        fits(workshop, "FN-11.12O-A")
    assert "FN-11.120-A of fen" in caught.value.hint
    with pytest.raises(NotFound):
        fits(workshop, "no such thing")


def test_a_part_that_came_on_it_bolts_on_and_the_turned_one_needs_its_boot(workshop):
    answer = fits(workshop, CARB_TURNED)
    assert verdicts(answer) == {("early", "carburettor"): "with_companions", ("late", "carburettor"): "bolts_on"}
    data = answer.as_dict()
    early = next(row for row in data["fits"] if row["model"] == "early")
    assert early["companions"] == [{"position": "boot", "kind": "boot", "design": "boot-90", "or": [], "lots": [BOOTS]}]
    assert (early["from_year"], early["to_year"]) == (1965, 1969)
    assert {claim["origin"] for claim in early["claims"]} == {"mates"}
    assert data["gaps"] == [
        {"gap": f"machine:{PROJECT}", "position": "carburettor", "verdict": "bolts_on"},
        {"gap": "wanted:late", "position": "carburettor", "verdict": "bolts_on"},
    ]
    assert {row["machine"] for row in data["machines"]} == {RUNNER, PROJECT, DONOR}


def test_a_lot_nobody_identified_still_gets_what_can_be_said(workshop):
    answer = fits(workshop, MYSTERY)
    assert set(verdicts(answer).values()) == {"unknown"}
    assert {(ask["mate"], ask["of"]) for row in answer.as_dict()["fits"] for ask in row["open"]} >= {
        ("turn", MYSTERY),
        ("push", MYSTERY),
    }
    settle = next(row for row in answer.as_dict()["fits"] if row["open"])["settle"]
    assert {each["of"] for each in settle} >= {MYSTERY}
    assert all(each["text"] and each["effort_s"] > 0 and each["mates"] for each in settle)


def test_every_design_is_answered_in_order(workshop):
    assert [answer.part.design for answer in fits_all(workshop)] == sorted(workshop.catalogue().design)


def test_gaps_list_candidates_and_say_what_the_shelf_finishes(workshop):
    found = {gap.key: gap for gap in gaps(workshop)}
    data = found[f"machine:{PROJECT}"].as_dict()
    assert data["fillable"]
    assert [short["position"] for short in data["short"]] == ["carburettor", "clip"]
    carburettor = data["short"][0]
    assert carburettor["filled_by"] == [CARB_TURNED]
    assert next(each["lot"] for each in carburettor["candidates"]) == CARB_TURNED
    told = finishable(found.values())
    assert f"machine:{PROJECT}" in {gap.key for gap in told.complete}


def test_the_first_screen_tells_what_to_pick_and_where(workshop):
    told = home(workshop)
    assert not told.empty
    stock, catalogue = workshop.stock(), workshop.catalogue()
    gap = next(gap for gap in told.finishable.complete if gap.machine == PROJECT)
    picks = pick_list(stock, gap)
    assert [(pick.place, pick.lot.code, pick.quantity) for pick in picks] == [
        ("Shelf \u203a Bin A", CARB_TURNED, 1),
        ("Shelf \u203a Bin B", CLIPS, 2),
    ]
    assert gap_title(catalogue, stock, gap).startswith("Ruddlow Late, 1972")
    assert [lot.code for lot in told.unidentified] == [MYSTERY]
    assert told.recent[0].why
    assert [lot.code for lot in lots_in(stock, BIN_A)] == sorted([CARBS, CARB_TURNED])


def test_a_bin_of_look_alikes_names_the_measure_that_tells_them_apart(workshop):
    (bin_a,) = mixed_bins(workshop)
    assert (bin_a.place.code, bin_a.pairs) == (BIN_A, (("carb-0", "carb-90", "rotation"),))


def test_each_lot_says_what_it_is_good_for(workshop):
    stock = workshop.stock()
    told = {use.lot.code: use for use in uses.uses(workshop, stock.lots.values())}
    assert told[CARB_TURNED].models == {"bolts_on": ("late",), "with_companions": ("early",)}
    assert next((gap.key, position) for gap, position, _ in told[CLIPS].gaps) == (f"machine:{PROJECT}", "clip")
    chart = uses.chart(workshop, "a", "carb")
    assert [column.model.key for column in chart.columns] == ["early", "late"]
    assert {design.key: [cell.worst for cell in cells] for design, cells in chart.rows} == {
        "carb-0": ["bolts_on", "with_companions"],
        "carb-90": ["with_companions", "bolts_on"],
    }
    with pytest.raises(NotFound):
        uses.chart(workshop, "a", "wheel")


def test_checking_a_machine_finds_what_does_not_go_together(workshop):
    assert check(workshop, RUNNER).ok
    mark(workshop, RUNNER, "carburettor", "present", design="carb-90", who="Ann")
    told = check(workshop, RUNNER)
    assert not told.ok
    assert {(found["level"], found["mate"]) for found in told.as_dict()["findings"]} == {("wrong", "turn")}
    mark(workshop, RUNNER, "boot", "present", design="boot-90", who="Ann")
    assert check(workshop, RUNNER).ok


def test_checking_a_build_takes_what_was_decided(workshop):
    assert {found.position for found in check(workshop, "winter").findings} == {"clip"}
    with pytest.raises(NotFound):
        check(workshop, "summer")


def test_what_was_found_at_the_bench_changes_the_verdict_at_once(workshop):
    def on_runner():
        return next(fit.verdict for fit in fits(workshop, "module-85").machines if fit.machine.code == RUNNER)

    assert on_runner() == "unknown"
    found = BenchFinding("wont_fit", reason="the plug is another")
    settle(workshop, FAST, RUNNER, "module", found, who="Ann", on=dt.date(1980, 1, 1))
    assert on_runner() == "wont_fit"
    settle(workshop, FAST, RUNNER, "module", BenchFinding("bolts_on"), who="Bea", on=dt.date(1980, 1, 2))
    assert on_runner() == "disputed"
    for ref, position, finding in (
        (MYSTERY, "carburettor", BenchFinding("bolts_on")),
        (FAST, "boot", BenchFinding("bolts_on")),
        (FAST, "module", BenchFinding("likely")),
    ):
        with pytest.raises(InvalidInput):
            settle(workshop, ref, RUNNER, position, finding, who="Ann", on=dt.date(1980, 1, 3))


def test_the_search_box_takes_codes_addresses_numbers_and_words(workshop):
    assert [(hit.type, hit.code) for hit in find(workshop, CARBS.lower())] == [("lot", CARBS)]
    assert [hit.code for hit in find(workshop, f"http://stash.local/q/{BIN_A.lower()}")] == [BIN_A]
    assert [hit.code for hit in find(workshop, RUNNER)] == [RUNNER]
    assert find(workshop, "fn 11.120 a")[0].code == "carb-0"
    assert find(workshop, "late")[0].sure
    assert {hit.code for hit in find(workshop, "turned carb")} >= {"carb-90", CARB_TURNED}
    near = find(workshop, "FN-11.12O-A")
    assert [(hit.code, hit.sure) for hit in near] == [("carb-0", False)]
    assert find(workshop, "   ") == ()
    assert scanned_code("https://example.org/x") is None


def test_an_as_built_sheet_tells_stock_swapped_missing_and_assumed(workshop):
    machine = machine_facts(workshop, PROJECT)
    mark(workshop, PROJECT, "boot", "present", design="boot-0", who="Ann")
    mark(workshop, PROJECT, "module", "present", design="module-85", who="Ann")
    machine = machine_facts(workshop, PROJECT)
    systems = as_built(workshop.catalogue(), workshop.stock(), machine)
    states = {line.position.name: line.state for system in systems for line in system.lines}
    assert states == {"boot": "swapped", "carburettor": "missing", "clip": "missing", "module": "stock"}
    runner = as_built(workshop.catalogue(), workshop.stock(), machine_facts(workshop, RUNNER))
    assert {line.state for system in runner for line in system.lines} == {"assumed"}
    assert [system.name for system in runner] == ["ignition", "intake", "top end"]
    with pytest.raises(NotFound):
        machine_facts(workshop, CARBS)
    sheet = stock_sheet(workshop.catalogue(), workshop.catalogue().model["early"])
    assert [line.came_on[0][1] for line in sheet] == ["boot-0", "carb-0", "clip-10", "module-55"]


def test_labels_are_chosen_by_thing_place_and_what_was_printed(workshop):
    everything = labels.chosen(workshop, labels.Choice(not_printed=True))
    assert set(everything) == {
        SHELF,
        BIN_A,
        BIN_B,
        RUNNER,
        PROJECT,
        DONOR,
        CARBS,
        CARB_TURNED,
        BOOTS,
        CLIPS,
        FAST,
        MYSTERY,
    }
    inside = labels.chosen(workshop, labels.Choice(inside=[BIN_A]))
    assert inside == (BIN_A, *sorted([CARBS, CARB_TURNED]))
    now = dt.datetime(1980, 1, 1, tzinfo=dt.UTC)
    pdf = labels.sheet(workshop, inside, labels.Printing(), who="Ann", now=now)
    assert pdf.startswith(b"%PDF")
    assert not set(inside) & set(labels.chosen(workshop, labels.Choice(not_printed=True)))
    assert labels.chosen(workshop, labels.Choice(changed=True)) == ()
    mark(workshop, RUNNER, "boot", "missing", who="Ann")
    from stash.services.lots import add_more

    add_more(workshop, CARBS, 1, "found", who="Ann")
    assert labels.chosen(workshop, labels.Choice(changed=True)) == (CARBS,)
    with pytest.raises(NotFound):
        labels.chosen(workshop, labels.Choice(codes=[first_coded("NXNE")]))
    with pytest.raises(InvalidInput):
        labels.sheet(workshop, inside, labels.Printing(stock="none"), who="Ann")


def test_the_address_on_labels_is_the_owners(workshop):
    assert labels.label_address(workshop) == labels.DEFAULT_ADDRESS
    assert labels.set_label_address(workshop, "http://192.0.2.7:8300/", who="Ann") == "HTTP://192.0.2.7:8300"
    labels.set_label_address(workshop, "http://stash.example", who="Ann")
    assert labels.label_address(workshop) == "HTTP://STASH.EXAMPLE"
    with pytest.raises(InvalidInput):
        labels.set_label_address(workshop, "my phone", who="Ann")


def test_a_thing_is_identified_from_what_is_seen(workshop):
    from stash.services import identify as identifying

    found = identifying.identify(workshop, "carb", {"spigot_mm": "20"}, {"rotation": "90"})
    data = identifying.identification_dict(found)
    assert data["ranking"][0]["design"] == "carb-90"
    assert sum(each["probability"] for each in data["ranking"]) + data["none_of_these"] == pytest.approx(1)
    assert {each.measure.key: each.answer for each in identifying.asked(workshop, "carb", {"rotation": "90"})} == {
        "rotation": "90",
        "spigot_mm": "",
    }
    assert identifying.looks(workshop, {"rotation": "90"})[0].kind in {"boot", "carb"}
    (mystery,) = unidentified(workshop)
    assert (mystery.lot.code, mystery.found, mystery.design) == (MYSTERY, None, "")
