"""The gaps of the collection, and what the shelf can finish."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from threading import RLock
from typing import Any, TypeVar

from stash.db.store import Store
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part
from stash.fit.table import Row
from stash.plan import gaps as plan
from stash.plan.alone import Standing
from stash.plan.alone import builds_alone as plan_alone
from stash.plan.gaps import Gap
from stash.plan.judging import Judge


def gaps(store: Store) -> tuple[Gap, ...]:
    """Return every gap with its candidates: machines in order of code, then wanted models."""
    catalogue, stock = store.catalogue(), store.stock()
    return store.derived("gaps", (catalogue, stock), lambda: tuple(plan.gaps(catalogue, stock, judge(store))))


def builds_alone(store: Store) -> dict[str, Standing]:
    """Return ``{build: how it stands by itself}`` of every open build."""
    catalogue, stock = store.catalogue(), store.stock()
    return store.derived("builds", (catalogue, stock), lambda: plan_alone(catalogue, stock, judge(store)))


@dataclass(frozen=True, slots=True)
class Finishable:
    """What the shelf can do about the gaps, each taken by itself.

    Args:
        complete: Gaps that the shelf fills whole.
        one_short: Gaps that lack exactly one part.
        others: The rest.
    """

    complete: tuple[Gap, ...]
    one_short: tuple[Gap, ...]
    others: tuple[Gap, ...]


def finishable(found: Iterable[Gap]) -> Finishable:
    """Sort gaps by what the shelf can do about them, each taken by itself; two may want the same part."""
    gaps_ = tuple(found)
    near = tuple(plan.one_short(gaps_))
    keys = {gap.key for gap in near}
    return Finishable(
        tuple(gap for gap in gaps_ if gap.fillable),
        tuple(gap for gap in near if not gap.fillable),
        tuple(gap for gap in gaps_ if not gap.fillable and gap.key not in keys),
    )


T = TypeVar("T")
_MOST_REMEMBERED = 20_000
"""Answers kept before all are forgotten; one about a part on 2,000 models has some 2 kB. Source: project decision."""


class SharedJudge(Judge):
    """A judge that several threads may ask: its table is one thread's at a time.

    Args:
        catalogue: The facts.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        super().__init__(catalogue)
        self.asking = RLock()
        self._remembered: dict[Hashable, Any] = {}

    def remember(self, question: Hashable, answer: Callable[[], T]) -> T:
        """Return what was answered to a question, asking only the first time.

        The answer may depend on nothing but the question and the catalogue.
        """
        with self.asking:
            if question not in self._remembered:
                if len(self._remembered) >= _MOST_REMEMBERED:
                    self._remembered.clear()
                self._remembered[question] = answer()
            known: T = self._remembered[question]
            return known

    def of_design(self, design: str) -> Row:
        """Return a design's verdicts on every position that takes it.

        Raises:
            KeyError: There is no such design.
        """
        with self.asking:
            return self.table.row(design)

    def on_models(self, part: Part) -> dict[tuple[str, str], tuple[str, ...]]:
        """Return ``{(model, position): verdicts over its years}`` for every position that takes a part's kind."""
        with self.asking:
            return super().on_models(part)


def judge(store: Store) -> SharedJudge:
    """Return the judge for the store's catalogue as it is now."""
    catalogue = store.catalogue()
    return store.derived("judge", catalogue, lambda: SharedJudge(catalogue))
