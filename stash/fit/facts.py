"""The facts a verdict is made from: frozen, plain, and complete.

A ``Catalogue`` is what is true of models and designs for everybody; a ``Machine`` or ``Lot`` is what is true
of one thing in the workshop. Whoever builds them (``stash.db.snapshot``, or a test) has checked the references.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from stash.fit.intervals import Known
from stash.kernel.years import ALL_YEARS, Years

NO_VALUES: Mapping[str, Known] = {}


@dataclass(frozen=True, slots=True)
class Maker:
    """A brand."""

    key: str
    name: str


@dataclass(frozen=True, slots=True)
class Family:
    """A platform shared by sister models."""

    key: str
    name: str


@dataclass(frozen=True, slots=True)
class Generation:
    """A design era inside a family; ordinal 1 is the earliest."""

    key: str
    family: str
    ordinal: int
    name: str
    years: Years = ALL_YEARS
    tell: str = ""


@dataclass(frozen=True, slots=True)
class Model:
    """One model of a maker; sizes in millionths of a millimetre, speed in millionths of a revolution a minute."""

    key: str
    name: str
    maker: str
    generation: str
    years: Years = ALL_YEARS
    cylinders: int | None = None
    bore_u: int | None = None
    stroke_u: int | None = None
    rated_rpm_u: int | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """A sort of part; ``matched_sets`` names the sets it wears into on a machine, which stay together."""

    key: str
    name: str
    system: str = ""
    safety_critical: bool = False
    caution: str = ""
    matched_sets: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Measure:
    """A measured attribute or a visible tell of a kind; uncertainty in millionths of its unit, k = 1."""

    kind: str
    key: str
    name: str
    type: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    uncertainty_u: int | None = None
    wear: str = ""
    effort_s: float | None = None
    how: str = ""


@dataclass(frozen=True, slots=True)
class Design:
    """One pattern of a kind.

    Args:
        key: Its key.
        kind: Its kind's key.
        name: What people call it.
        maker: Maker key or "".
        generation: Generation key or "".
        price_minor: What one costs to buy, minor units, None when not priced.
        values: ``{measure key: value}``; missing = not measured.
    """

    key: str
    kind: str
    name: str = ""
    maker: str = ""
    generation: str = ""
    price_minor: int | None = None
    values: Mapping[str, Known] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class SamePart:
    """Designs that a standard makes one part, whoever made them.

    Args:
        name: The standard's designation.
        source: The standard.
        designs: Their keys; two at least.
    """

    name: str
    source: str
    designs: frozenset[str]


@dataclass(frozen=True, slots=True)
class Number:
    """A part number of a maker; ``replaced_by`` is a number of the same maker."""

    number: str
    maker: str
    design: str = ""
    replaced_by: str = ""


@dataclass(frozen=True, slots=True)
class PositionRow:
    """A row of ``positions``: of a generation or of a model; quantity 0 removes it."""

    generation: str
    model: str
    position: str
    kind: str
    quantity: int = 1


@dataclass(frozen=True, slots=True)
class CameOn:
    """A row of ``came_on``: what a position left the factory with."""

    design: str
    position: str
    generation: str = ""
    model: str = ""
    years: Years = ALL_YEARS


@dataclass(frozen=True, slots=True)
class Mate:
    """Two kinds that touch; a gap is b minus a, bounds in millionths of the unit."""

    key: str
    name: str
    kind_a: str
    measure_a: str
    kind_b: str
    measure_b: str
    relation: str
    low_u: int | None = None
    high_u: int | None = None
    position_a: str = ""
    position_b: str = ""
    evidence: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """A claim someone makes; empty columns do not restrict it.

    ``companions`` are items, each a tuple of alternatives; an alternative is a design key or a kind key.
    """

    key: str
    verdict: str
    evidence: str
    design: str = ""
    kind: str = ""
    part_maker: str = ""
    part_generation: str = ""
    model: str = ""
    generation: str = ""
    family: str = ""
    maker: str = ""
    position: str = ""
    machine: str = ""
    years: Years = ALL_YEARS
    companions: tuple[tuple[str, ...], ...] = ()
    work: str = ""
    minutes: int | None = None
    because_mate: str = ""
    reason: str = ""
    tell: str = ""
    source: str = ""
    said_on: str = ""


@dataclass(frozen=True, slots=True)
class Fitted:
    """What a machine carries at a position; design "" = not known which.

    ``values`` are measured on the part itself and override its design's.
    """

    state: str
    design: str = ""
    condition: str = ""
    values: Mapping[str, Known] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Machine:
    """One owned machine; a position not in ``fitted`` is assumed stock."""

    code: str
    model: str
    year: int | None = None
    state: str = "runner"
    fitted: Mapping[str, Fitted] = field(default_factory=dict, hash=False)
    place: str = ""
    value_u: int | None = None
    serial: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Lot:
    """Identical loose parts; ``values`` are measured on them and override the design's; ``about``: counted roughly."""

    code: str
    kind: str
    design: str = ""
    quantity: int = 1
    condition: str = "unknown"
    checked: str = ""
    place: str = ""
    values: Mapping[str, Known] = field(default_factory=dict, hash=False)
    from_machine: str = ""
    from_position: str = ""
    number_seen: str = ""
    note: str = ""
    counted_on: str = ""
    about: bool = False
