"""Which bins to count: the one that waits longest, or a random sample that says something about all of them.

The sample that is being counted is kept among the settings, so that it is the same on every phone and travels in the
archive. Only a sample drawn at random carries the claim; the longest uncounted would be no sample.
"""

from __future__ import annotations

import datetime as dt
import json
import secrets
from dataclasses import dataclass

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from stash.db.models import Batch, Movement, Setting
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput
from stash.kernel.ends import parse_end
from stash.ledger.sampling import bins_to_count, wrong_at_most
from stash.plan.facts import Place, Stock
from stash.services.titles import place_path

_KEY = "count_plan"
_COUNTS = ("counted", "counted a bin", "found misfiled")


@dataclass(frozen=True, slots=True)
class Waiting:
    """A bin that holds something, and when it was last counted ("" = never)."""

    place: Place
    path: str
    lots: int
    counted_on: str


@dataclass(frozen=True, slots=True)
class Sample:
    """Bins drawn at random, and how far their count is.

    Args:
        drawn_on: ISO date.
        of: How many bins held something then.
        share: The claim to be able to make: at most this share of all is wrong.
        confidence: How sure to be of it.
        left: Bins still to count.
        right: Bins counted since, where all was as expected.
        wrong: Bins counted since, where something was not.
        at_most: How many of all bins are wrong at most, as sure as asked; None until all are counted.
    """

    drawn_on: str
    of: int
    share: float
    confidence: float
    left: tuple[Waiting, ...]
    right: tuple[Waiting, ...]
    wrong: tuple[Waiting, ...]
    at_most: int | None


def longest_uncounted(store: Store) -> tuple[Waiting, ...]:
    """Return the places that hold lots, longest uncounted first, never counted before all others."""
    stock = store.stock()
    return store.derived("longest uncounted", stock, lambda: _in_turn(stock))


def bins_needed(store: Store, share: float, confidence: float) -> int:
    """Return how many bins to count so that, if all are right, at most a share of all bins is wrong.

    Args:
        store: The database.
        share: The share one can live with, such as 0.05.
        confidence: How sure to be, such as 0.95.

    Raises:
        InvalidInput: A share or confidence that is none.
    """
    if not 0 <= share < 1 or not 0 < confidence < 1:
        raise InvalidInput("A share and a confidence lie between 0 and 1", "Give them like 0.05 and 0.95.")
    bins = len(_held(store.stock()))
    return bins_to_count(bins, int(share * bins), confidence)


def draw(store: Store, share: float, confidence: float, *, who: str, on: dt.date) -> None:
    """Draw the bins to count, in place of any sample before; see ``bins_needed``."""
    wanted, held = bins_needed(store, share, confidence), sorted(_held(store.stock()))
    if not wanted:
        raise InvalidInput("No bin holds anything", "Put parts into bins first.")
    bins = sorted(secrets.SystemRandom().sample(held, wanted))
    plan = {"on": on.isoformat(), "of": len(held), "share": share, "confidence": confidence, "bins": bins}

    def act(work: Work) -> None:
        work.session.merge(Setting(key=_KEY, value=json.dumps(plan)))

    store.write(who, "drew bins to count", act)


def forget(store: Store, *, who: str) -> None:
    """Put the sample away."""

    def act(work: Work) -> None:
        kept = work.session.get(Setting, _KEY)
        if kept is not None:
            work.session.delete(kept)

    store.write(who, "put a sample away", act)


def sample(store: Store) -> Sample | None:
    """Return the sample that is being counted, and how far it is; None when none was drawn."""
    with store.reading() as session:
        kept = session.get(Setting, _KEY)
        if kept is None:
            return None
        plan = json.loads(kept.value)
        drawn_on = dt.date.fromisoformat(plan["on"])
        found_wrong = _found_wrong(session, drawn_on)
    stock = store.stock()
    held = _held(stock)
    rows = [_waiting(stock, code, held.get(code, 0)) for code in plan["bins"] if code in stock.places]
    rows.sort(key=lambda row: (row.path, row.place.code))
    left = tuple(row for row in rows if row.counted_on < plan["on"])
    wrong = tuple(row for row in rows if row not in left and row.place.code in found_wrong)
    right = tuple(row for row in rows if row not in left and row not in wrong)
    of, drawn = plan["of"], len(rows)
    at_most = None if left else wrong_at_most(max(of, drawn), drawn, len(wrong), plan["confidence"])
    return Sample(plan["on"], of, plan["share"], plan["confidence"], left, right, wrong, at_most)


def _found_wrong(session: Session, since: dt.date) -> set[str]:
    """Return the bins in which a count since a day found something missing, too much or misfiled."""
    begin = dt.datetime.combine(since, dt.time(), dt.UTC) - dt.timedelta(days=1)  # a day begins later in the west
    query = (
        select(Movement.source, Movement.target)
        .join(Batch, Batch.id == Movement.batch)
        .where(
            Batch.at >= begin,
            Batch.why.in_(_COUNTS),
            or_(Movement.source.startswith("place:"), Movement.target.startswith("place:")),
        )
    )
    ends = [parse_end(text) for pair in session.execute(query) for text in pair]
    return {end.name for end in ends if end.type == "place"}


def _held(stock: Stock) -> dict[str, int]:
    """Return ``{place: lots}`` of the places that hold loose parts."""
    return {place: len(lots) for place, lots in stock.lots_in.items() if place}


def _in_turn(stock: Stock) -> tuple[Waiting, ...]:
    rows = [_waiting(stock, code, count) for code, count in _held(stock).items()]
    return tuple(sorted(rows, key=lambda row: (row.counted_on, row.path, row.place.code)))


def _waiting(stock: Stock, code: str, lots: int) -> Waiting:
    return Waiting(stock.places[code], place_path(stock, code), lots, stock.places[code].counted_on)
