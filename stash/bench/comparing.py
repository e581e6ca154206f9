"""A machine as built against stock: the bench sums that a blend changes."""

from __future__ import annotations

from dataclasses import dataclass

from stash.bench.engine import displacement_cm3, mean_piston_speed_m_s
from stash.bench.law import displacement_line
from stash.bench.sums import Sum

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
    """

    bore_mm: float | None = None
    stroke_mm: float | None = None
    cylinders: int = 1
    limit_rpm: float | None = None
    rated_rpm: float | None = None
    reciprocating_g: float | None = None


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
    """

    key: str
    name: str
    unit: str
    now: float | None
    stock: float | None
    note: str = ""
    danger: bool = False

    @property
    def changed(self) -> bool:
        """Tell whether both are known and differ, or only one is known."""
        if self.now is None or self.stock is None:
            return self.now is not self.stock
        return abs(self.now - self.stock) > SAME_WITHIN * max(abs(self.now), abs(self.stock))


def compare_sums(now: EngineSizes, stock: EngineSizes) -> tuple[Compared, ...]:
    """Return the sums of an engine as built beside those of stock.

    Args:
        now: As built.
        stock: As it left the factory.

    Returns:
        Displacement, mean piston speed at the limiter, limiter against rated speed, reciprocating mass; a sum of which
        neither side is known is left out.

    Raises:
        InvalidInput: A size is not above zero.
    """
    rows = (_displacement(now, stock), _piston_speed(now, stock), _limit(now, stock), _mass(now, stock))
    return tuple(row for row in rows if row.now is not None or row.stock is not None)


def _displacement(now: EngineSizes, stock: EngineSizes) -> Compared:
    ours, theirs = _swept(now), _swept(stock)
    before = theirs.value if theirs else None
    note = ""
    if ours:
        line = displacement_line(ours.value, before)
        note = line.text if line.crosses else ""
    return Compared("displacement_cm3", "displacement", "cm³", ours.value if ours else None, before, note)


def _piston_speed(now: EngineSizes, stock: EngineSizes) -> Compared:
    ours, theirs = _mean_speed(now), _mean_speed(stock)
    return Compared(
        "mean_piston_speed_m_s",
        "mean piston speed at the limiter",
        "m/s",
        ours.value if ours else None,
        theirs.value if theirs else None,
        ours.caution if ours else "",
    )


def _limit(now: EngineSizes, stock: EngineSizes) -> Compared:
    rated = now.rated_rpm if now.rated_rpm is not None else stock.rated_rpm
    over = now.limit_rpm is not None and rated is not None and now.limit_rpm > rated
    note = f"{LIMIT_ABOVE_RATED} (rated {rated:g} rpm)" if over else ""
    return Compared("limit_rpm", "limiter", "rpm", now.limit_rpm, stock.limit_rpm, note, danger=over)


def _mass(now: EngineSizes, stock: EngineSizes) -> Compared:
    row = Compared("reciprocating_g", "reciprocating mass", "g", now.reciprocating_g, stock.reciprocating_g)
    if row.now is None or row.stock is None or not row.changed:
        return row
    share = row.now / row.stock - 1
    note = f"{share:+.1%} mass, so {share:+.1%} shaking force at the same speed, and the balance factor moves."
    return Compared(row.key, row.name, row.unit, row.now, row.stock, note)


def _swept(sizes: EngineSizes) -> Sum | None:
    if sizes.bore_mm is None or sizes.stroke_mm is None:
        return None
    return displacement_cm3(sizes.bore_mm, sizes.stroke_mm, sizes.cylinders)


def _mean_speed(sizes: EngineSizes) -> Sum | None:
    if sizes.stroke_mm is None or sizes.limit_rpm is None:
        return None
    return mean_piston_speed_m_s(sizes.stroke_mm, sizes.limit_rpm)
