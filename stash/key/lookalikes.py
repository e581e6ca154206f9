"""Designs that only one measure, or nothing, tells apart.

Two designs of one kind are look-alikes when, of the measures known of both, at most one keeps them apart for sure:
different words, or intervals that do not meet. Source: project decision.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design
from stash.fit.intervals import Interval, Known


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A design that is easily taken for another.

    Args:
        design: The other design's key.
        measure: The one measure that tells them apart, "" when none known of both does.
    """

    design: str
    measure: str


def look_alikes(catalogue: Catalogue, design: str) -> tuple[LookAlike, ...]:
    """Return the look-alikes of a design, in order of key.

    Args:
        catalogue: The facts.
        design: Design key.
    """
    own = catalogue.design[design]
    found = (_compared(own, other) for other in catalogue.designs_of_kind[own.kind] if other.key != design)
    return tuple(each for each in found if each is not None)


def telling_measure(catalogue: Catalogue, design: str) -> str:
    """Return the measure that keeps a design apart from most of its look-alikes, "" when it has none."""
    votes = Counter(each.measure for each in look_alikes(catalogue, design) if each.measure)
    return min(votes, key=lambda measure: (-votes[measure], measure), default="")


def mixed(catalogue: Catalogue, designs: Iterable[str]) -> tuple[tuple[str, str, str], ...]:
    """Return the pairs of look-alikes among some designs: (design, design, measure that tells them apart or "")."""
    wanted = sorted({key for key in designs if key in catalogue.design})
    pairs: list[tuple[str, str, str]] = []
    for index, one in enumerate(wanted):
        for two in wanted[index + 1 :]:
            first, second = catalogue.design[one], catalogue.design[two]
            found = _compared(first, second) if first.kind == second.kind else None
            if found is not None:
                pairs.append((one, two, found.measure))
    return tuple(pairs)


def _compared(one: Design, two: Design) -> LookAlike | None:
    both = sorted(one.values.keys() & two.values.keys())
    apart = [measure for measure in both if _differ(one.values[measure], two.values[measure])]
    if not both or len(apart) > 1:
        return None
    return LookAlike(two.key, apart[0] if apart else "")


def _differ(a: Known, b: Known) -> bool:
    if isinstance(a, Interval) and isinstance(b, Interval):
        return a.high_u < b.low_u or b.high_u < a.low_u
    return a != b
