"""How far a change runs: what a part breaks must be mended by another part, which may break something in turn.

A carburettor that needs another boot, clamp and filter holder is a part for this model. One that is mended only by
changing part after part until the whole engine is another's is not, though its sizes allow it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stash.plan.options import Option
from stash.plan.prospects import MOST_IN_A_ROW

Domains = dict[str, tuple[Option, ...]]
"""``{position: options left}``."""


@dataclass(frozen=True)
class Pairing:
    """Two positions that meet, their options in groups, and which groups go together.

    Args:
        one: The earlier position by name.
        other: The later one.
        ones: Groups of options at ``one``.
        others: Groups of options at ``other``.
        partners: For each group at ``one``, the places of the groups at ``other`` that it goes with.
    """

    one: str
    other: str
    ones: tuple[tuple[Option, ...], ...]
    others: tuple[tuple[Option, ...], ...]
    partners: tuple[frozenset[int], ...]


def keep_short_chains(domains: Domains, pairings: Sequence[Pairing]) -> None:
    """Drop options that are mended only by more changes in a row than allowed."""
    chains = _Chains(domains, pairings)
    for _ in range(MOST_IN_A_ROW):
        chains.lengthen()
    for position, options in list(domains.items()):
        domains[position] = tuple(option for option in options if chains.mended(option, ""))


class _Chains:
    """Which options are mended by chains no longer than so many changes; at first, those that break nothing."""

    def __init__(self, domains: Domains, pairings: Sequence[Pairing]) -> None:
        self._domains = dict(domains)
        self._must = {
            option: frozenset(far for _, far in option.must_hold) for options in domains.values() for option in options
        }
        self._ways: dict[tuple[str, str], tuple[Pairing, bool]] = {}
        for pairing in pairings:
            self._ways[pairing.one, pairing.other] = (pairing, True)
            self._ways[pairing.other, pairing.one] = (pairing, False)
        self._mended = {
            (option, came_from)
            for option, must in self._must.items()
            for came_from in ("", *must)
            if not must - {came_from}
        }

    def mended(self, option: Option, came_from: str) -> bool:
        """Tell whether a chain mends an option, not counting what it breaks at the position it is reached from."""
        return (option, came_from if came_from in self._must[option] else "") in self._mended

    def lengthen(self) -> None:
        """Allow one more change in a row."""
        reached: dict[tuple[str, str], frozenset[Option]] = {}
        longer: set[tuple[Option, str]] = set()
        for position, options in self._domains.items():
            for option in options:
                must = self._must[option]
                for far in must:
                    if (position, far) not in reached:
                        reached[position, far] = self._reached(position, far)
                good = {far for far in must if option in reached[position, far]}
                longer.update((option, came_from) for came_from in ("", *must) if must - {came_from} <= good)
        self._mended |= longer

    def _reached(self, position: str, far: str) -> frozenset[Option]:
        """The options at a position for which something at the other end holds and is itself mended."""
        mended = {option for option in self._domains[far] if self.mended(option, position)}
        way = self._ways.get((position, far))
        if way is None:
            return frozenset(self._domains[position] if mended else ())
        pairing, forward = way
        if forward:
            there = {place for place, group in enumerate(pairing.others) if not mended.isdisjoint(group)}
            here = [group for group, partners in zip(pairing.ones, pairing.partners, strict=True) if partners & there]
        else:
            places = [place for place, group in enumerate(pairing.ones) if not mended.isdisjoint(group)]
            open_to = frozenset[int]().union(*(pairing.partners[place] for place in places))
            here = [pairing.others[place] for place in open_to]
        return frozenset(option for group in here for option in group)
