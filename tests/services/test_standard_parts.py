"""Loose standard parts on the demo: by number to what they fit, with what to mind, never better than they are."""

import pytest

from stash.services.arrivals import arrive
from stash.services.demo import load_demo
from stash.services.find import find
from stash.services.fits import fits
from stash.services.machines import mark
from stash.services.standard_parts import cells_of, seen
from stash.services.uses import in_short


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    from stash.db.store import open_store

    store = open_store(f"sqlite:///{tmp_path_factory.mktemp('standard') / 'stash.db'}")
    load_demo(store, who="Ann")
    rows = {
        "designs": {"key": "rud-6202", "kind": "main_bearing", "name": "R bearing", "maker": "ruddlow"},
    }
    from stash.services.rows import save_row

    save_row(store, "designs", rows["designs"], None, None, "Ann")
    for measure, value in {
        "id_mm": "15", "od_mm": "35", "width_mm": "11", "clearance": "normal", "seals": "open",
        "type": "deep-groove ball", "snap_ring": "none",
    }.items():  # fmt: skip
        save_row(
            store, "design_measures", {"design": "rud-6202", "measure": measure, "value": value}, None, None, "Ann"
        )
    yield store
    store.close()


def verdicts(answer):
    return {(fit.model.key, fit.verdict) for fit in answer.fits if fit.position == "main bearing drive side"}


def test_a_bearing_of_another_maker_goes_wherever_its_designation_came_on(shelf):
    ours, theirs = verdicts(fits(shelf, "rud-6202")), verdicts(fits(shelf, "bearing-6202"))
    assert ours == theirs
    assert ("kittle", "bolts_on") in ours
    assert ("pip", "bolts_on") in ours


@pytest.mark.parametrize(
    ("typed", "design"),
    [
        ("6203", "bearing-6203"),
        ("6203/C3", "bearing-6203-c3"),
        ("6203 C3", "bearing-6203-c3"),
        ("62032rs", "bearing-6203-2rs"),
    ],
)
def test_a_number_with_suffixes_is_the_design_it_names(shelf, typed, design):
    assert fits(shelf, typed).part.design == design
    sure = [hit for hit in find(shelf, typed) if hit.sure]
    assert [hit.code for hit in sure] == [design]
    assert {hit.code for hit in find(shelf, typed)} >= {"bearing-6203", "bearing-6203-c3", "bearing-6203-2rs"}


def test_what_differs_from_stock_is_only_likely_and_told(shelf):
    """Source: common practice, no source, for what to mind; sizes: ISO 15."""
    answer = fits(shelf, "6202-2RS/C3")
    assert answer.part.design == ""
    kittle = next(fit for fit in answer.fits if fit.model.key == "kittle" and fit.position == "main bearing drive side")
    assert kittle.verdict == "likely"
    assert "mixture cannot reach the balls" in kittle.finding.note
    assert "Clearance C3 where stock is normal" in kittle.finding.note
    mardle = next(fit for fit in answer.fits if fit.model.key == "mardle")
    assert mardle.verdict == "wont_fit"
    assert mardle.finding.note == ""


def test_a_looser_bearing_has_a_note_only_where_it_did_not_come_on(shelf):
    notes = {
        (fit.model.key, fit.finding.years.from_year): fit.finding.note for fit in fits(shelf, "bearing-6203-c3").fits
    }
    assert notes["tansel-rk", None if ("tansel-rk", None) in notes else 1978] == ""
    assert "C3 where stock is normal" in next(note for (model, _), note in notes.items() if model == "mardle")


def test_a_loose_lot_that_nobody_identified_is_judged_by_its_number(shelf):
    mark(shelf, "R1M3NY", "main bearing drive side", "missing", who="Ann")
    code = arrive(shelf, "lots", {"kind": "main_bearing", "number_seen": "6202", "quantity": "2"}, who="Ann").codes[0]
    answer = fits(shelf, code)
    assert answer.part.lot == code
    assert answer.part.design in {"bearing-6202", "rud-6202"}
    assert ("kittle", "bolts_on") in verdicts(answer)
    assert any(hit.code == code for hit in find(shelf, "6202"))
    assert ("machine:R1M3NY", "bolts_on") in {(fill.gap, fill.verdict) for fill in answer.gaps}


def test_a_lot_whose_number_is_of_another_kind_is_not(shelf):
    code = arrive(shelf, "lots", {"kind": "piston", "number_seen": "6202", "quantity": "1"}, who="Ann").codes[0]
    assert fits(shelf, code).part.design == ""


def test_two_designations_nobody_has_on_record_are_two_parts(shelf):
    in_every_case, in_none = in_short(shelf, "6203/C4"), in_short(shelf, "6302")
    assert "likely" in in_every_case.models
    assert set(in_none.models) == {"wont_fit"}
    assert in_every_case.part.own >= {"id_mm", "od_mm"}


def test_a_size_outside_every_case_is_refused_by_the_sizes(shelf):
    assert {verdict for _, verdict in verdicts(fits(shelf, "6204"))} == {"wont_fit"}


def test_a_number_is_seen_as_the_kind_it_must_be(shelf):
    catalogue = shelf.catalogue()
    assert seen(catalogue, "6203 C5").cells == {
        "id_mm": "17", "od_mm": "40", "width_mm": "12", "seals": "open", "cage": "steel",
        "type": "deep-groove ball", "snap_ring": "none",
    }  # fmt: skip
    assert seen(catalogue, "6203", "circlip") is None
    assert seen(catalogue, "M6") is None
    assert cells_of("o_ring", "116") == {"id_mm": "18.72", "cord_mm": "2.62"}
    assert cells_of("o_ring", "999") == cells_of("piston", "116") == {}


def test_a_thread_finds_what_has_it(shelf):
    found = {hit.code for hit in find(shelf, "M14x1.25")}
    assert any(
        shelf.catalogue().design[code].kind == "spark_plug" for code in found if code in shelf.catalogue().design
    )
