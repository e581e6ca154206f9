"""Stock-taking bin by bin: what is expected, what was found, which bin waits longest."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from stash.db.models import Place
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput, NotFound
from stash.kernel.codes import grouped, require_code
from stash.ledger.sampling import bins_to_count
from stash.plan.facts import Place as PlaceFacts
from stash.services.handling import Done, done, lot_row
from stash.services.lots import count_lot
from stash.services.titles import place_path


@dataclass(frozen=True, slots=True)
class Waiting:
    """A bin that holds something, and when it was last counted ("" = never)."""

    place: PlaceFacts
    path: str
    lots: int
    counted_on: str


def longest_uncounted(store: Store) -> tuple[Waiting, ...]:
    """Return the places that hold lots, longest uncounted first, never counted before all others."""
    stock = store.stock()
    held: dict[str, int] = {}
    for lot in stock.lots.values():
        if lot.quantity and lot.place:
            held[lot.place] = held.get(lot.place, 0) + 1
    rows = [
        Waiting(stock.places[code], place_path(stock, code), count, stock.places[code].counted_on)
        for code, count in held.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.counted_on, row.path, row.place.code)))


def sample(store: Store, wrong_share: float, confidence: float = 0.95) -> tuple[Waiting, ...]:
    """Return the bins to count now so that, if all are right, at most a share of all bins is wrong.

    Args:
        store: The database.
        wrong_share: The share one can live with, between 0 and 1, such as 0.05.
        confidence: How sure to be.

    Raises:
        InvalidInput: A share or confidence that is none.
    """
    if not 0 <= wrong_share < 1 or not 0 < confidence < 1:
        raise InvalidInput("A share and a confidence lie between 0 and 1", "Give them like 0.05 and 0.95.")
    rows = longest_uncounted(store)
    return rows[: bins_to_count(len(rows), int(wrong_share * len(rows)), confidence)]


def count_place(
    store: Store,
    place: str,
    found: Mapping[str, int],
    *,
    who: str,
    on: dt.date,
    looked: Collection[str] = (),
) -> Done:
    """Enter the count of a whole bin in one go.

    Args:
        store: The database.
        place: The bin's code.
        found: ``{lot code: how many were there}``; a lot of another place was misfiled and is moved here only by
            ``lots.move``, so it is refused.
        who: Who counted.
        on: The day.
        looked: Lots that were looked for elsewhere and not found; only these are counted down to nothing.

    Raises:
        NotFound: No such place.
        InvalidInput: A lot that does not belong here, or a negative count.
        Conflict: A count of nothing for a lot that was not looked for; nothing was written.
    """

    def act(work: Work) -> Done:
        row = work.session.get(Place, str(require_code(place)))
        if row is None:
            raise NotFound(f"No place has the code {place}", "Scan it again, or look for it.")
        differences = 0
        for code, quantity in found.items():
            lot = lot_row(work.session, code)
            if lot.place != row.code:
                raise InvalidInput(
                    f"Lot {grouped(lot.code)} does not belong in {row.name}",
                    "Move it here if it shall stay, or put it back where it belongs, then count again.",
                )
            if quantity < 0:
                raise InvalidInput(f"{quantity} is no count of {grouped(lot.code)}", "Give 0 or more.")
            differences += bool(count_lot(work, lot, quantity, on, looked=lot.code in looked))
        row.counted_on = on
        told = "all as expected" if not differences else f"{differences} differ"
        return done(work, f"{row.name} counted: {len(found)} lots, {told}.")

    return store.write(who, "counted a bin", act)
