"""Shelf sessions: part after part into one bin, each booked once however often its form arrives.

Every add carries a token of its own making. The token is kept beside the batch, in the same transaction, so a double
press, a retry after a lost answer, or a page opened again never books a part twice.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Batch, ShelfAdd
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import Conflict, InvalidInput
from stash.fit.claims import part_of_lot
from stash.fit.facts import Lot
from stash.plan.gaps import fills
from stash.plan.usable import condition_refusal
from stash.services import history
from stash.services.arrivals import enter
from stash.services.fits import Fill
from stash.services.gaps import judge
from stash.services.uses import models_by_verdict

_TOKEN = re.compile(r"[A-Za-z0-9_-]{8,64}")


@dataclass(frozen=True, slots=True)
class Booked:
    """What became of an add.

    Args:
        token: Its token.
        lot: The lot's code; "" where the part was taken back before it arrived.
        again: It had been booked before; nothing was written this time.
    """

    token: str
    lot: str
    again: bool = False


@dataclass(frozen=True, slots=True)
class Added:
    """One part of a shelf session.

    Args:
        token: The token of its add.
        lot: The lot as it is now.
        taken_back: Whether its add was undone.
    """

    token: str
    lot: Lot
    taken_back: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a part just put away is good for.

    Args:
        lot: The lot.
        verdict: The best verdict it has on any model, "unknown" where nothing is known.
        models: The models it has that verdict on.
        fills: Gaps it fills, best verdict first.
        refused: Why it fills nothing as it is, although it would fit: its condition; "" for no reason.
        stopped: Models it must not run on for its speed.
    """

    lot: Lot
    verdict: str
    models: tuple[str, ...]
    fills: tuple[Fill, ...]
    refused: str
    stopped: tuple[str, ...]


def book(
    store: Store,
    sitting: str,
    token: str,
    cells: Mapping[str, str],
    measures: Mapping[str, str] | None = None,
    *,
    who: str,
) -> Booked:
    """Put a part on the shelf, once for each token.

    Args:
        store: The database.
        sitting: The shelf session.
        token: Made with the form; 8 to 64 letters, digits, dashes or underscores.
        cells: ``{column of lots: cell text}``.
        measures: ``{measure: value text}``; empty texts are left out.
        who: Who does it.

    Raises:
        InvalidInput: A cell is wrong; carries every problem. Nothing is kept, so the same token may come mended.
        Conflict: The token was used for something else.
    """
    _check(sitting, token)
    digest = _digest(cells, measures or {})

    def act(work: Work) -> Booked:
        known = work.session.get(ShelfAdd, token)
        if known is not None:
            return _again(known, digest)
        done = enter(work, "lots", cells, measures)
        lot = done.codes[0]
        work.session.add(ShelfAdd(token=token, sitting=sitting, digest=digest, lot=lot, batch=work.batch))
        work.session.flush()
        return Booked(token, lot)

    try:
        return store.write(who, "received", act)
    except Conflict:
        with store.reading() as session:  # the same form twice at one moment: the other one was first
            known = session.get(ShelfAdd, token)
        if known is None:
            raise
        return _again(known, digest)


def take_back(store: Store, sitting: str, token: str, *, who: str) -> str:
    """Undo an add; one that has not arrived yet will not be booked when it does.

    Returns:
        One sentence for the person.

    Raises:
        Conflict: The part was handled since; names what stands in the way.
    """
    _check(sitting, token)

    def act(work: Work) -> int | None:
        known = work.session.get(ShelfAdd, token)
        if known is None:
            work.session.add(ShelfAdd(token=token, sitting=sitting, digest="", lot=None, batch=None))
        return known.batch if known else None

    batch = store.write(who, "taken back", act)
    if batch is not None:
        with store.reading() as session:
            undone = _undone(session, [batch])
        if not undone:
            history.undo(store, batch, who=who)
    return "Taken back. Nothing of it is on the shelf."


def added(store: Store, sitting: str) -> tuple[Added, ...]:
    """Return the parts of a shelf session, newest first."""
    with store.reading() as session:
        query = select(ShelfAdd).where(ShelfAdd.sitting == sitting, ShelfAdd.batch.is_not(None))
        rows = session.execute(query.order_by(ShelfAdd.batch.desc())).scalars().all()
        undone = _undone(session, [row.batch for row in rows if row.batch])
    lots = store.stock().lots
    found = ((row, lots.get(row.lot or "")) for row in rows)
    return tuple(Added(row.token, lot, row.batch in undone) for row, lot in found if lot is not None)


def latest(store: Store, who: str) -> tuple[str, Lot] | None:
    """Return a person's last shelf session and the lot it put away last; None for none."""
    with store.reading() as session:
        query = (
            select(ShelfAdd)
            .join(Batch, Batch.id == ShelfAdd.batch)
            .where(Batch.who == who)
            .order_by(ShelfAdd.batch.desc())
            .limit(1)
        )
        row = session.execute(query).scalars().first()
    lot = store.stock().lots.get(row.lot or "") if row else None
    return (row.sitting, lot) if row and lot else None


def outcome(store: Store, lot: Lot) -> Outcome:
    """Tell what a loose part is good for: the best verdict with its models, and the gaps it fills."""
    catalogue, referee = store.catalogue(), judge(store)
    models, stopped = models_by_verdict(catalogue, referee, part_of_lot(catalogue, lot))
    verdict = next(iter(models), "unknown")
    refused = condition_refusal(catalogue.kind.get(lot.kind), lot.condition, lot.checked)
    filled = () if refused else fills(catalogue, store.stock(), lot, referee)
    return Outcome(lot, verdict, models.get(verdict, ()), tuple(Fill(*each) for each in filled), refused, stopped)


def _check(sitting: str, token: str) -> None:
    for text in (sitting, token):
        if not _TOKEN.fullmatch(text):
            raise InvalidInput("The form says not which part it is for", "Open the shelf page again, and add it there.")


def _again(known: ShelfAdd, digest: str) -> Booked:
    if known.digest and known.digest != digest:
        raise Conflict(
            "This form was sent before and said something else then, which is on the shelf",
            "If this is another part, add it once more; if you meant to change that one, edit it.",
        )
    return Booked(known.token, known.lot or "", again=True)


def _digest(cells: Mapping[str, str], measures: Mapping[str, str]) -> str:
    said = [sorted((name, text.strip()) for name, text in each.items() if text.strip()) for each in (cells, measures)]
    return hashlib.sha256(json.dumps(said, ensure_ascii=False).encode()).hexdigest()


def _undone(session: Session, batches: Iterable[int]) -> set[int]:
    """Return the batches that are undone, an undo that was itself undone not counting."""
    wanted = list(batches)
    if not wanted:
        return set()
    rows = session.execute(select(Batch).where(Batch.undoes.in_(wanted))).scalars().all()
    again = _undone(session, [row.id for row in rows])
    return {row.undoes for row in rows if row.undoes is not None and row.id not in again}
