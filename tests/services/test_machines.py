import pytest

from stash.errors import Conflict, InvalidInput, NotFound
from stash.exchange.raw import raw_table
from stash.services import history, machines
from stash.services.at_position import Off
from stash.services.gaps import gaps
from stash.services.tables import export, load
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, CARB_TURNED, CARBS, CLIPS, DONOR, FAST, PROJECT, RUNNER, first_coded


def test_fitting_the_missing_parts_closes_the_gap(workshop):
    assert "machine:" + PROJECT in {gap.key for gap in gaps(workshop)}
    machines.fit(workshop, PROJECT, "carburettor", CARB_TURNED, who="Ann")
    machines.fit(workshop, PROJECT, "clip", CLIPS, who="Ann")
    assert "machine:" + PROJECT not in {gap.key for gap in gaps(workshop)}
    assert workshop.stock().lots[CLIPS].quantity == 3
    assert verify(workshop).ok


def test_the_displaced_part_goes_into_a_bin_tagged_with_where_it_came_from(workshop):
    (code,) = machines.fit(workshop, RUNNER, "carburettor", CARBS, who="Ann", off=Off(BIN_B, "good")).codes
    lot = workshop.stock().lots[code]
    assert (lot.place, lot.condition, lot.from_machine, lot.from_position) == (BIN_B, "good", RUNNER, "carburettor")
    assert lot.design == "carb-0"
    assert "Assumed stock" in lot.note
    assert verify(workshop).ok


def test_a_part_of_another_kind_is_refused(workshop):
    with pytest.raises(InvalidInput, match="takes a"):
        machines.fit(workshop, RUNNER, "boot", CARBS, who="Ann")
    with pytest.raises(InvalidInput, match="has no"):
        machines.fit(workshop, RUNNER, "sidecar", CARBS, who="Ann")


def test_too_few_parts_for_a_position_are_refused(workshop):
    machines.fit(workshop, PROJECT, "clip", CLIPS, who="Ann")
    machines.fit(workshop, RUNNER, "clip", CLIPS, who="Ann")
    with pytest.raises(Conflict, match="takes 2"):
        machines.fit(workshop, DONOR, "clip", CLIPS, who="Ann")


def test_a_promised_part_goes_to_its_build_but_not_elsewhere(workshop):
    with pytest.raises(Conflict, match="promised"):
        machines.fit(workshop, RUNNER, "carburettor", CARB_TURNED, who="Ann")
    machines.fit(workshop, PROJECT, "carburettor", CARB_TURNED, who="Ann")
    assert workshop.stock().machines[PROJECT].fitted["carburettor"].design == "carb-90"


def test_a_decision_that_is_carried_out_is_no_longer_one(workshop):
    done = machines.fit(workshop, PROJECT, "carburettor", CARB_TURNED, who="Ann")
    assert workshop.stock().builds["winter"].parts == ()
    history.undo(workshop, done.batch, who="Ann")
    assert [part.lot for part in workshop.stock().builds["winter"].parts] == [CARB_TURNED]


def test_a_limit_above_the_rated_speed_is_blocked_until_acknowledged_and_the_acknowledgement_is_kept(workshop):
    with pytest.raises(Conflict, match="above the machine's rated"):
        machines.fit(workshop, RUNNER, "module", FAST, who="Ann")
    machines.fit(workshop, RUNNER, "module", FAST, who="Ann", acknowledged=True)
    rows = {tuple(row[:2]): row for row in export(workshop)["fitted"]}
    assert any("Fitted although" in cell for cell in rows[RUNNER, "module"])


def test_taking_a_part_off_leaves_the_position_missing(workshop):
    (code,) = machines.take_off(workshop, RUNNER, "boot", who="Ann", off=Off(BIN_A)).codes
    stock = workshop.stock()
    assert stock.machines[RUNNER].fitted["boot"].state == "missing"
    assert stock.lots[code].place == BIN_A
    with pytest.raises(Conflict, match="Nothing is fitted"):
        machines.take_off(workshop, RUNNER, "boot", who="Ann")


def test_a_donor_with_nothing_left_is_stripped(workshop):
    done = machines.strip(workshop, DONOR, {"carburettor": Off(BIN_A), "boot": Off(BIN_B)}, who="Ann")
    assert len(done.codes) == 2
    assert workshop.stock().machines[DONOR].state == "donor"
    machines.strip(workshop, DONOR, {"clip": Off(), "module": Off()}, who="Ann")
    assert workshop.stock().machines[DONOR].state == "stripped"
    with pytest.raises(Conflict):
        machines.strip(workshop, DONOR, {"clip": Off()}, who="Ann")
    with pytest.raises(InvalidInput):
        machines.strip(workshop, DONOR, {}, who="Ann")
    assert verify(workshop).ok


