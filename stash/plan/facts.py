"""What is in the workshop, and what is to be done: the facts that gaps and plans are made from.

Frozen and plain; whoever builds them (``stash.db.snapshot``, or a test) has checked the references.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from stash.bench.law import Line
from stash.fit.facts import Lot, Machine
from stash.fit.grouping import grouped


@dataclass(frozen=True, slots=True)
class Place:
    """Anywhere things are kept; ``inside`` is the place around it, "" for none; ``counted_on`` an ISO date or ""."""

    code: str
    name: str
    inside: str = ""
    note: str = ""
    counted_on: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A model wanted for the collection; value in millionths, None = 1."""

    model: str
    value_u: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class BuildPart:
    """What the owner has already decided for a position of a build: a design, a lot, or both."""

    position: str
    design: str = ""
    lot: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Build:
    """A machine to be completed: an owned one, or a model from nothing.

    Args:
        key: Its key.
        name: What people call it.
        model: Model key; filled for a build on a machine too.
        machine: Machine code, "" for a build from nothing.
        value_u: Worth of having it done, in millionths; None = 1.
        budget_minor: Most money, minor units; None = no limit.
        status: open, held or done.
        parts: What is decided.
    """

    key: str
    name: str
    model: str
    machine: str = ""
    value_u: int | None = None
    budget_minor: int | None = None
    status: str = "open"
    parts: tuple[BuildPart, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Stock:
    """Everything owned, kept, wanted and planned; mappings are by code or key, law lines in order of displacement.

    What is derived is worked out once, on first use.
    """

    machines: Mapping[str, Machine] = field(default_factory=dict)
    lots: Mapping[str, Lot] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)
    builds: Mapping[str, Build] = field(default_factory=dict)
    wanted: tuple[Wanted, ...] = ()
    law_lines: tuple[Line, ...] = ()

    @cached_property
    def lots_in(self) -> Mapping[str, tuple[Lot, ...]]:
        """``{place: lots of which something is there}``, in order of code; "" for what is not put away."""
        return grouped((lot.place, lot) for lot in self.loose)

    @cached_property
    def lots_off(self) -> Mapping[tuple[str, str], tuple[Lot, ...]]:
        """``{(machine, position): lots that came off it of which something is left}``, in order of code."""
        return grouped(((lot.from_machine, lot.from_position), lot) for lot in self.loose if lot.from_machine)

    @cached_property
    def lots_of(self) -> Mapping[tuple[str, str], tuple[Lot, ...]]:
        """``{(kind, design): lots of which something is left}``, in order of code; "" for unidentified ones."""
        return grouped(((lot.kind, lot.design), lot) for lot in self.loose)

    @cached_property
    def kinds(self) -> frozenset[str]:
        """The kinds of all lots, used up ones too."""
        return frozenset(lot.kind for lot in self.lots.values())

    @cached_property
    def unidentified(self) -> tuple[Lot, ...]:
        """The lots of no known design of which something is left, in order of code."""
        return tuple(lot for lot in self.loose if not lot.design)

    @cached_property
    def loose(self) -> tuple[Lot, ...]:
        """The lots of which something is left, in order of code."""
        return tuple(sorted((lot for lot in self.lots.values() if lot.quantity), key=lambda lot: lot.code))
