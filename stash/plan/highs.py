"""The one door to the solver: a programme handed to HiGHS once, then one goal after another.

HiGHS keeps one count of threads for the whole process; nobody here sets it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import reduce
from math import gcd
from typing import TYPE_CHECKING, Any

from stash.plan.model import Programme, Terms

if TYPE_CHECKING:
    import highspy

ENDLESS = float("inf")
_OPTIONS: dict[str, Any] = {"output_flag": False, "mip_rel_gap": 0.0, "mip_abs_gap": 0.0}

Told = Callable[[float, float], None]
"""Called with (best so far, bound) whenever the solver finds something better."""


class Solver:
    """A programme in the solver.

    Args:
        programme: The numbers; at least one column.
    """

    def __init__(self, programme: Programme) -> None:
        import highspy
        import numpy as np

        self._highs = highspy.Highs()  # type: ignore[no-untyped-call]
        for option, value in _OPTIONS.items():
            self._highs.setOptionValue(option, value)
        self._columns = len(programme.upper)
        self._low = np.array([low for low, _, _ in programme.rows])
        self._high = np.array([high for _, _, high in programme.rows])
        self._starts = np.cumsum([0, *(len(terms) for _, terms, _ in programme.rows)])
        self._index = np.array([column for _, terms, _ in programme.rows for column in terms], dtype=np.int32)
        self._weight = np.array([weight for _, terms, _ in programme.rows for weight in terms.values()])
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = self._columns, len(programme.rows)
        lp.col_cost_, lp.col_lower_ = np.zeros(self._columns), np.zeros(self._columns)
        lp.col_upper_ = np.array(programme.upper, dtype=float)
        lp.row_lower_, lp.row_upper_ = self._low, self._high
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = self._starts, self._index, self._weight
        lp.integrality_ = [highspy.HighsVarType.kInteger] * self._columns
        self._highs.passModel(lp)
        self._told: Told | None = None
        self._cancelled: Callable[[], bool] | None = None

    def listen(self, told: Told | None, cancelled: Callable[[], bool] | None) -> None:
        """Tell of every better answer, and ask now and then whether to stop."""
        self._told, self._cancelled = told, cancelled
        if told is not None:
            self._highs.cbMipImprovingSolution += self._better
        if cancelled is not None:
            self._highs.cbMipInterrupt += self._ask

    def minimise(self, costs: Terms, start: Sequence[float], seconds: float) -> tuple[list[int], bool, float, float]:
        """Look for whole columns that cost least.

        Args:
            costs: ``{column: cost}``; the others cost nothing.
            start: Columns known to hold every row.
            seconds: How long to look.

        Returns:
            The columns (none when nothing better than the start came up), whether they are proven best, a bound that
            no columns go below, and the seconds used.
        """
        import highspy
        import numpy as np

        highs, cost = self._highs, np.zeros(self._columns)
        for column, weight in costs.items():
            cost[column] = weight
        highs.changeColsCost(self._columns, np.arange(self._columns, dtype=np.int32), cost)
        known = highspy.HighsSolution()
        known.col_value = list(start)
        highs.setSolution(known)
        before = highs.getRunTime()
        highs.setOptionValue("time_limit", before + seconds)
        highs.run()
        proven = highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
        found = np.rint(np.array(highs.getSolution().col_value))
        holds = len(found) == self._columns and self._holds(found)
        columns = [int(value) for value in found] if holds else []
        return columns, proven and holds, highs.getInfo().mip_dual_bound, highs.getRunTime() - before

    def keep(self, terms: Terms, low: float, high: float) -> None:
        """Add a row that every further answer has to hold."""
        import numpy as np

        unit = reduce(gcd, (int(weight) for weight in terms.values()))
        columns = np.array(list(terms), dtype=np.int32)
        weights = np.array([weight / unit for weight in terms.values()])
        self._highs.addRow(low / unit, high / unit, len(terms), columns, weights)

    def _holds(self, columns: Any) -> bool:
        """Tell whether whole columns hold every row exactly; the solver itself allows a hair's breadth."""
        import numpy as np

        sums = np.add.reduceat(self._weight * columns[self._index], self._starts[:-1])
        return bool(np.all((sums >= self._low) & (sums <= self._high)))

    def _better(self, event: highspy.HighsCallbackEvent) -> None:
        if self._told is not None:
            self._told(event.data_out.mip_primal_bound, event.data_out.mip_dual_bound)

    def _ask(self, event: highspy.HighsCallbackEvent) -> None:
        if self._cancelled is not None and self._cancelled():
            event.interrupt()