def test_marking_notes_what_was_seen(workshop):
    machines.mark(workshop, RUNNER, "boot", "present", design="boot-90", condition="good", who="Ann")
    assert workshop.stock().machines[RUNNER].fitted["boot"].design == "boot-90"
    for bad in ({"state": "lost"}, {"state": "present", "design": "carb-0"}, {"state": "present", "condition": "nice"}):
        with pytest.raises(InvalidInput):
            machines.mark(workshop, RUNNER, "boot", who="Ann", **bad)


def test_swapping_exchanges_what_two_machines_carry(workshop):
    machines.mark(workshop, DONOR, "boot", "present", design="boot-90", who="Ann")
    machines.swap(workshop, RUNNER, "boot", DONOR, "boot", who="Ann")
    fitted = workshop.stock().machines
    assert (fitted[RUNNER].fitted["boot"].design, fitted[DONOR].fitted["boot"].design) == ("boot-90", "boot-0")
    assert verify(workshop).ok
    with pytest.raises(InvalidInput):
        machines.swap(workshop, RUNNER, "boot", DONOR, "clip", who="Ann")
    with pytest.raises(Conflict):
        machines.swap(workshop, RUNNER, "carburettor", PROJECT, "carburettor", who="Ann")


def test_a_machine_can_be_put_back_as_it_was(workshop):
    machines.fit(workshop, RUNNER, "carburettor", CARBS, who="Ann", off=Off(BIN_B))
    machines.mark(workshop, RUNNER, "carburettor", "present", design="carb-90", who="Ann")
    machines.put_back(workshop, RUNNER, who="Ann", place=BIN_A)
    assert workshop.stock().machines[RUNNER].fitted["carburettor"].design == "carb-0"
    assert verify(workshop).ok
    with pytest.raises(NotFound):
        machines.put_back(workshop, DONOR, who="Ann")


def test_undo_restores_exactly_and_is_itself_undoable(workshop):
    before = export(workshop)
    done = machines.fit(workshop, PROJECT, "carburettor", CARB_TURNED, who="Ann")
    after = export(workshop)
    undone = history.undo(workshop, done.batch, who="Bea")
    assert export(workshop) == before
    with pytest.raises(Conflict, match="undone already"):
        history.undo(workshop, done.batch, who="Bea")
    history.undo(workshop, undone.batch, who="Bea")
    assert export(workshop) == after
    assert verify(workshop).ok


def test_undoing_a_part_that_came_off_leaves_its_code_with_nothing_in_it(workshop):
    done = machines.take_off(workshop, RUNNER, "boot", who="Ann", off=Off(BIN_A))
    history.undo(workshop, done.batch, who="Ann")
    stock = workshop.stock()
    assert "boot" not in stock.machines[RUNNER].fitted
    assert stock.lots[done.codes[0]].quantity == 0
    assert verify(workshop).ok


def test_a_refused_undo_says_what_stands_in_the_way(workshop):
    done = machines.fit(workshop, PROJECT, "carburettor", CARB_TURNED, who="Ann")
    machines.take_off(workshop, PROJECT, "carburettor", who="Bea")
    with pytest.raises(Conflict, match="Bea: taken off"):
        history.undo(workshop, done.batch, who="Ann")
    with pytest.raises(NotFound):
        history.undo(workshop, 10_000, who="Ann")


def test_the_history_tells_of_a_lot_a_place_a_machine_and_a_day(workshop):
    done = machines.fit(workshop, RUNNER, "carburettor", CARBS, who="Ann", off=Off(BIN_B))
    for question in ({"lot": CARBS}, {"place": BIN_A}, {"place": BIN_B}, {"machine": RUNNER}):
        lines = history.history(workshop, **question)
        assert lines[0].batch == done.batch, question
        assert lines[0].who == "Ann"
    assert history.history(workshop, machine=PROJECT)[0].batch != done.batch
    today = history.history(workshop)[0].at.date()
    assert len(history.history(workshop, day=today)) == 2
    assert history.history(workshop, limit=1)[0].entries
    assert history.history(workshop, before=done.batch)[0].batch < done.batch


def test_a_batch_of_many_shows_first_what_was_asked_about(workshop):
    codes = [first_coded(f"Q{number:03}") for number in range(30)]
    table = raw_table([["code", "kind", "quantity", "place"], *([code, "carb", "1", BIN_A] for code in codes)])
    assert load(workshop, {"lots": table}, "Ann").ok
    for code in (codes[0], codes[-1]):
        (line,) = history.history(workshop, lot=code)
        assert line.moved == 30
        assert line.entries[0].lot == code
