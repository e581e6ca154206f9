"""Which design is this thing: the answer so far, the next question, and from there into a bin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from stash.db.store import Store
from stash.fit.facts import Measure
from stash.key.answers import Answer
from stash.key.identify import Identification
from stash.key.identify import identify as decide
from stash.key.looks import Look, first_looks


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


def first_questions(store: Store) -> tuple[Measure, ...]:
    """Return what can be asked of a thing before its kind is known: measures that kinds share, most shared first.

    A measure that kinds name differently has the shortest name, and every word that one of them can have.
    """
    groups: dict[str, list[Measure]] = {}
    for row in store.catalogue().measures:
        groups.setdefault(row.key, []).append(row)
    shared = [rows for rows in groups.values() if len(rows) > 1 and len({row.type for row in rows}) == 1]
    shared.sort(key=lambda rows: (-len(rows), rows[0].key))
    return tuple(_merged(rows) for rows in shared)


def _merged(rows: Sequence[Measure]) -> Measure:
    name = min((row.name for row in rows), key=lambda text: (len(text), text))
    words = tuple(dict.fromkeys(word for row in rows for word in row.choices))
    hows = {row.how for row in rows}
    return replace(rows[0], name=name, choices=words, how=rows[0].how if len(hows) == 1 else "")


def looks(store: Store, answers: Mapping[str, str]) -> tuple[Look, ...]:
    """Rank the kinds a thing could be, by what was seen and measured of it."""
    return first_looks(store.catalogue(), answers)
