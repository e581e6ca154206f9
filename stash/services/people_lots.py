"""The loose parts as one flat sheet: what each is, where it lies, what it fits and which gap it fills."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import cached_property

from sqlalchemy import select

from stash.db.models import ROWS
from stash.db.store import Store
from stash.exchange.flat.listing import Listing
from stash.fit.claims import part_of_lot
from stash.fit.facts import Lot
from stash.fit.wording import VERDICT_WORDS
from stash.kernel.tables import VERDICTS
from stash.plan.candidates import Candidate
from stash.plan.gaps import Gap
from stash.plan.spots import part_signature
from stash.services.gaps import judge
from stash.services.home import gap_title
from stash.services.people_columns import Column, Wish, column, listed
from stash.services.titles import kind_name, lot_title, machine_title, model_title, place_path, value_text
from stash.services.uses import gaps_filled, models_by_verdict

STOPPED = "too_fast"
Models = dict[str, tuple[str, ...]]
"""``{verdict, or STOPPED: what its models are called}``."""


@dataclass(frozen=True, slots=True)
class _Bought:
    on: dt.date | None
    paid: int | None


def lots_list(store: Store, wish: Wish | None = None) -> Listing:
    """Return the list of lots in order of place and name.

    Args:
        store: The database.
        wish: Columns, filters, and whether empty lots are listed too.
    """
    asked = wish or Wish()
    facts = _Facts(store)
    lots = (lot for lot in facts.stock.lots.values() if lot.quantity or asked.all)
    ordered = sorted(lots, key=lambda lot: (facts.place(lot), lot_title(facts.catalogue, lot), lot.code))
    return listed("Loose parts", _columns(facts), ordered, asked)


def _columns(facts: _Facts) -> list[Column[Lot]]:
    models = [
        column(verdict, VERDICT_WORDS[verdict], facts.models(verdict), "texts", 26, usual=verdict != "unknown")
        for verdict in VERDICTS
        if verdict != "wont_fit"
    ]
    return [
        column("code", "stash code", lambda lot: lot.code, wide=10),
        column("what", "what", lambda lot: lot_title(facts.catalogue, lot), wide=30),
        column("kind", "kind", lambda lot: kind_name(facts.catalogue, lot.kind), wide=18),
        column("design", "design", lambda lot: lot.design, wide=18, usual=False),
        column("numbers", "numbers of it", facts.numbers, "texts", 24),
        column("number", "number on it", lambda lot: lot.number_seen, wide=16),
        column("quantity", "quantity", lambda lot: lot.quantity, "whole", 9, total=True),
        column("roughly", "counted", lambda lot: "about" if lot.about and lot.quantity else "", wide=9),
        column("condition", "condition", lambda lot: lot.condition.replace("_", " "), wide=12),
        column("checked", "checked", lambda lot: lot.checked, wide=10, usual=False),
        column("place", "place", facts.place, wide=26),
        column("measures", "measured", facts.measures, "texts", 30),
        *models,
        column(STOPPED, "runs too fast for", facts.stopped, "texts", 26),
        column("fills", "fills the gap", facts.fills, "texts", 34),
        column("from", "came off", facts.origin, wide=20, usual=False),
        column("bought", "bought on", facts.bought, "date", 11, usual=False),
        column("paid", "paid", facts.paid, "money", 10, usual=False, total=True),
        column("note", "note", lambda lot: lot.note, wide=40),
    ]


class _Facts:
    """What the columns are worked out from, each thing once and only when it is wanted."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.catalogue, self.stock = store.catalogue(), store.stock()
        self._places: dict[str, str] = {}
        self._models: dict[Hashable, Models] = {}

    def place(self, lot: Lot) -> str:
        if lot.place not in self._places:
            self._places[lot.place] = place_path(self.stock, lot.place)
        return self._places[lot.place]

    def numbers(self, lot: Lot) -> tuple[str, ...]:
        rows = self.catalogue.numbers_of.get(lot.design, ()) if lot.design else ()
        return tuple(f"{self.catalogue.maker[row.maker].name} {row.number}" for row in rows)

    def measures(self, lot: Lot) -> tuple[str, ...]:
        return tuple(value_text(self.catalogue, lot.kind, key, value) for key, value in sorted(lot.values.items()))

    def origin(self, lot: Lot) -> str:
        machine = self.stock.machines.get(lot.from_machine)
        said = f"{machine_title(self.catalogue, machine)} ({machine.code})" if machine else lot.from_machine
        return f"{said}: {lot.from_position}" if lot.from_position else said

    def models(self, verdict: str) -> Callable[[Lot], tuple[str, ...]]:
        """Return what finds the models a lot has a verdict for."""
        return lambda lot: self._judged(lot).get(verdict, ())

    def stopped(self, lot: Lot) -> tuple[str, ...]:
        return self._judged(lot).get(STOPPED, ())

    def _judged(self, lot: Lot) -> Models:
        part = part_of_lot(self.catalogue, lot)
        signature = part_signature(part)
        if signature not in self._models:
            groups, stopped = models_by_verdict(self.catalogue, judge(self._store), part)
            self._models[signature] = {
                said: tuple(model_title(self.catalogue, model) for model in models)
                for said, models in {**groups, STOPPED: stopped}.items()
            }
        return self._models[signature]

    @cached_property
    def _fills(self) -> dict[str, tuple[str, ...]]:
        return {lot: tuple(self._filled(*each) for each in found) for lot, found in gaps_filled(self._store).items()}

    def _filled(self, gap: Gap, position: str, candidate: Candidate) -> str:
        said = f"{gap_title(self.catalogue, self.stock, gap)}: {position}, {VERDICT_WORDS[candidate.verdict]}"
        return said + (f" ({candidate.why_not})" if candidate.why_not else "")

    def fills(self, lot: Lot) -> tuple[str, ...]:
        return self._fills.get(lot.code, ())

    @cached_property
    def _bought(self) -> dict[str, _Bought]:
        sql = ROWS["lots"].__table__
        with self._store.reading() as session:
            rows = session.execute(select(sql.c.code, sql.c.acquired_on, sql.c.paid))
            return {row.code: _Bought(row.acquired_on, row.paid) for row in rows}

    def bought(self, lot: Lot) -> dt.date | None:
        known = self._bought.get(lot.code)
        return known.on if known else None

    def paid(self, lot: Lot) -> int | None:
        known = self._bought.get(lot.code)
        return known.paid if known else None
