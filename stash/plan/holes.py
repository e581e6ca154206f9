"""Where something is missing: owned machines with empty positions, wanted models not owned complete."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue, Position
from stash.fit.facts import Machine
from stash.plan.facts import Stock

KEPT_STATES = frozenset({"runner", "display", "project", "loaned"})
"""Machines whose holes are gaps; a donor's are not."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A gap before anything is looked for: what it is and which positions are short."""

    key: str
    model: str
    machine: Machine | None
    positions: tuple[Position, ...]


def holes(catalogue: Catalogue, stock: Stock) -> Iterator[Hole]:
    """Yield every gap without looking for parts: machines in order of code, then wanted models in order of key."""
    examples: dict[str, list[tuple[int, str, Hole]]] = {}
    for machine in sorted(stock.machines.values(), key=lambda row: row.code):
        if machine.state not in KEPT_STATES:
            continue
        empty = _empty(catalogue, machine, frozenset({"missing", "faulty"}))
        if empty:
            yield Hole(f"machine:{machine.code}", machine.model, machine, empty)
        incomplete = _empty(catalogue, machine, frozenset({"missing", "faulty", "unknown"}))
        hole = Hole(f"wanted:{machine.model}", machine.model, machine, incomplete)
        examples.setdefault(machine.model, []).append((len(incomplete), machine.code, hole))
    for model in sorted({row.model for row in stock.wanted}):
        if model not in examples:
            yield Hole(f"wanted:{model}", model, None, tuple(catalogue.positions[model].values()))
            continue
        fewest, _, hole = min(examples[model], key=lambda example: example[:2])
        if fewest:
            yield hole


def _empty(catalogue: Catalogue, machine: Machine, states: frozenset[str]) -> tuple[Position, ...]:
    return tuple(
        position
        for name, position in catalogue.positions[machine.model].items()
        if name in machine.fitted and machine.fitted[name].state in states
    )


def carried(catalogue: Catalogue, machine: Machine | None) -> frozenset[str]:
    """Return the designs a machine is known to carry, and the kinds present on it."""
    if machine is None:
        return frozenset()
    sheet = catalogue.positions[machine.model]
    gone = {name for name, row in machine.fitted.items() if row.state != "present"}
    kinds = {position.kind for name, position in sheet.items() if name not in gone}
    return frozenset(kinds | {row.design for name, row in machine.fitted.items() if name not in gone and row.design})
