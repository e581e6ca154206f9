"""Parts that ran together are told when they are split: before, after, and in the check of a machine."""

import csv
import io

import pytest

from stash.exchange.raw import raw_table
from stash.kernel.ends import place_end
from stash.services import checks, counting, history, lots, machines, matched
from stash.services.at_position import Off
from stash.services.tables import load
from tests.services.workshop import BIN_A, BIN_B, CARBS, DONOR, PROJECT, RUNNER, first_coded

OLD_BOOT = first_coded("01DB")


def tables(**texts):
    return {name: raw_table(list(csv.reader(io.StringIO(text)))) for name, text in texts.items()}


@pytest.fixture
def pairs(workshop):
    """The workshop, where a carburettor and its boot run together."""
    sets = "key,name,matched_set\ncarb,carburettor,intake\nboot,intake boot,intake\n"
    assert load(workshop, tables(kinds=sets), "owner").ok
    return workshop


def off(store, position, place=BIN_A, machine=DONOR):
    done = machines.take_off(store, machine, position, who="Ann", off=Off(place))
    return done.codes[0], done.said


def test_without_sets_nobody_is_warned(workshop):
    carb, said = off(workshop, "carburettor")
    assert "ran with" not in said
    assert matched.warn_lot(workshop, carb) == ""
    assert matched.warn_spot(workshop, DONOR, "carburettor") == ""


def test_taking_one_of_a_set_tells_of_the_rest_before_and_after(pairs):
    assert "the boot on Fennaby Early" in matched.warn_spot(pairs, DONOR, "carburettor")
    assert matched.warn_spot(pairs, DONOR, "clip") == ""
    _, said = off(pairs, "carburettor")
    assert "it ran with the boot on Fennaby Early" in said
    assert said.endswith("Keep them together.")


def test_a_set_in_one_bin_is_quiet_until_one_of_it_leaves(pairs):
    done = machines.strip(pairs, DONOR, {"carburettor": Off(BIN_A), "boot": Off(BIN_A)}, who="Ann")
    carb, boot = done.codes
    assert "ran with" not in done.said
    assert matched.warn_lot(pairs, carb, place_end(BIN_A)) == ""
    assert "ran with the intake boot" in lots.move(pairs, carb, BIN_B, who="Ann").said
    assert "ran with" not in lots.move(pairs, boot, BIN_B, who="Ann").said
    assert "ran with the carburettor" in lots.let_go(pairs, boot, 1, "sold", who="Ann").said
    assert matched.warn_lot(pairs, carb) == ""


def test_stripping_into_different_bins_tells_of_each_split_once(pairs):
    said = machines.strip(pairs, DONOR, {"carburettor": Off(BIN_A), "boot": Off(BIN_B)}, who="Ann").said
    assert said.count("Keep them together") == 2


def test_a_part_fitted_elsewhere_is_missed_in_the_check_of_both_machines(pairs):
    carb, _ = off(pairs, "carburettor")
    said = machines.fit(pairs, RUNNER, "carburettor", carb, who="Ann").said
    assert "ran with the boot" in said
    notes = [each for each in checks.check(pairs, RUNNER).findings if "ran with" in each.text]
    assert [(note.level, note.position) for note in notes if DONOR[:2] in note.text] == [("note", "carburettor")]
    assert any("matched set" in note.do for note in notes)
    there = [each.text for each in checks.check(pairs, DONOR).findings if "ran with" in each.text]
    assert len(there) == 1
    assert there[0].startswith("the carburettor on Fennaby Early")


def test_exchanging_parts_splits_two_sets(pairs):
    said = machines.swap(pairs, DONOR, "carburettor", RUNNER, "carburettor", who="Ann").said
    assert said.count("Keep them together") == 2


def test_an_original_put_back_is_with_its_set_again(pairs):
    off(pairs, "carburettor")
    machines.put_back(pairs, DONOR, who="Ann")
    assert [each for each in checks.check(pairs, DONOR).findings if "ran with" in each.text] == []


def test_an_undo_brings_a_set_together_again(pairs):
    carb, _ = off(pairs, "carburettor")
    history.undo(pairs, history.history(pairs, limit=1)[0].batch, who="Ann")
    assert matched.warn_lot(pairs, carb, place_end(BIN_A)) == ""
    assert [each for each in checks.check(pairs, DONOR).findings if "ran with" in each.text] == []


def test_loaded_lots_belong_to_the_machine_they_are_said_to_come_off(pairs):
    rows = f"code,kind,quantity,place,from_machine,from_position\n{OLD_BOOT},boot,1,{BIN_B},{PROJECT},boot\n"
    assert load(pairs, tables(lots=rows), "owner").ok
    assert matched.warn_lot(pairs, OLD_BOOT, place_end(BIN_B)) == ""  # its carburettor was missing when it came
    rows = f"code,kind,quantity,place,from_machine\n{first_coded('01DC')},carb,1,{BIN_A},{DONOR}\n"
    assert load(pairs, tables(lots=rows), "owner").ok
    assert "the boot on Fennaby Early" in matched.warn_lot(pairs, first_coded("01DC"), place_end(BIN_A))


def test_a_build_is_told_what_its_parts_ran_with(pairs):
    carb, _ = off(pairs, "carburettor")
    load(pairs, tables(build_parts=f"build,position,lot\nwinter,carburettor,{carb}\n"), "owner")
    texts = [each.text for each in checks.check(pairs, "winter").findings if "ran with" in each.text]
    assert texts == [f"the boot on Fennaby Early ({DONOR[:3]} {DONOR[3:]}) ran with the carburettor"]


def test_a_merge_and_a_misfiled_part_do_not_hide_a_set(pairs):
    carb, _ = off(pairs, "carburettor")
    load(pairs, tables(lots=f"code,condition\n{carb},good\n"), "owner")
    assert "ran with" in lots.merge(pairs, CARBS, [carb], who="Ann").said
    boot, _ = off(pairs, "boot", BIN_B)
    counting.misfiled(pairs, BIN_A, boot, who="Ann", stays=True)
    assert matched.warn_lot(pairs, boot, place_end(BIN_A)) == ""


def test_many_split_sets_are_told_in_a_few_sentences(pairs):
    load(pairs, tables(kinds="key,name,matched_set\nclip,clip,intake\nmodule,module,intake\n"), "owner")
    bins = ["", BIN_A, BIN_B]
    said = machines.strip(
        pairs, RUNNER, {name: Off(bins[at % 3]) for at, name in enumerate(("carburettor", "boot", "clip"))}, who="Ann"
    ).said
    assert said.count("Keep them together") == 3
    more = machines.strip(pairs, DONOR, {"carburettor": Off(BIN_A), "boot": Off(BIN_B)}, who="Ann").said
    assert more.count("Keep them together") == 2
