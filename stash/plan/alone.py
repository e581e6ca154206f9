"""How far each open build is by itself: what is there, what the shelf would fill, what stays short.

Two builds may count on the same part here; only the plan settles who gets it.
"""

from __future__ import annotations

from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.plan.facts import Stock
from stash.plan.gaps import Gap, filled
from stash.plan.holes import Hole
from stash.plan.judging import Judge
from stash.plan.tasks import Task, tasks_of


@dataclass(frozen=True, slots=True)
class Standing:
    """How a build stands, positions counted.

    Args:
        gap: What is not decided yet, with what would fill it.
        there: How many positions stay as they are on its machine.
        decided: Positions whose part is decided and at hand.
    """

    gap: Gap
    there: int
    decided: tuple[str, ...]

    @property
    def on_shelf(self) -> int:
        """How many positions the shelf would fill, what is decided included."""
        return len(self.decided) + len(self.gap.short) - len(self.gap.still_short)

    @property
    def short(self) -> int:
        """How many positions stay short."""
        return len(self.gap.still_short)


def builds_alone(catalogue: Catalogue, stock: Stock, judge: Judge | None = None) -> dict[str, Standing]:
    """Return ``{build: how it stands}`` of every open build.

    Args:
        catalogue: The facts.
        stock: What is owned and planned.
        judge: Remembers verdicts from call to call while the catalogue stays the same.
    """
    tasks, _ = tasks_of(catalogue, stock, None, ())
    decided = {task.key: _decided(task) for task in tasks}
    found = filled(catalogue, stock, [_hole(task, decided[task.key]) for task in tasks], judge)
    return {
        task.key: Standing(gap, len(catalogue.positions[task.model]) - len(task.positions), decided[task.key])
        for task, gap in zip(tasks, found, strict=True)
    }


def _decided(task: Task) -> tuple[str, ...]:
    """The positions whose part is set aside whole."""
    return tuple(
        position.name
        for position in task.positions
        if (pin := task.pins.get(position.name)) is not None
        and pin.part is not None
        and sum(units for _, units in pin.lots) == position.quantity
    )


def _hole(task: Task, decided: tuple[str, ...]) -> Hole:
    positions = tuple(position for position in task.positions if position.name not in decided)
    return Hole(task.key, task.model, task.machine, positions)
