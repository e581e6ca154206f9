"""The hard stop of speed: no module or limiter may allow more than a machine is rated for.

It is beside the verdict and not in it: the part bolts on and runs, and that is the danger.
Source: common practice, no source: flywheel, chain, blade and clutch are rated for the limit the machine left with.
"""

from __future__ import annotations

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part
from stash.fit.intervals import Interval
from stash.kernel.exact import micro_text

REV_LIMIT = "rev_limit_rpm"
"""The measure of a module or limiter that says where it cuts, in revolutions a minute."""


def overspeed(catalogue: Catalogue, model: str, part: Part) -> str:
    """Say why a part must not run on a model for its speed, "" when nothing speaks against it.

    Args:
        catalogue: The facts.
        model: Model key.
        part: The part; one of a kind that has a limit, whose limit and design nobody knows, is stopped too.
    """
    rated_u = catalogue.model[model].rated_rpm_u
    if rated_u is None or (part.kind, REV_LIMIT) not in catalogue.measure:
        return ""
    limit = part.values.get(REV_LIMIT)
    if isinstance(limit, Interval):
        if limit.high_u <= rated_u:
            return ""
        return f"its limit of {micro_text(limit.high_u)} rpm is above the machine's rated {micro_text(rated_u)} rpm"
    return "" if part.design else f"its limit is not known, and the machine is rated {micro_text(rated_u)} rpm"
