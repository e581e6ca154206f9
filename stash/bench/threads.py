"""Metric threads of small machines, and spark-plug threads.

Source: ISO 261:1998, general plan (pitches; M14 x 1.25 for spark plugs only); ISO 724:1993, basic dimensions.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from stash.bench.sums import positive
from stash.errors import InvalidInput, NotFound

COARSE_MM = {
    1.6: 0.35, 2.0: 0.4, 2.5: 0.45, 3.0: 0.5, 3.5: 0.6, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 7.0: 1.0, 8.0: 1.25,
    10.0: 1.5, 12.0: 1.75, 14.0: 2.0, 16.0: 2.0, 18.0: 2.5, 20.0: 2.5, 22.0: 2.5, 24.0: 3.0,
}  # fmt: skip
"""``{nominal: coarse pitch}``, mm. Source: ISO 261:1998."""
FINE_MM = {
    3.0: (0.35,), 4.0: (0.5,), 5.0: (0.5,), 6.0: (0.75,), 7.0: (0.75,), 8.0: (1.0, 0.75), 10.0: (1.25, 1.0, 0.75),
    12.0: (1.5, 1.25, 1.0), 14.0: (1.5, 1.25, 1.0), 16.0: (1.5, 1.0), 18.0: (2.0, 1.5, 1.0), 20.0: (2.0, 1.5, 1.0),
    22.0: (2.0, 1.5, 1.0), 24.0: (2.0, 1.5, 1.0),
}  # fmt: skip
"""``{nominal: fine pitches}``, mm. Source: ISO 261:1998."""

BELOW_NOMINAL_MM = 0.3
"""How far a screw's outside diameter may lie below its nominal size. Source: from memory, up to M16."""

_THREAD = re.compile(r"\s*M\s*(\d+(?:\.\d+)?)\s*(?:[X\u00d7*-]\s*(\d+(?:\.\d+)?))?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread:
    """A metric thread, mm."""

    nominal_mm: float
    pitch_mm: float

    @property
    def series(self) -> str:
        """``coarse`` or ``fine``."""
        return "coarse" if COARSE_MM.get(self.nominal_mm) == self.pitch_mm else "fine"

    @property
    def pitch_diameter_mm(self) -> float:
        """Basic pitch diameter. Source: ISO 724: d2 = d - 0.6495 P."""
        return self.nominal_mm - 0.649519 * self.pitch_mm

    @property
    def minor_diameter_mm(self) -> float:
        """Basic minor diameter of the nut. Source: ISO 724: D1 = D - 1.0825 P."""
        return self.nominal_mm - 1.082532 * self.pitch_mm

    @property
    def tap_drill_mm(self) -> float:
        """Drill before tapping: nominal less pitch. Source: common practice, no source."""
        return round(self.nominal_mm - self.pitch_mm, 2)

    def __str__(self) -> str:
        return f"M{self.nominal_mm:g}" + ("" if self.series == "coarse" else f"x{self.pitch_mm:g}")


@dataclass(frozen=True, slots=True)
class PlugThread:
    """A spark-plug thread.

    Args:
        thread: The thread; written with its pitch, ``M14x1.25``.
        reaches_mm: Usual lengths from seat to end of thread, mm.
        hexagons_mm: Usual widths across flats, mm.
    """

    thread: Thread
    reaches_mm: tuple[float, ...]
    hexagons_mm: tuple[float, ...]

    def __str__(self) -> str:
        return f"M{self.thread.nominal_mm:g}x{self.thread.pitch_mm:g}"


PLUG_THREADS = (
    PlugThread(Thread(10.0, 1.0), (12.7, 19.0), (16.0,)),
    PlugThread(Thread(12.0, 1.25), (12.7, 19.0), (16.0, 18.0)),
    PlugThread(Thread(14.0, 1.25), (9.5, 12.7, 19.0), (16.0, 19.0, 20.8)),
    PlugThread(Thread(18.0, 1.5), (12.0, 12.7), (20.8, 26.0)),
)
"""Source: threads ISO 28741; reaches and hexagons from memory."""


def read_thread(text: str) -> Thread:
    """Read a thread.

    Args:
        text: Such as ``M8``, ``M8x1`` or ``m10 x 1.0``; without a pitch the coarse one is meant.

    Raises:
        InvalidInput: It is no metric thread.
        NotFound: No such size, or no such pitch of it, is in the table; those that are get said.

    Source: ISO 261:1998; ISO 965-1 for leaving out the coarse pitch.
    """
    mark = _THREAD.fullmatch(text)
    if mark is None:
        raise InvalidInput(f"{text!r} is not a metric thread", "Write M and the size, such as M8 or M8x1.")
    nominal = float(mark.group(1))
    if nominal not in COARSE_MM:
        raise NotFound(
            f"M{nominal:g} is not in the table", "It has " + ", ".join(f"M{each:g}" for each in COARSE_MM) + "."
        )
    pitches = (COARSE_MM[nominal], *FINE_MM.get(nominal, ()))
    pitch = float(mark.group(2)) if mark.group(2) else pitches[0]
    if pitch not in pitches:
        known = ", ".join(f"{each:g}" for each in pitches)
        raise NotFound(f"M{nominal:g} has no pitch of {pitch:g} mm in the table", f"Its pitches are {known} mm.")
    return Thread(nominal, pitch)


def threads_by_size(outside_mm: float, pitch_mm: float, within_mm: float = 0.05) -> tuple[Thread, ...]:
    """Return the threads that a screw could have, closest first.

    Args:
        outside_mm: Measured outside diameter of the screw, mm.
        pitch_mm: Measured pitch, mm.
        within_mm: How far a reading may be off, mm.

    Raises:
        InvalidInput: A size is not above zero.

    Source: ISO 261:1998.
    """
    positive(outside_mm=outside_mm, pitch_mm=pitch_mm)
    found: list[tuple[float, float, float]] = []
    for nominal, coarse in COARSE_MM.items():
        for pitch in (coarse, *FINE_MM.get(nominal, ())):
            below = nominal - outside_mm
            if -within_mm <= below <= BELOW_NOMINAL_MM and abs(pitch - pitch_mm) <= within_mm:
                found.append((abs(pitch - pitch_mm) + abs(below), nominal, pitch))
    return tuple(Thread(nominal, pitch) for _, nominal, pitch in sorted(found))
