"""What differs on a machine as built: companions that are already in place, reasons that no longer hold.

Source: project decision.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from stash.fit.beating import Heard
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Claim, Site
from stash.fit.intervals import Outcome
from stash.fit.mates import MateState
from stash.fit.wording import design_name


def as_built(
    catalogue: Catalogue, claims: Iterable[Claim], site: Site, states: Sequence[MateState]
) -> tuple[list[Claim], tuple[Heard, ...]]:
    """Read the outright claims on a machine as it stands.

    Args:
        catalogue: The facts.
        claims: What ``came_on`` and the rules say.
        site: The machine; on a model everything stays as it is said.
        states: How the part's mates stand there.

    Returns:
        The claims that still speak, and those set aside with the mate that does it. First a ``with_companions`` whose
        companions are all in place turns into ``bolts_on``, then what its own mate contradicts is set aside.
    """
    if site.machine is None:
        return list(claims), ()
    kept: list[Claim] = []
    aside: list[Heard] = []
    for said in claims:
        claim = _satisfied(catalogue, said, site)
        if _contradicted(claim, states):
            aside.append(Heard(claim, f"mate:{claim.because_mate}"))
        else:
            kept.append(claim)
    return kept, tuple(aside)


def _contradicted(claim: Claim, states: Sequence[MateState]) -> bool:
    """Tell whether the mate that a rule names is known, on this machine, to say the opposite.

    A ``bolts_on`` is contradicted by any end that breaks, any other verdict only when every end holds. Known means
    that a confirmed part which is more than stock stands there, so that a machine exactly as stock answers like its
    model.
    """
    ends = [state for state in states if claim.because_mate and state.mate.key == claim.because_mate]
    if claim.verdict == "bolts_on":
        return any(state.outcome is Outcome.BREAKS and state.blended for state in ends)
    return all(state.outcome is Outcome.HOLDS for state in ends) and any(state.blended for state in ends)


def _satisfied(catalogue: Catalogue, claim: Claim, site: Site) -> Claim:
    """Turn ``with_companions`` into ``bolts_on`` where all companions are known to be fitted already.

    What is at the position in question does not count: it makes way for the part.
    """
    if claim.verdict != "with_companions" or site.machine is None or not claim.companions:
        return claim
    fitted = {
        row.design
        for position, row in site.machine.fitted.items()
        if row.state == "present" and row.design and position != site.position
    }
    if not all(any(alternative in fitted for alternative in item) for item in claim.companions):
        return claim
    there = dict.fromkeys(key for item in claim.companions for key in item if key in fitted)
    already = "already fitted: " + ", ".join(design_name(catalogue, key) for key in there)
    return replace(
        claim, verdict="bolts_on", companions=(), reason=f"{claim.reason}; {already}" if claim.reason else already
    )
