"""Gaps as screens show them: titled, with their pick list and what else could go in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.plan.facts import Stock
from stash.plan.gaps import Gap
from stash.services.cautions import Mind, metal_of, mind
from stash.services.home import Pick, gap_title, pick_list
from stash.services.titles import kind_name, lot_title


@dataclass(frozen=True, slots=True)
class Lacking:
    """A position that stays short."""

    position: str
    kind: str
    kind_key: str
    quantity: int


@dataclass(frozen=True, slots=True)
class GapView:
    """A gap ready to be drawn.

    Args:
        gap: The gap.
        title: What it is about.
        picks: What to take from the shelf, in walking order, with what each is.
        lacking: What stays short.
        wanted: The machine is also the nearest to complete of a wanted model.
        there: How many positions are not short of anything.
        cautions: What to mind with what is picked.
    """

    gap: Gap
    title: str
    picks: tuple[tuple[Pick, str], ...]
    lacking: tuple[Lacking, ...]
    wanted: bool = False
    there: int = 0
    cautions: tuple[Mind, ...] = ()

    @property
    def on_shelf(self) -> int:
        """How many positions the shelf would fill."""
        return len(self.gap.short) - len(self.lacking)


def views(catalogue: Catalogue, stock: Stock, gaps: Iterable[Gap]) -> list[GapView]:
    """Return gaps ready to be drawn, in their order; a machine that is short and wanted stands there once."""
    rows = list(gaps)
    machines = {gap.machine for gap in rows if _own(gap)}
    wanted = {gap.machine for gap in rows if gap.machine and not _own(gap)}
    return [
        view(catalogue, stock, gap, wanted=gap.machine in wanted)
        for gap in rows
        if _own(gap) or gap.machine not in machines
    ]


def _own(gap: Gap) -> bool:
    return gap.key.startswith("machine:")


def view(catalogue: Catalogue, stock: Stock, gap: Gap, *, wanted: bool = False) -> GapView:
    """Return one gap ready to be drawn."""
    kinds = {short.position: short.kind for short in gap.short}
    picks = pick_list(stock, gap)
    return GapView(
        gap,
        gap_title(catalogue, stock, gap),
        tuple((pick, lot_title(catalogue, pick.lot)) for pick in picks),
        tuple(
            Lacking(position, kind_name(catalogue, kinds[position]), kinds[position], quantity)
            for position, quantity in gap.still_short
        ),
        wanted and _own(gap),
        len(catalogue.positions[gap.model]) - len(gap.short),
        mind(catalogue, ((pick.lot.kind, metal_of(catalogue, pick.lot)) for pick in picks)),
    )
