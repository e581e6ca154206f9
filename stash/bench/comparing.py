"""A machine as built against stock: the bench sums that a blend changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from stash.bench.bearings import BEARINGS
from stash.bench.engine import (
    compression_ratio_exhaust_closed,
    compression_ratio_full_stroke,
    displacement_cm3,
    mean_piston_speed_m_s,
    peak_acceleration_m_s2,
    shaking_force_n,
)
from stash.bench.law import MOPED_CM3, Line, displacement_line
from stash.bench.rings import ring_gap_least_mm
from stash.bench.seats import USUAL_SEAT, bearing_drop_in_c
from stash.bench.sums import Sum
from stash.errors import InvalidInput

LIMIT_ABOVE_RATED = (
    "The limiter allows more than the machine is rated for: flywheel, chain, blade and clutch may burst. "
    "Blocked unless acknowledged."
)
SAME_WITHIN = 1e-6
"""Relative difference below which a sum has not changed. Source: project decision."""


@dataclass(frozen=True, slots=True)
class EngineSizes:
    """What is known of an engine; None where it is not.

    Args:
        bore_mm: Bore.
        stroke_mm: Stroke.
        cylinders: How many.
        limit_rpm: Where the limiter or module cuts.
        rated_rpm: What the machine is rated for.
        reciprocating_g: Piston, rings, pin and clips together.
        rod_centres_mm: Connecting rod between centres.
        chamber_cm3: Volume above the piston at top dead centre.
        exhaust_top_mm: Travel left when the exhaust port is closed.
        bearing: Basic designation of the main bearings, "" where it is not known.
        case_metal: What the crankcase is made of, "" where it is not known.
    """

    bore_mm: float | None = None
    stroke_mm: float | None = None
    cylinders: int = 1
    limit_rpm: float | None = None
    rated_rpm: float | None = None
    reciprocating_g: float | None = None
    rod_centres_mm: float | None = None
    chamber_cm3: float | None = None
    exhaust_top_mm: float | None = None
    bearing: str = ""
    case_metal: str = ""


@dataclass(frozen=True, slots=True)
class Compared:
    """One sum, as built and in stock.

    Args:
        key: Which sum.
        name: The same in words.
        unit: Its unit.
        now: As built; None when a size is not known.
        stock: In stock; None when a size is not known.
        note: What to mind; "" when nothing.
        danger: It must not run like this unless acknowledged.
        source: The formula and where it comes from.
        check: A worked example to check the sum by.
        caution: What to mind with this sum whether it changed or not; "" when nothing.
    """

    key: str
    name: str
    unit: str
    now: float | None
    stock: float | None
    note: str = ""
    danger: bool = False
    source: str = ""
    check: str = ""
    caution: str = ""

    @property
    def changed(self) -> bool:
        """Tell whether both are known and differ, or only one is known."""
        if self.now is None or self.stock is None:
            return self.now is not self.stock
        return abs(self.now - self.stock) > SAME_WITHIN * max(abs(self.now), abs(self.stock))

    @property
    def told(self) -> bool:
        """Tell whether a check has to say it: it is a danger, or it changed to something that is known."""
        return self.danger or (self.changed and (self.now is not None or bool(self.note)))


def compare_sums(now: EngineSizes, stock: EngineSizes, lines: tuple[Line, ...] = (MOPED_CM3,)) -> tuple[Compared, ...]:
    """Return the sums of an engine as built beside those of stock.

    Args:
        now: As built.
        stock: As it left the factory.
        lines: The lines by law that a displacement may cross.

    Returns:
        Displacement, mean piston speed at the limiter, limiter against rated speed, reciprocating mass, compression
        both ways, peak acceleration and shaking force at the limiter, least ring gap, bearing drop-in temperature; a
        sum of which neither side is known is left out.

    """
    rows = (
        _displacement(now, stock, lines),
        _sum(now, stock, "mean piston speed at the limiter", _mean_speed),
        _limit(now, stock),
        _mass(now, stock),
        *(_sum(now, stock, name, work) for name, work in _MORE),
    )
    return tuple(row for row in rows if row is not None and (row.now is not None or row.stock is not None))


def _displacement(now: EngineSizes, stock: EngineSizes, lines: tuple[Line, ...]) -> Compared | None:
    row = _sum(now, stock, "displacement", _swept)
    if row is None or row.now is None:
        return row
    crossings = (displacement_line(row.now, row.stock, line) for line in lines)
    return replace(row, note=" ".join(each.text for each in crossings if each.crosses))


def _sum(now: EngineSizes, stock: EngineSizes, name: str, work: Callable[[EngineSizes], Sum | None]) -> Compared | None:
    """One sum on both sides; None where neither is known. Sizes that make no sense give no sum, and are told."""
    (ours, problem), (theirs, _) = _tried(work, now), _tried(work, stock)
    said = ours or theirs
    if said is None:
        return None
    return Compared(
        said.key,
        name,
        said.unit,
        ours.value if ours else None,
        theirs.value if theirs else None,
        (ours.refused or (ours.caution if said.key in _TOLD else "")) if ours else problem,
        source=said.source,
        check=said.check,
        caution=said.caution,
    )


def _tried(work: Callable[[EngineSizes], Sum | None], sizes: EngineSizes) -> tuple[Sum | None, str]:
    try:
        return work(sizes), ""
    except InvalidInput as error:
        return None, error.message


_TOLD = frozenset({"mean_piston_speed_m_s"})
"""Sums whose caution depends on the value, so that it is news."""


def _limit(now: EngineSizes, stock: EngineSizes) -> Compared:
    rated = now.rated_rpm if now.rated_rpm is not None else stock.rated_rpm
    over = now.limit_rpm is not None and rated is not None and now.limit_rpm > rated
    note = f"{LIMIT_ABOVE_RATED} (rated {rated:g} rpm)" if over else ""
    source = "the lowest of the limits its modules and limiters allow; rated speed: the model's own"
    return Compared("limit_rpm", "limiter", "rpm", now.limit_rpm, stock.limit_rpm, note, danger=over, source=source)


def _mass(now: EngineSizes, stock: EngineSizes) -> Compared:
    row = Compared(
        "reciprocating_g", "reciprocating mass", "g", now.reciprocating_g, stock.reciprocating_g, source="by scale"
    )
    if row.now is None or row.stock is None or not row.changed:
        return row
    share = row.now / row.stock - 1
    note = f"{share:+.1%} mass, so {share:+.1%} shaking force at the same speed, and the balance factor moves."
    return replace(row, note=note)


def _swept(sizes: EngineSizes) -> Sum | None:
    if sizes.bore_mm is None or sizes.stroke_mm is None:
        return None
    return displacement_cm3(sizes.bore_mm, sizes.stroke_mm, sizes.cylinders)


def _mean_speed(sizes: EngineSizes) -> Sum | None:
    if sizes.stroke_mm is None or sizes.limit_rpm is None:
        return None
    return mean_piston_speed_m_s(sizes.stroke_mm, sizes.limit_rpm)


def _full_stroke(sizes: EngineSizes) -> Sum | None:
    if sizes.bore_mm is None or sizes.stroke_mm is None or sizes.chamber_cm3 is None:
        return None
    return compression_ratio_full_stroke(sizes.bore_mm, sizes.stroke_mm, sizes.chamber_cm3)


def _exhaust_closed(sizes: EngineSizes) -> Sum | None:
    if sizes.bore_mm is None or sizes.exhaust_top_mm is None or sizes.chamber_cm3 is None:
        return None
    return compression_ratio_exhaust_closed(sizes.bore_mm, sizes.exhaust_top_mm, sizes.chamber_cm3)


def _acceleration(sizes: EngineSizes) -> Sum | None:
    if sizes.stroke_mm is None or sizes.rod_centres_mm is None or sizes.limit_rpm is None:
        return None
    return peak_acceleration_m_s2(sizes.stroke_mm, sizes.rod_centres_mm, sizes.limit_rpm)


def _force(sizes: EngineSizes) -> Sum | None:
    if sizes.stroke_mm is None or sizes.rod_centres_mm is None or sizes.limit_rpm is None:
        return None
    if sizes.reciprocating_g is None:
        return None
    return shaking_force_n(sizes.reciprocating_g, sizes.stroke_mm, sizes.rod_centres_mm, sizes.limit_rpm)


def _ring_gap(sizes: EngineSizes) -> Sum | None:
    return None if sizes.bore_mm is None else ring_gap_least_mm(sizes.bore_mm)


def _drop_in(sizes: EngineSizes) -> Sum | None:
    if not sizes.bearing or not sizes.case_metal:
        return None
    return bearing_drop_in_c(BEARINGS[sizes.bearing], USUAL_SEAT, sizes.case_metal)


_MORE: tuple[tuple[str, Callable[[EngineSizes], Sum | None]], ...] = (
    ("compression ratio over the full stroke", _full_stroke),
    ("compression ratio from where the exhaust port closes", _exhaust_closed),
    ("peak piston acceleration at the limiter", _acceleration),
    ("shaking force at the limiter, top dead centre", _force),
    ("least ring gap", _ring_gap),
    (f"case temperature for the main bearings to drop in, seat {USUAL_SEAT}", _drop_in),
)
"""Sums that are only shown: ``(what it is called on a machine, the sum)``."""
