"""Planning from the screens: all open builds at once and, if wanted, every gap."""

from __future__ import annotations

from collections.abc import Callable

from stash.db.store import Store
from stash.plan.answer import Plan
from stash.plan.solve import Progress, plan
from stash.plan.wares import Allowed
from stash.services.gaps import gaps, judge


def make_plan(
    store: Store,
    allowed: Allowed,
    *,
    with_gaps: bool,
    seconds: float,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Plan:
    """Plan all open builds together.

    Args:
        store: The database.
        allowed: What may be used beyond the shelf.
        with_gaps: Plan every gap too; a machine that a build is on is planned once, as the build.
        seconds: Solver time at most.
        progress: Told of every better answer, from the solver's thread.
        cancelled: Asked now and then whether to stop.
    """
    stock = store.stock()
    built = {build.machine for build in stock.builds.values() if build.status == "open" and build.machine}
    found = gaps(store) if with_gaps else ()
    short = {gap.machine for gap in found if gap.key.startswith("machine:")}
    keys = [
        gap.key
        for gap in found
        if gap.machine not in built and (gap.key.startswith("machine:") or gap.machine not in short)
    ]
    return plan(
        store.catalogue(),
        stock,
        gaps=keys,
        allowed=allowed,
        seconds=seconds,
        judge=judge(store),
        progress=progress,
        cancelled=cancelled,
    )
