"""Lines that a change of displacement or speed may cross. Arithmetic only: local rules decide."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stash.bench.sums import positive

CHECK_LOCALLY = "Check your local rules or a licensed shop."


@dataclass(frozen=True, slots=True)
class Line:
    """A line drawn by law.

    Args:
        key: Its key.
        limit: The number that may not be exceeded.
        unit: Its unit.
        text: What lies on this side of it.
        source: Where it stands.
    """

    key: str
    limit: float
    unit: str
    text: str
    source: str


MOPED_CM3 = Line(
    "moped_cm3",
    50.0,
    "cm³",
    "light two-wheel powered vehicle, positive ignition",
    "Regulation (EU) No 168/2013, Annex I, L1e",
)
MOPED_KM_H = Line(
    "moped_km_h",
    45.0,
    "km/h",
    "light two-wheel powered vehicle, design speed",
    "Regulation (EU) No 168/2013, Annex I, L1e",
)


def owners_line(key: str, name: str, up_to_cm3: float, note: str) -> Line:
    """Return a line that an owner wrote down for where they live; their note is its source."""
    return Line(key, up_to_cm3, "cm³", name, note or "as noted by the owner")


def law_lines(owners: Iterable[Line]) -> tuple[Line, ...]:
    """Return an owner's lines in order of displacement; the moped line of 50 cm³ where there are none."""
    return tuple(sorted(owners, key=lambda line: (line.limit, line.key))) or (MOPED_CM3,)


@dataclass(frozen=True, slots=True)
class Crossing:
    """How a change stands to a line.

    Args:
        line: The line.
        before: The number before, in the line's unit; None when not known.
        after: The number after.
        crosses: It was within before, or not known, and is beyond now.
        text: The same in words, always with whom to ask.
    """

    line: Line
    before: float | None
    after: float
    crosses: bool
    text: str


def displacement_line(after_cm3: float, before_cm3: float | None = None, line: Line = MOPED_CM3) -> Crossing:
    """Tell how a displacement stands to a line, by default the moped line of 50 cm³.

    Args:
        after_cm3: Displacement now or as planned, cm³.
        before_cm3: Displacement before, cm³, None when not known.
        line: The line, in cm³.

    Raises:
        InvalidInput: A displacement is not above zero.

    Source: Regulation (EU) No 168/2013, Annex I: category L1e, up to and including 50 cm³.
    """
    positive(after_cm3=after_cm3)
    if before_cm3 is not None:
        positive(before_cm3=before_cm3)
    return _crossing(line, before_cm3, after_cm3)


def speed_line(after_km_h: float, before_km_h: float | None = None) -> Crossing:
    """Tell how a design speed stands to the moped line of 45 km/h.

    Args:
        after_km_h: Design speed now or as planned, km/h.
        before_km_h: Design speed before, km/h, None when not known.

    Raises:
        InvalidInput: A speed is not above zero.

    Source: Regulation (EU) No 168/2013, Annex I: category L1e, up to and including 45 km/h.
    """
    positive(after_km_h=after_km_h)
    if before_km_h is not None:
        positive(before_km_h=before_km_h)
    return _crossing(MOPED_KM_H, before_km_h, after_km_h)


def _crossing(line: Line, before: float | None, after: float) -> Crossing:
    crosses = after > line.limit and (before is None or before <= line.limit)
    limit = f"{line.limit:g} {line.unit}"
    source = f"{line.text}: {line.source}"
    if crosses:
        text = f"{after:.2f} {line.unit} is above {limit} ({source}): it may be another road class. {CHECK_LOCALLY}"
    elif after > line.limit:
        text = f"{after:.2f} {line.unit} is above {limit}, as it was before ({source}). {CHECK_LOCALLY}"
    else:
        text = f"{after:.2f} {line.unit} is within {limit} ({source}). {CHECK_LOCALLY}"
    return Crossing(line, before, after, crosses, text)
