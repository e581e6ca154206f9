"""What the movements add up to, and whether it agrees with what the lots say."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stash.kernel.ends import End, place_end


@dataclass(frozen=True, slots=True)
class Entry:
    """One movement: so many of a lot went from here to there.

    Args:
        lot: Lot code.
        quantity: How many, at least 1.
        source: Where they were.
        target: Where they went.
    """

    lot: str
    quantity: int
    source: End
    target: End


def balances(entries: Iterable[Entry]) -> dict[str, int]:
    """Return ``{lot: how many are loose}``: what went into places less what left them."""
    sums: dict[str, int] = defaultdict(int)
    for entry in entries:
        sums[entry.lot] += (entry.target.type == "place") * entry.quantity
        sums[entry.lot] -= (entry.source.type == "place") * entry.quantity
    return dict(sums)


def whereabouts(entries: Iterable[Entry]) -> dict[str, dict[End, int]]:
    """Return ``{lot: {place or machine position: how many}}`` without the empty ones.

    A count at a machine may be negative: parts that were on it before anyone kept a ledger came off it.
    """
    sums: dict[str, dict[End, int]] = defaultdict(lambda: defaultdict(int))
    for entry in entries:
        for end, sign in ((entry.target, 1), (entry.source, -1)):
            if end.type in {"place", "machine"}:
                sums[entry.lot][end] += sign * entry.quantity
    return {lot: {end: count for end, count in ends.items() if count} for lot, ends in sums.items()}


def contradictions(entries: Iterable[Entry], lots: Mapping[str, tuple[int, str]]) -> tuple[str, ...]:
    """Say where the ledger and the lots disagree.

    Args:
        entries: The whole ledger.
        lots: ``{lot: (quantity, place code or "")}`` as the lots say.

    Returns:
        One sentence for each contradiction, in order of lot; none when all is well.
    """
    found = whereabouts(entries)
    said: list[str] = []
    for lot in sorted({*lots, *found}):
        loose = {end: count for end, count in found.get(lot, {}).items() if end.type == "place"}
        if lot not in lots:
            said.append(f"lot {lot} has movements but no row")
            continue
        quantity, place = lots[lot]
        if any(count < 0 for count in loose.values()):
            said.append(f"lot {lot} went below zero in a place")
        if sum(loose.values()) != quantity:
            said.append(f"lot {lot} says {quantity}, its movements add up to {sum(loose.values())}")
        elif quantity and loose != {place_end(place): quantity}:
            where = ", ".join(f"{count} at {end}" for end, count in sorted(loose.items()))
            said.append(f"lot {lot} says it is at {place_end(place)}, its movements say {where}")
    return tuple(said)
