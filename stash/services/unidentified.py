"""Loose parts nobody has identified, and what the catalogue makes of them by now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stash.db.store import Store
from stash.errors import InvalidInput
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Lot
from stash.fit.intervals import Interval, Known
from stash.fit.wording import design_name
from stash.kernel.exact import from_micro
from stash.key.answers import Answer
from stash.key.identify import Identification
from stash.key.identify import identify as decide
from stash.services.standard_parts import seen
from stash.services.titles import kind_name

_GUESS = 0.5
"""How likely a design must be to be called a guess. Source: project decision."""


@dataclass(frozen=True, slots=True)
class Unidentified:
    """A loose lot nobody has identified, and what the catalogue makes of it by now.

    Args:
        lot: The lot.
        kind: Its kind's name.
        found: The identification from its own measures and what its number says; None when nothing is known of it.
        by_number: The design its number names as a standard part, "" when none.
        problem: Why it cannot be weighed, "" when it can.
    """

    lot: Lot
    kind: str
    found: Identification | None
    by_number: str = ""
    problem: str = ""

    @property
    def design(self) -> str:
        """The best guess: what its number names, else the likeliest design if it is more likely than not; or ""."""
        if self.by_number:
            return self.by_number
        best = self.found.ranking[0] if self.found and self.found.ranking else ("", 0.0)
        return best[0] if best[1] > _GUESS else ""

    @property
    def probability(self) -> float | None:
        """How likely the best guess is; None where its number names it, or nothing is known."""
        return None if self.by_number or not self.found or not self.design else self.found.ranking[0][1]

    @property
    def rank(self) -> tuple[int, float, str]:
        """Sorts what is settled first, then what is likeliest, then what nothing is known of."""
        settled = bool(self.by_number) or (self.found is not None and self.found.stop == "clear")
        step = 0 if settled else 1 if self.design else 2 if self.found else 3
        return (step, -(self.probability or 0.0), self.lot.code)

    def as_dict(self, catalogue: Catalogue) -> dict[str, Any]:
        """The lot and its best guess as plain data."""
        ask = self.found.next if self.found else None
        return {
            "lot": self.lot.code,
            "kind": self.lot.kind,
            "design": self.design or None,
            "name": design_name(catalogue, self.design) if self.design else None,
            "probability": self.probability,
            "by_number": bool(self.by_number),
            "none_of_these": self.found.none_of_these if self.found else None,
            "stop": self.found.stop if self.found else None,
            "next": {"measure": ask.measure, "bits": ask.bits, "effort_s": ask.effort_s} if ask else None,
            "said": self.problem or (self.found.said if self.found else ""),
        }


def unidentified(store: Store) -> tuple[Unidentified, ...]:
    """Run the identification again over every lot nobody has identified.

    Returns:
        What is settled first, then what is likeliest, then what nothing is known of.
    """
    catalogue, stock = store.catalogue(), store.stock()

    def run() -> tuple[Unidentified, ...]:
        return tuple(sorted((_weigh(catalogue, lot) for lot in stock.unidentified), key=lambda each: each.rank))

    return store.derived("unidentified", (catalogue, stock), run)


def answers_of(catalogue: Catalogue, lot: Lot) -> dict[str, Answer]:
    """Return what is known of a lot as answers: what its number says as a standard part, and what was measured."""
    number = seen(catalogue, lot.number_seen, lot.kind) if lot.number_seen else None
    said: dict[str, Answer] = dict(number.cells) if number else {}
    return said | _plain(lot.values)


def _weigh(catalogue: Catalogue, lot: Lot) -> Unidentified:
    number = seen(catalogue, lot.number_seen, lot.kind) if lot.number_seen else None
    answers = answers_of(catalogue, lot)
    name = kind_name(catalogue, lot.kind)
    try:
        found = decide(catalogue, lot.kind, answers) if answers else None
    except InvalidInput as error:
        return Unidentified(lot, name, None, problem=error.message)
    return Unidentified(lot, name, found, number.design if number else "")


def _plain(values: Mapping[str, Known]) -> dict[str, Answer]:
    return {
        key: from_micro(value.low_u + value.high_u) / 2 if isinstance(value, Interval) else value
        for key, value in values.items()
    }
