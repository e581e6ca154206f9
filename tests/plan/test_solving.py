"""The stages and the solver's door: time, cancelling, progress, and what is done when the solver misspeaks."""

from __future__ import annotations

import pytest

import stash.plan.highs as door
from stash.plan import stages
from stash.plan.model import Programme
from stash.plan.solve import plan
from stash.plan.stages import Control, solve
from stash.plan.wares import Allowed
from tests.plan.random_worlds import small_workshop
from tests.plan.test_planning_fixture import workshop


def knapsack():
    """Three things worth 5, 4 and 3 that weigh 4, 3 and 2, of which 5 can be carried."""
    programme = Programme()
    things = [programme.column(1) for _ in range(3)]
    programme.row(-door.ENDLESS, dict(zip(things, (4.0, 3.0, 2.0), strict=True)), 5)
    programme.value.update(dict(zip(things, (5.0, 4.0, 3.0), strict=True)))
    programme.minutes.update({0: 1.0, 1: 2.0, 2: 3.0})
    return programme


def test_each_goal_is_proven_before_the_next():
    solved = solve(knapsack(), [0.0, 0.0, 0.0], Control())
    assert (solved.columns, solved.reached["value"], solved.reached["minutes"]) == ([0, 1, 1], 7, 5)
    assert all(solved.proven.values())


def test_without_time_the_first_answer_stands_and_the_bound_is_what_all_would_be_worth():
    solved = solve(knapsack(), [1.0, 0.0, 0.0], Control(seconds=0))
    assert (solved.reached["value"], solved.bounds["value"], solved.proven["value"]) == (5, 12, False)


def test_a_plan_without_time_or_cancelled_is_feasible_and_says_how_far_from_best_it_may_be():
    for limits in ({"seconds": 0}, {"cancelled": lambda: True}):
        answer = plan(*workshop(), **limits)
        assert (answer.status, answer.value_u, answer.bound_u) == ("feasible", 2_000_000, 3_000_000)


def test_cancelling_while_the_solver_runs_keeps_the_best_so_far():
    asked = []

    def after_a_while():
        asked.append(True)
        return len(asked) > 2

    answer = plan(*workshop(), cancelled=after_a_while)
    assert answer.value_u == 2_000_000


def test_progress_begins_with_the_first_answer_and_names_its_goal():
    told = []
    answer = plan(*workshop(), allowed=Allowed(work=True), progress=told.append)
    assert (told[0].goal, told[0].bound) == ("value", 3_000_000)
    assert told[0].best <= answer.value_u
    assert [step.best for step in told if step.goal == "value"] == sorted(
        step.best for step in told if step.goal == "value"
    )


@pytest.mark.parametrize(
    ("found", "bound", "reached", "proven"),
    [
        (([0, 1, 1], False, -7.4), 7, 7, True),  # what is whole and at most 7.4 is at most 7
        (([0, 1, 1], False, -9.0), 9, 7, False),
        (([0, 1, 1], False, -door.ENDLESS), 12, 7, False),
        (([], False, -50.0), 12, 5, False),
        (([0, 1, 0], False, -9.0), 9, 5, False),  # worse than the start: the start stands
    ],
)
def test_what_the_solver_leaves_unproven_is_bounded_honestly(monkeypatch, found, bound, reached, proven):
    class Stub:
        def __init__(self, *_):
            pass

        def minimise(self, *_):
            return (*found, 1.0)

        def keep(self, *_):
            pass

    monkeypatch.setattr(stages, "Solver", Stub)
    programme = knapsack()
    programme.minutes.clear()
    solved = solve(programme, [1.0, 0.0, 0.0], Control())
    assert (solved.bounds["value"], solved.reached["value"], solved.proven["value"]) == (bound, reached, proven)


def test_where_the_solvers_word_and_columns_differ_it_is_asked_again_without_a_start(monkeypatch):
    starts = []
    run = door.Solver._run

    def misspeaking(self, lp, start, seconds):
        columns, proven, bound, used = run(self, lp, start, seconds)
        starts.append(start)
        return columns, None if start is not None else proven, bound, used

    monkeypatch.setattr(door.Solver, "_run", misspeaking)
    solved = solve(knapsack(), [1.0, 0.0, 0.0], Control())
    assert (solved.reached["value"], solved.proven["value"]) == (7, True)
    assert starts[:2] == [[1.0, 0.0, 0.0], None]


def test_an_answer_the_solver_proves_but_does_not_hand_over_is_noticed():
    """Seen on this workshop: proven money 12.00, columns that cost 14.00."""
    facts, shelf = small_workshop(222)
    answer = plan(facts, shelf, allowed=Allowed(donors=True, buy=True))
    assert (answer.status, answer.money_minor) == ("optimal", 1200)


def test_solving_prints_nothing(capfd):
    plan(*workshop())
    assert capfd.readouterr() == ("", "")
