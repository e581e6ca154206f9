"""Which design is this thing: the answer so far, the next question, and from there into a bin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stash.db.store import Store
from stash.fit.facts import Measure
from stash.fit.intervals import Interval, Known
from stash.kernel.exact import from_micro
from stash.key.answers import Answer
from stash.key.identify import Identification
from stash.key.identify import identify as decide
from stash.key.looks import Look, first_looks
from stash.services.titles import kind_name, lot_title


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that can be asked of a kind, with what was answered so far."""

    measure: Measure
    answer: str


def identify(
    store: Store, kind: str, readings: Mapping[str, Answer], tells: Mapping[str, Answer] | None = None
) -> Identification:
    """Tell which design of a kind a thing is, as far as the answers go, and what to ask next.

    Args:
        store: The database.
        kind: Kind key.
        readings: ``{measure: what was measured, as typed}``.
        tells: ``{tell: what was seen}``.

    Raises:
        NotFound: There is no such kind.
        InvalidInput: An answer to something the kind is not asked, or one it cannot have.
    """
    return decide(store.catalogue(), kind, readings, tells)


def identification_dict(found: Identification) -> dict[str, Any]:
    """Return an identification as plain data."""
    ask = found.next
    return {
        "kind": found.kind,
        "ranking": [{"design": design, "probability": probability} for design, probability in found.ranking],
        "none_of_these": found.none_of_these,
        "next": {"measure": ask.measure, "bits": ask.bits, "effort_s": ask.effort_s} if ask else None,
        "stop": found.stop,
        "said": found.said,
        "why": {
            design: [{"measure": each.measure, "bits": each.bits, "text": each.text} for each in said]
            for design, said in found.why.items()
        },
        "tie_breaks": [each.text for each in found.tie_breaks],
        "notes": list(found.notes),
    }


def asked(store: Store, kind: str, answers: Mapping[str, str]) -> tuple[Asked, ...]:
    """Return everything a kind can be asked, quickest first, with the answers so far."""
    measures = [row for row in store.catalogue().measures if row.kind == kind]
    ordered = sorted(measures, key=lambda row: (row.effort_s is None, row.effort_s or 0, row.key))
    return tuple(Asked(measure, answers.get(measure.key, "")) for measure in ordered)


def looks(store: Store, answers: Mapping[str, str]) -> tuple[Look, ...]:
    """Rank the kinds a thing could be, by what was seen and measured of it."""
    return first_looks(store.catalogue(), answers)


@dataclass(frozen=True, slots=True)
class Unidentified:
    """A loose lot nobody has identified, and what the catalogue makes of it by now.

    Args:
        lot: Lot code.
        title: What it is called.
        kind: Its kind's name.
        found: The identification from its own measures; None when nothing was measured on it.
    """

    lot: str
    title: str
    kind: str
    found: Identification | None


def unidentified(store: Store) -> tuple[Unidentified, ...]:
    """Run the identification again over every lot nobody has identified, in order of code."""
    catalogue, stock = store.catalogue(), store.stock()
    rows = sorted((lot for lot in stock.lots.values() if lot.quantity and not lot.design), key=lambda lot: lot.code)
    return tuple(
        Unidentified(
            lot.code,
            lot_title(catalogue, lot),
            kind_name(catalogue, lot.kind),
            decide(catalogue, lot.kind, _answers(lot.values)) if lot.values else None,
        )
        for lot in rows
    )


def _answers(values: Mapping[str, Known]) -> dict[str, Answer]:
    return {
        key: from_micro(value.low_u + value.high_u) / 2 if isinstance(value, Interval) else value
        for key, value in values.items()
    }
