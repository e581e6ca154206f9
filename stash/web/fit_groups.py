"""Verdicts in the order one reads them: best first, and what nobody knows anything about kept short."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stash.kernel.tables import VERDICTS
from stash.services.fits import Fit


@dataclass(frozen=True, slots=True)
class FitGroups:
    """Verdicts sorted for reading.

    Args:
        said: Those about which something is said or can be measured, best verdict first.
        silent: Those about which nothing is known.
    """

    said: tuple[Fit, ...]
    silent: tuple[Fit, ...]

    @property
    def tally(self) -> dict[str, int]:
        """``{verdict: how many}``, best first."""
        counts = {verdict: sum(fit.verdict == verdict for fit in self.said) for verdict in VERDICTS}
        return {verdict: count for verdict, count in counts.items() if count}


def grouped_fits(fits: Iterable[Fit]) -> FitGroups:
    """Sort verdicts for reading; equals keep their order."""
    rows = tuple(fits)
    silent = tuple(fit for fit in rows if fit.verdict == "unknown" and not fit.finding.heard and not fit.finding.open)
    kept = {id(fit) for fit in silent}
    said = sorted((fit for fit in rows if id(fit) not in kept), key=lambda fit: VERDICTS.index(fit.verdict))
    return FitGroups(tuple(said), silent)
