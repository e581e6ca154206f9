"""Planning from the screens: the answer, the waiting, the stopping, the failing."""

import threading

import pytest

from stash.errors import StorageError
from stash.services.page_plan import make_plan
from tests.services.workshop import CARB_TURNED, CLIPS, DONOR, PROJECT


def test_a_build_is_planned_from_the_shelf_with_its_pick_list(visitor):
    page = visitor.send("/plans/")
    assert page.status == 200
    assert "1 of 1 build can be finished" in page.text
    assert "Proven best" in page.text
    assert "Winter build" in page.text
    for code in (CARB_TURNED, CLIPS):
        assert f"/lots/{code}" in page.body
    assert "decided by you" in page.text
    assert "2 \u00d7 10 mm clip" in page.text


def test_gaps_are_planned_where_one_asks_for_it(visitor):
    page = visitor.send("/plans/", gaps="yes", donors="yes", buy="yes", work="yes", seconds="5")
    assert page.status == 200
    assert "Donors" in page.text
    assert "of 1 build" in page.text  # the machine of the build is the wanted model's nearest too: planned once


def test_nonsense_is_told_beside_its_field(visitor):
    page = visitor.send("/plans/", seconds="for ever", donors="yes")
    assert page.status == 400
    assert page.problem("seconds")
    assert page.fields()["seconds"] == "for ever"
    assert 'value="yes" checked' in page.body


@pytest.fixture
def slow(monkeypatch):
    """Planning that goes on until it is let go, or told to stop."""
    let_go = threading.Event()

    def make(store, allowed, *, with_gaps, seconds, progress, cancelled):
        while not let_go.wait(0.01) and not cancelled():
            pass
        return make_plan(store, allowed, with_gaps=with_gaps, seconds=seconds)

    monkeypatch.setattr("stash.web.plans.make_plan", make)
    monkeypatch.setattr("stash.web.plans._WAIT_S", 0.05)
    yield let_go
    let_go.set()


def test_long_thinking_shows_that_it_thinks(visitor, slow):
    page = visitor.send("/plans/", follow=False)
    address = page.headers["Location"]
    page = visitor.open(address)
    assert "Looking for a first answer" in page.text
    assert "Look again" in page.text
    again = visitor.send("/plans/")
    assert again.status == 409
    assert "Another plan is being made" in again.text
    slow.set()
    visitor.client.application.extensions["stash_plans"].look(address.rsplit("/", 1)[1]).done.wait(20)
    assert "can be finished" in visitor.open(address).text


def test_thinking_is_stopped(visitor, slow, monkeypatch):
    address = visitor.send("/plans/", follow=False).headers["Location"]
    monkeypatch.setattr("stash.web.plans._WAIT_S", 20)
    page = visitor.send(f"{address}/stop", open_at=address)
    assert "can be finished" in page.text


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [(StorageError("The disk is gone", ""), 503, "The disk is gone"), (RuntimeError("secret"), 500, "did not expect")],
)
def test_a_failure_is_told(visitor, monkeypatch, error, status, said):
    def broken(*_args, **_more):
        raise error

    monkeypatch.setattr("stash.web.plans.make_plan", broken)
    page = visitor.send("/plans/")
    assert page.status == status
    assert said in page.text
    assert "secret" not in page.body


def test_an_old_ticket_is_told(visitor):
    assert visitor.open("/plans/nothing").status == 404


def test_a_build_whose_parts_are_all_fitted_lacks_nothing(visitor):
    visitor.send(f"/machines/{PROJECT}/fit?position=carburettor&lot={CARB_TURNED}")
    visitor.send(f"/machines/{PROJECT}/fit?position=clip&lot={CLIPS}")
    release = next((link for link in visitor.open("/builds/winter").links if "/remove?" in link), "")
    if release:
        visitor.send(release)
    assert "Nothing is missing" in visitor.send("/plans/").text


def test_what_if_plans_again_in_one_tap_and_shows_both_side_by_side(visitor):
    address = visitor.send("/plans/", follow=False).headers["Location"]
    for more, said in (
        ({"more": "work"}, "If work is allowed"),
        ({"more": "buy", "amount": "12.50"}, "If up to 12.50 may be spent"),
        ({"more": f"strip:{DONOR}"}, f"({DONOR}) may be stripped"),
    ):
        page = visitor.send(f"{address}/what-if", open_at=address, **more)
        assert page.status == 200
        assert said in page.text
        assert "Nothing gained" in page.text
        assert "before" in page.text


def test_a_plan_that_is_not_proven_best_may_think_longer(visitor, monkeypatch):
    monkeypatch.setattr("stash.web.plans.make_plan", lambda *given, **more: make_plan(*given, **{**more, "seconds": 0}))
    address = visitor.send("/plans/", follow=False).headers["Location"]
    assert "Think longer" in visitor.open(address).text
    assert "If it may think for 60 seconds" in visitor.send(f"{address}/what-if", open_at=address, more="longer").text


def test_a_what_if_that_is_none_is_told_on_the_plan(visitor):
    address = visitor.send("/plans/", follow=False).headers["Location"]
    page = visitor.send(f"{address}/what-if", open_at=address, more="buy", amount="much")
    assert "is not" in page.text
    assert "of 1 build can be finished" in page.text


def test_all_of_a_plan_is_reserved_and_what_changed_meanwhile_stops_it(visitor):
    address = visitor.send("/plans/", follow=False).headers["Location"]
    page = visitor.send(f"{address}/reserve", open_at=address)
    assert "Reserved 1 lot for 1 build." in page.text
    page = visitor.send(f"{address}/reserve", open_at=address)
    assert "Changed since the plan was made: build Winter build" in page.text


def test_the_errands_of_a_plan_are_on_one_page(visitor):
    address = visitor.send("/plans/", follow=False, buy="yes", purse="40").headers["Location"]
    page = visitor.open(f"{address}/errands")
    assert page.status == 200
    assert "in walking order" in page.text
    assert CLIPS in page.body


def test_a_plan_that_is_still_being_made_can_not_be_reserved_yet(visitor, slow):
    address = visitor.send("/plans/", follow=False).headers["Location"]
    page = visitor.send(f"{address}/reserve", open_at=address)
    assert page.status == 409
    assert "still being made" in page.text
