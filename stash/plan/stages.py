"""Solving the programme: value first, then money, then minutes, then condition, each proven before the next.

A stage keeps what the stages before it reached as a row. Money and the rest are never weighed against value in one
sum: the weights would overflow what a solver can tell apart.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import reduce
from math import ceil, gcd

from stash.plan.highs import ENDLESS, Solver
from stash.plan.model import Programme, Terms

_HAIR = 1e-6
"""How far the solver's bound may be off."""

GOALS = ("value", "money", "minutes", "condition")
"""What is optimised, in this order; value as large, the others as small as possible."""


def _tell_nobody(_goal: str, _best: float, _bound: float) -> None:
    pass


def _never() -> bool:
    return False


@dataclass(frozen=True)
class Control:
    """How long to look, whom to tell, when to stop.

    Args:
        seconds: Solver time at most.
        progress: Called with (goal, best so far, bound) whenever the answer gets better, in the goal's own unit.
        cancelled: Asked now and then; True stops with the best answer so far.
    """

    seconds: float = 10.0
    progress: Callable[[str, float, float], None] = _tell_nobody
    cancelled: Callable[[], bool] = _never


@dataclass
class Solved:
    """The best columns found.

    Args:
        columns: A value for each column.
        reached: ``{goal: what the columns reach}``.
        bounds: ``{goal: what can't be bettered given the goals before it}``.
        proven: ``{goal: nothing better exists given the goals before it}``.
        seconds: Solver time used.
    """

    columns: list[float]
    reached: dict[str, float] = field(default_factory=dict)
    bounds: dict[str, float] = field(default_factory=dict)
    proven: dict[str, bool] = field(default_factory=dict)
    seconds: float = 0.0


def solve(programme: Programme, start: Sequence[float], control: Control) -> Solved:
    """Solve the stages one after the other.

    Args:
        programme: The numbers.
        start: A feasible first answer, a value for each column.
        control: How long, whom to tell, when to stop.

    Returns:
        The best found; where time ran out, later goals keep what fell to them.
    """
    return _Stages(programme, start, control).run()


class _Stages:
    def __init__(self, programme: Programme, start: Sequence[float], control: Control) -> None:
        self._programme = programme
        self._control = control
        self._solved = Solved(list(start))
        self._kept: list[tuple[Terms, float, float]] = []
        self._solver: Solver | None = None
        self._goal, self._scale = "", 1.0

    def run(self) -> Solved:
        solved = self._solved
        for goal in GOALS:
            terms: Terms = getattr(self._programme, goal)
            most = float(sum(terms.values()))
            best = most if goal == "value" else 0.0
            solved.reached[goal] = _sum(terms, solved.columns)
            solved.bounds[goal] = best
            if solved.reached[goal] != best and not self._stopped():
                self._improve(goal, terms, best)
            solved.proven[goal] = solved.reached[goal] == solved.bounds[goal]
            self._keep(goal, terms)
        return solved

    def _stopped(self) -> bool:
        return self._solved.seconds >= self._control.seconds or self._control.cancelled()

    def _improve(self, goal: str, terms: Terms, best: float) -> None:
        """Look for something better in one goal, starting from what is known."""
        solved, sign = self._solved, -1.0 if goal == "value" else 1.0
        unit = reduce(gcd, (int(weight) for weight in terms.values()))
        self._goal, self._scale = goal, sign * unit
        costs = {column: sign * weight / unit for column, weight in terms.items()}
        left = self._control.seconds - solved.seconds
        columns, proven, bound, seconds = self._ready().minimise(costs, solved.columns, left)
        solved.seconds += seconds
        reached = _sum(terms, columns) if columns else solved.reached[goal]
        if columns and (reached - solved.reached[goal]) * sign <= 0:
            solved.columns, solved.reached[goal] = [float(value) for value in columns], reached
        if proven:
            solved.bounds[goal] = solved.reached[goal]
        elif abs(bound) < ENDLESS:
            solved.bounds[goal] = sign * max(sign * best, ceil(bound - _HAIR) * unit)

    def _ready(self) -> Solver:
        """The solver, with every goal reached so far held; it is started only when something is to be solved."""
        if self._solver is None:
            self._solver = Solver(self._programme, self._tell, self._control.cancelled)
            for terms, low, high in self._kept:
                self._solver.keep(terms, low, high)
        return self._solver

    def _keep(self, goal: str, terms: Terms) -> None:
        if not terms:
            return
        reached = self._solved.reached[goal]
        row = (terms, reached, ENDLESS) if goal == "value" else (terms, -ENDLESS, reached)
        self._kept.append(row)
        if self._solver is not None:
            self._solver.keep(*row)

    def _tell(self, best: float, bound: float) -> None:
        self._control.progress(self._goal, best * self._scale, bound * self._scale)


def _sum(terms: Terms, columns: Sequence[float]) -> float:
    return sum(columns[column] * weight for column, weight in terms.items())
