"""Which parts ran together on a machine, followed through the ledger.

Some kinds wear into each other and stay together as a matched set: the halves of a case; piston, ring and bore. Which
kinds those are is said in the table of kinds. Which very parts belong together nobody has to write down: it is what sat
on one machine when the first of them came off, and a part that is tried elsewhere later keeps its first company. This
module follows each part through the movements, from position to lot to another machine's position, so that it can be
told which part ran with which, and where each of them is now.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from stash.kernel.ends import End, place_end
from stash.ledger.balance import Entry

Part = tuple[str, ...]
"""One part through all its moves: named after the machine position or the lot it was first known at."""

Sets = Mapping[End, Collection[str]]
"""``{machine position: the matched sets it belongs to}``; positions outside any set are left out."""


@dataclass(slots=True)
class Together:
    """Who ran with whom, and where everyone is.

    Args:
        sets: The positions that belong to a matched set.
        at: ``{machine position: the part there, None when it is empty}``; one that is not in it carries what it always
            carried.
        lots: ``{lot: the part in it}`` for lots that came off a machine.
        mates: ``{part: {set: the parts that ran together, itself among them}}``.
    """

    sets: Sets
    at: dict[End, Part | None] = field(default_factory=dict)
    lots: dict[str, Part] = field(default_factory=dict)
    mates: dict[Part, dict[str, frozenset[Part]]] = field(default_factory=dict)
    _spots: dict[Part, End] = field(default_factory=dict)
    _of_machine: dict[str, list[End]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for spot in self.sets:
            self._of_machine.setdefault(spot.name, []).append(spot)

    def part_at(self, spot: End) -> Part | None:
        """Return the part at a machine's position, None when it is empty."""
        return self.at.get(spot, ("at", spot.name, spot.position))

    def ran_with(self, part: Part | None) -> dict[str, frozenset[Part]]:
        """Return ``{set: the other parts that ran with a part}``; parts still in place count as running together."""
        if part is None:
            return {}
        spot = self.spot_of(part)
        here = {} if spot is None else {name: self._there(spot, name) for name in self.sets.get(spot, ())}
        known = {**here, **self.mates.get(part, {})}
        return {name: group - {part} for name, group in known.items() if group - {part}}

    def spot_of(self, part: Part) -> End | None:
        """Return the machine's position a part is at, None when it is on none."""
        if part in self._spots:
            return self._spots[part]
        own = End("machine", *part[1:])
        return own if part[0] == "at" and own not in self.at else None

    def where(self, part: Part, loose: Mapping[str, str]) -> tuple[str, End] | None:
        """Return the lot a part is in ("" on a machine) and its place or position; None when it is gone.

        Args:
            part: The part.
            loose: ``{lot: its place}`` of the lots that hold anything.
        """
        spot = self.spot_of(part)
        if spot is not None:
            return "", spot
        found = next((lot for lot, each in self.lots.items() if each == part and lot in loose), None)
        return None if found is None else (found, place_end(loose[found]))

    def _there(self, spot: End, name: str) -> frozenset[Part]:
        """The parts of a set that are on a machine now."""
        parts = (self.part_at(each) for each in self._of_machine[spot.name] if name in self.sets[each])
        return frozenset(part for part in parts if part is not None)

    def take_off(self, spot: End, lot: str) -> None:
        """Follow a part from a machine's position into a lot."""
        part = self.part_at(spot) or ("lot", lot)
        self.at[spot] = part
        for name in self.sets.get(spot, ()):
            there = self._there(spot, name)
            for each in there:
                self.mates.setdefault(each, {}).setdefault(name, there)
        self.at[spot] = None
        self._spots.pop(part, None)
        self.lots[lot] = part

    def put_in(self, lot: str, spot: End, number: int) -> None:
        """Follow a part from a lot into a machine's position; one that came off no machine is named by the number."""
        part = self.lots.get(lot, ("lot", lot, str(number)))
        self.at[spot] = part
        self._spots[part] = spot


def together(entries: Iterable[Entry], sets: Sets, empty: Collection[End] = ()) -> Together:
    """Follow every part of a matched set through the ledger.

    Args:
        entries: Movements in the order they were written; those of other kinds may be left out.
        sets: The positions that belong to a matched set.
        empty: Positions that carry nothing and of which the ledger knows nothing.
    """
    found = Together(sets, dict.fromkeys(empty))
    seen: set[str] = set()
    for number, entry in enumerate(entries):
        if entry.source.type == "machine":
            found.take_off(entry.source, entry.lot)
        if entry.target.type == "machine":
            found.put_in(entry.lot, entry.target, number)
        if entry.source.type == "lot" and entry.lot not in seen and entry.source.name in found.lots:
            found.lots[entry.lot] = found.lots[entry.source.name]
        seen.add(entry.lot)
    return found


def elsewhere(
    found: Together, part: Part | None, loose: Mapping[str, str], here: End | None
) -> Iterator[tuple[str, str, End, Part]]:
    """Yield what ran with a part and is not where it is.

    Args:
        found: Who ran with whom.
        part: The part.
        loose: ``{lot: its place}`` of the lots that hold anything.
        here: Where the part is or is going to; a machine counts as one place. None when it leaves altogether.

    Yields:
        (set, lot or "", where, part), in order of set and part; parts that are gone are left out.
    """
    for name, others in sorted(found.ran_with(part).items()):
        for other in sorted(others):
            at = found.where(other, loose)
            if at is not None and (here is None or _room(at[1]) != _room(here)):
                yield name, *at, other


def _room(end: End) -> tuple[str, str]:
    return end.type, end.name
