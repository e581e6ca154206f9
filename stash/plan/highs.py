"""The one door to the solver: a programme handed to HiGHS, one goal after another.

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


def _silent() -> highspy.Highs:
    """A solver that prints nothing: its own start prints a banner unless output is off before callbacks are on."""
    import highspy

    class Silent(highspy.Highs):
        def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
            for option, value in _OPTIONS.items():
                self.setOptionValue(option, value)
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    return Silent()  # type: ignore[no-untyped-call]


class Solver:
    """A programme made ready for the solver.

    Each goal gets a solver of its own: one that has solved before may give an old answer for a new question.

    Args:
        programme: The numbers; at least one column and one row.
        told: Told of every better answer.
        cancelled: Asked now and then whether to stop.
    """

    def __init__(self, programme: Programme, told: Told, cancelled: Callable[[], bool]) -> None:
        import numpy as np

        self._columns = len(programme.upper)
        self._upper = np.array(programme.upper, dtype=float)
        self._rows = list(programme.rows)
        self._told = told
        self._cancelled = cancelled

    def keep(self, terms: Terms, low: float, high: float) -> None:
        """Add a row that every further answer has to hold."""
        unit = reduce(gcd, (int(weight) for weight in terms.values()))
        self._rows.append((low / unit, {column: weight / unit for column, weight in terms.items()}, high / unit))

    def minimise(self, costs: Terms, start: Sequence[float], seconds: float) -> tuple[list[int], bool, float, float]:
        """Look for whole columns that cost least.

        Args:
            costs: ``{column: cost}`` in whole numbers; the other columns cost nothing.
            start: Columns known to hold every row.
            seconds: How long to look.

        Returns:
            The columns (none when nothing that holds every row came up), whether they are proven best, a bound that
            no columns go below, and the seconds used.
        """
        lp = self._programme(costs)
        columns, proven, bound, used = self._run(lp, start, seconds)
        if proven is None:
            again = self._run(lp, None, max(0.0, seconds - used))
            columns, proven, bound, used = again[0] or columns, again[1], again[2], used + again[3]
        return columns, bool(proven), bound, used

    def _run(
        self, lp: highspy.HighsLp, start: Sequence[float] | None, seconds: float
    ) -> tuple[list[int], bool | None, float, float]:
        """Solve once; the proof is None where the solver's word and its columns differ.

        It happens that the solver proves an answer better than the start and yet hands back the start (seen with
        1.16.0). What it found holds all the same, only the proof does not.
        """
        import highspy
        import numpy as np

        highs = _silent()
        highs.passModel(lp)
        highs.cbMipImprovingSolution += self._better
        highs.cbMipInterrupt += self._ask
        if start is not None:
            known = highspy.HighsSolution()
            known.col_value = list(start)
            highs.setSolution(known)
        highs.setOptionValue("time_limit", seconds)
        highs.run()
        info, found = highs.getInfo(), np.rint(np.array(highs.getSolution().col_value))
        good = len(found) == self._columns and self._holds(lp, found)
        proven: bool | None = good and highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
        if proven and round(float(lp.col_cost_ @ found) - info.objective_function_value):
            proven = None
        return [int(value) for value in found] if good else [], proven, info.mip_dual_bound, highs.getRunTime()

    def _programme(self, costs: Terms) -> highspy.HighsLp:
        import highspy
        import numpy as np

        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = self._columns, len(self._rows)
        cost = np.zeros(self._columns)
        cost[np.array(list(costs), dtype=np.int64)] = list(costs.values())
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, np.zeros(self._columns), self._upper
        lp.row_lower_ = np.array([low for low, _, _ in self._rows])
        lp.row_upper_ = np.array([high for _, _, high in self._rows])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(terms) for _, terms, _ in self._rows)])
        lp.a_matrix_.index_ = np.array([column for _, terms, _ in self._rows for column in terms], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([weight for _, terms, _ in self._rows for weight in terms.values()])
        lp.integrality_ = [highspy.HighsVarType.kInteger] * self._columns
        return lp

    def _holds(self, lp: highspy.HighsLp, columns: Any) -> bool:
        """Tell whether whole columns hold every row exactly; the solver itself allows a hair's breadth."""
        import numpy as np

        matrix = lp.a_matrix_
        sums = np.add.reduceat(np.array(matrix.value_) * columns[matrix.index_], np.array(matrix.start_)[:-1])
        return bool(np.all((sums >= np.array(lp.row_lower_)) & (sums <= np.array(lp.row_upper_))))

    def _better(self, event: highspy.HighsCallbackEvent) -> None:
        self._told(event.data_out.mip_primal_bound, event.data_out.mip_dual_bound)

    def _ask(self, event: highspy.HighsCallbackEvent) -> None:
        event.interrupt(self._cancelled())
