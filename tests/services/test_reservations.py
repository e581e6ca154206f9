"""A part promised to a build is never taken without a word; what is lent is known until it is back."""

import pytest

from stash.errors import Conflict
from stash.services import history, loans, lots, machines, rows
from stash.services.at_position import Off
from stash.services.reservations import promises
from stash.services.verify import verify
from tests.services.workshop import BIN_B, CARB_TURNED, CLIPS, DONOR, PROJECT, RUNNER


def promise(store, lot, position, build="winter"):
    rows.save_row(store, "build_parts", {"build": build, "position": position, "lot": lot}, None, None, "Ann")


def status(store, word):
    rows.save_row(
        store, "builds", {"key": "winter", "name": "Winter build", "status": word}, {"key": "winter"}, None, "Ann"
    )


WAYS = {
    "let go": lambda store, lot, **more: lots.let_go(store, lot, 4, "sold", who="Ann", **more),
    "lent": lambda store, lot, **more: lots.let_go(store, lot, 4, "lent", who="Ann", **more),
    "split": lambda store, lot, **more: lots.split(store, lot, 4, who="Ann", **more),
    "moved in part": lambda store, lot, **more: lots.move(store, lot, "", who="Ann", quantity=4, **more),
}


@pytest.mark.parametrize("way", WAYS)
def test_too_few_left_for_a_build_is_refused_until_somebody_says_so(workshop, way):
    promise(workshop, CLIPS, "clip")  # two of the five
    with pytest.raises(Conflict, match="promised to Winter build"):
        WAYS[way](workshop, CLIPS)
    assert workshop.stock().lots[CLIPS].quantity == 5
    WAYS[way](workshop, CLIPS, anyway=True)
    assert workshop.stock().lots[CLIPS].quantity == 1
    assert verify(workshop).ok


def test_what_a_build_does_not_need_may_go(workshop):
    promise(workshop, CLIPS, "clip")
    lots.let_go(workshop, CLIPS, 3, "sold", who="Ann")
    with pytest.raises(Conflict):
        machines.fit(workshop, RUNNER, "clip", CLIPS, who="Ann")
    machines.fit(workshop, PROJECT, "clip", CLIPS, who="Ann")


def test_a_build_on_hold_keeps_its_parts_and_one_that_is_done_does_not(workshop):
    status(workshop, "held")
    assert [build.key for build, _ in promises(workshop.stock(), CARB_TURNED)] == ["winter"]
    with pytest.raises(Conflict):
        lots.let_go(workshop, CARB_TURNED, 1, "sold", who="Ann")
    status(workshop, "done")
    assert promises(workshop.stock(), CARB_TURNED) == ()
    lots.let_go(workshop, CARB_TURNED, 1, "sold", who="Ann")


def test_a_promised_lot_moves_as_a_whole_without_a_question(workshop):
    lots.move(workshop, CARB_TURNED, BIN_B, who="Ann")
    assert workshop.stock().lots[CARB_TURNED].place == BIN_B


def test_a_promise_follows_the_parts_into_the_lot_they_are_merged_with(workshop):
    part = lots.split(workshop, CLIPS, 2, who="Ann").codes[0]
    promise(workshop, part, "clip")
    done = lots.merge(workshop, CLIPS, [part], who="Ann")
    assert "now has" in done.said
    assert [build.key for build, _ in promises(workshop.stock(), CLIPS)] == ["winter"]
    assert promises(workshop.stock(), part) == ()
    history.undo(workshop, done.batch, who="Ann")
    assert [build.key for build, _ in promises(workshop.stock(), part)] == ["winter"]
    promise(workshop, CLIPS, "clip")
    lots.merge(workshop, CLIPS, [part], who="Ann")
    assert len(promises(workshop.stock(), CLIPS)) == 1


def test_a_promised_original_is_not_put_back_without_a_word(workshop):
    original = machines.take_off(workshop, DONOR, "boot", who="Ann", off=Off()).codes[0]
    promise(workshop, original, "boot")
    with pytest.raises(Conflict, match="promised"):
        machines.put_back(workshop, DONOR, who="Ann")
    machines.put_back(workshop, DONOR, who="Ann", anyway=True)
    assert workshop.stock().lots[original].quantity == 0


@pytest.mark.parametrize(("more", "refused"), [(0, True), (1, False)])
def test_what_builds_were_promised_since_is_not_undone_away(workshop, more, refused):
    lots.let_go(workshop, CLIPS, 4 - more, "sold", who="Ann")
    came = lots.add_more(workshop, CLIPS, 1, "found", who="Ann")
    promise(workshop, CLIPS, "clip")  # two of what is there
    if refused:
        with pytest.raises(Conflict, match="promised to Winter build"):
            history.undo(workshop, came.batch, who="Ann")
        rows.delete_row(
            workshop, "build_parts",
            {"build": "winter", "position": "clip", "design": "", "lot": CLIPS}, None, "Ann",
        )  # fmt: skip
    history.undo(workshop, came.batch, who="Ann")
    assert workshop.stock().lots[CLIPS].quantity == 1 + more
    assert verify(workshop).ok


def test_a_part_promised_since_is_not_undone_onto_another_machine(workshop):
    off = machines.take_off(workshop, DONOR, "boot", who="Ann", off=Off())
    promise(workshop, off.codes[0], "boot")
    with pytest.raises(Conflict, match="promised to Winter build"):
        history.undo(workshop, off.batch, who="Ann")
    assert workshop.stock().lots[off.codes[0]].quantity == 1


def test_what_is_lent_says_to_whom_and_comes_back(workshop):
    assert loans.loans(workshop) == ()
    lots.let_go(workshop, CLIPS, 2, "lent", who="Ann", to="Ada")
    lots.let_go(workshop, CLIPS, 1, "lent", who="Ann", to="Bea")
    (loan,) = loans.loans(workshop, CLIPS)
    assert (loan.quantity, loan.said) == (3, "lent to Bea")
    with pytest.raises(Conflict, match="Only 3"):
        lots.add_more(workshop, CLIPS, 4, "lent", who="Ann")
    back = lots.add_more(workshop, CLIPS, 3, "lent", who="Ann")
    assert loans.loans(workshop) == ()
    history.undo(workshop, back.batch, who="Ann")
    assert [each.quantity for each in loans.loans(workshop)] == [3]
    assert verify(workshop).ok
