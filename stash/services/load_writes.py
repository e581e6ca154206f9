"""Last step of a load: write what differs, and let the ledger tell how the stock came to be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from stash.db.unit import Work
from stash.kernel.ends import End, outside_end, place_end
from stash.services.load_entries import Entry, Incoming

Step = tuple[str, int, End, End]
"""A movement: (lot code, quantity, from, to)."""


@dataclass(frozen=True, slots=True)
class Counts:
    """What a load does to one table."""

    added: int = 0
    changed: int = 0
    same: int = 0


def count(entries: Iterable[Entry]) -> Counts:
    """Count the rows that are new, different and the same."""
    added = changed = same = 0
    for entry in entries:
        if entry.old is None:
            added += 1
        elif entry.changes:
            changed += 1
        else:
            same += 1
    return Counts(added, changed, same)


def write(work: Work, incoming: Incoming, *, ledger: bool = True) -> None:
    """Write the rows that are new or different.

    Args:
        work: The unit of work.
        incoming: Merged and found sound.
        ledger: Enter movements for lots; not where the ledger itself comes along, as in an archive.
    """
    lots = list(incoming.entries.get("lots", {}).values())
    for table, entries in incoming.entries.items():
        work.insert(table, [entry.row for entry in entries.values() if entry.old is None])
        work.update(
            table, [(entry.old, entry.row) for entry in entries.values() if entry.old is not None and entry.changes]
        )
    if ledger:
        work.move(step for entry in lots for step in lot_movements(entry))


def lot_movements(entry: Entry) -> Iterator[Step]:
    """The movements that make a stored lot what its row says: first to its place, then the count set right."""
    code, quantity, place = entry.row["code"], entry.row["quantity"], place_end(entry.row["place"])
    if entry.old is None:
        if quantity:
            yield code, quantity, outside_end("received"), place
        return
    before = entry.old["quantity"]
    if place != place_end(entry.old["place"]) and before:
        yield code, before, place_end(entry.old["place"]), place
    if quantity > before:
        yield code, quantity - before, outside_end("found"), place
    elif quantity < before:
        yield code, before - quantity, place, outside_end("lost")
