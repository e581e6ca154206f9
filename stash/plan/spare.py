"""What nothing needs: loose parts that no build of the plan and no gap could use."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence

from stash.fit.catalogue import Catalogue
from stash.plan.answer import SpareLot
from stash.plan.assigning import Use
from stash.plan.facts import Stock
from stash.plan.holes import holes
from stash.plan.judging import Judge
from stash.plan.options import Options, Variant
from stash.plan.shelf import Sort, sorts_by_kind
from stash.plan.sized import NOTHING, Sized
from stash.plan.usable import condition_rank


def surplus(
    catalogue: Catalogue,
    stock: Stock,
    judge: Judge,
    options: Options,
    open_variants: Sequence[Variant],
    uses: Mapping[Variant, Sequence[Use]],
    aside: Mapping[str, int],
) -> tuple[SpareLot, ...]:
    """List the loose parts that nothing needs, worst condition first within a sort, in order of lot.

    Args:
        catalogue: The facts.
        stock: What is owned.
        judge: Judges parts.
        options: Finds what may go where.
        open_variants: The variants of tasks that the plan does not complete.
        uses: What the plan takes.
        aside: ``{lot: how many}`` promised to builds.
    """
    sorts = sorts_by_kind(catalogue, stock.lots.values())
    needed = _needed(catalogue, stock, judge, sorts, options, open_variants)
    gone = dict(aside)
    for found in uses.values():
        for use in found:
            if use.lot is not None and use.tier is not None:
                gone[use.lot.code] = gone.get(use.lot.code, 0) + use.quantity
    spare = []
    for sort in (sort for of_kind in sorts.values() for sort in of_kind):
        if sort.part.design:
            spare += _spare(sort, needed.get(sort.signature, 0), gone)
    return tuple(sorted(spare, key=lambda each: each.lot))


def _needed(
    catalogue: Catalogue,
    stock: Stock,
    judge: Judge,
    sorts: Mapping[str, Sequence[Sort]],
    options: Options,
    open_variants: Sequence[Variant],
) -> dict[Hashable, int]:
    """``{part signature: how many could be used}`` by the builds left over and by every gap."""
    wants: dict[Hashable, dict[tuple[str, str], int]] = defaultdict(dict)
    sized = {kind: Sized([sort.part for sort in of_kind]) for kind, of_kind in sorts.items()}
    for variant in open_variants:
        task = variant.task
        for position, found in options.anyhow(variant):
            where = (task.machine.code if task.machine else task.key, position.name)
            for ware in found:
                wants[ware.signature][where] = position.quantity
    for hole in holes(catalogue, stock):
        for position in hole.positions:
            spot = judge.spot(hole.model, position.name, hole.machine)
            where = (hole.machine.code if hole.machine else hole.key, position.name)
            for place, _ in spot.offered_among(sized.get(position.kind, NOTHING)):
                wants[sorts[position.kind][place].signature][where] = position.quantity
    return {signature: sum(places.values()) for signature, places in wants.items()}


def _spare(sort: Sort, needed: int, gone: Mapping[str, int]) -> list[SpareLot]:
    """Keep the best of a sort for what is needed; the rest is spare."""
    spare = []
    for lot in sorted(sort.lots, key=lambda each: (condition_rank(each.condition), each.code)):
        left = lot.quantity - gone.get(lot.code, 0)
        kept = min(left, needed)
        needed -= kept
        if left > kept:
            spare.append(SpareLot(lot.code, lot.design, lot.kind, left - kept, lot.place, lot.condition))
    return spare
