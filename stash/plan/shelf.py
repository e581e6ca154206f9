"""Loose parts that are all the same: one design and equal measures of their own, in however many lots."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_lot
from stash.fit.facts import Lot
from stash.plan.spots import part_signature


@dataclass(frozen=True, eq=False)
class Sort:
    """One sort of loose part.

    Args:
        part: What each of them is; it carries the first lot's code for explanations.
        signature: What tells it from other parts.
        lots: The lots, in order of code; none is empty.
    """

    part: Part
    signature: Hashable
    lots: tuple[Lot, ...]


def sorts_by_kind(catalogue: Catalogue, lots: Iterable[Lot]) -> Mapping[str, tuple[Sort, ...]]:
    """Return ``{kind: sorts}`` of the lots that hold anything; the order of the lots does not matter."""
    groups: dict[Hashable, list[Lot]] = defaultdict(list)
    parts: dict[Hashable, Part] = {}
    for lot in sorted(lots, key=lambda row: row.code):
        if lot.quantity <= 0:
            continue
        signature: Hashable = (lot.kind, lot.design, ())
        if lot.values or signature not in parts:
            part = part_of_lot(catalogue, lot)
            signature = part_signature(part)
            parts.setdefault(signature, part)
        groups[signature].append(lot)
    answer: dict[str, list[Sort]] = defaultdict(list)
    for signature, members in groups.items():
        answer[parts[signature].kind].append(Sort(parts[signature], signature, tuple(members)))
    return {kind: tuple(sorts) for kind, sorts in answer.items()}
