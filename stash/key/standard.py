"""Standard parts on record: which designs a standard makes the same part, and which ones a designation names."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from stash.bench.standard import StandardPart, designated, read_standard, same_thread
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, SamePart
from stash.fit.intervals import Interval, Known
from stash.kernel.exact import from_micro

_ROOM_U = 50_000
"""How far a recorded size may lie from the standard's and still be that size, millionths of a millimetre. Sizes of
standard parts lie further apart. Source: project decision."""
_SPREAD_U = {"width_mm": 140_000}
_LEAST_SPREAD_U = 40_000
"""How wide a recorded size's whole range may be and still decide, by measure and for all others, millionths of a
millimetre. Source: ISO 492, normal class: rings to 0.011 mm below, width to 0.12 mm below."""
_USUAL = "cage"
"""What need not be on record, because nothing said means the usual one."""
_THREADS = frozenset({"thread", "plug_thread"})
"""Measures that are a thread."""


@dataclass(frozen=True, slots=True)
class Named:
    """A design that a designation names, or nearly.

    Args:
        design: The design's key.
        part: What the designation says.
        differs: In what the design differs from the designation, in words; empty when it is that part.
        open: Measures the designation decides and the design has not on record.
    """

    design: str
    part: StandardPart
    differs: tuple[str, ...] = ()
    open: tuple[str, ...] = ()

    @property
    def exact(self) -> bool:
        """Whether the design is that very standard part, as far as the standard goes."""
        return self.part.whole and not self.part.unread and not self.differs and not self.open


def same_parts(designs: Iterable[Design]) -> tuple[SamePart, ...]:
    """Return the designs that a standard makes one part, in order of kind and designation.

    Deep-groove ball bearings of one size, clearance, closing, cage and snap ring (ISO 15, ISO 5753-1), circlips of one
    form and size (DIN 471 and 472) and O-rings of one size and rubber (ISO 3601-1) go in each other's place, whoever
    made them. Everything that decides must be on record and known closely, and whatever else is on record of one must
    be on record of the other.
    """
    groups: dict[tuple[str, str, str, str], set[str]] = defaultdict(set)
    for design in designs:
        closely = {key: value for key, value in design.values.items() if _is_close(key, value)}
        part = designated(design.kind, plain(closely))
        if part is not None:
            decided = {*part.values, _USUAL}
            beside = sorted((key, value) for key, value in design.values.items() if key not in decided)
            groups[design.kind, part.name, part.source, repr(beside)].add(design.key)
    return tuple(
        SamePart(name, source, frozenset(keys))
        for (_, name, source, _), keys in sorted(groups.items())
        if len(keys) > 1
    )


def named(catalogue: Catalogue, text: str) -> tuple[Named, ...]:
    """Return the designs a designation names: those it names exactly first, then by how much they differ.

    Args:
        catalogue: The facts.
        text: What stands on the part, such as ``6203-2RS/C3``; nothing is found where it is no designation.

    Returns:
        Designs whose sizes the designation has; a bearing of another closing or clearance is among them and says so.
    """
    part = read_standard(text)
    if part is None:
        return ()
    found = [
        hit
        for kind in ([part.kind] if part.kind else catalogue.kind)
        for design in catalogue.designs_of_kind.get(kind, ())
        if (hit := _compared(catalogue, design, part)) is not None
    ]
    return tuple(sorted(found, key=lambda hit: (not hit.exact, len(hit.differs), len(hit.open), hit.design)))


def plain(values: Mapping[str, Known]) -> dict[str, float | str]:
    """Return values as plain numbers, the middle of what they may be, and words."""
    return {
        key: float(from_micro(value.low_u + value.high_u)) / 2 if isinstance(value, Interval) else value
        for key, value in values.items()
    }


def _is_close(measure: str, value: Known) -> bool:
    return not isinstance(value, Interval) or value.high_u - value.low_u <= _SPREAD_U.get(measure, _LEAST_SPREAD_U)


def _compared(catalogue: Catalogue, design: Design, part: StandardPart) -> Named | None:
    if not part.whole:
        threads = {value for key, value in design.values.items() if key in _THREADS}
        same = any(same_thread(str(value), part.name) for value in threads)
        return Named(design.key, part) if same else None
    differs: list[str] = []
    unknown: list[str] = []
    for key, cell in part.values.items():
        value = design.values.get(key)
        measure = catalogue.measure.get((design.kind, key))
        name = measure.name if measure else key
        if value is None:
            if key != _USUAL:
                unknown.append(key)
        elif isinstance(value, Interval):
            if not _holds(value, cell):
                return None
        elif value != cell:
            differs.append(f"{name} {value}, not {cell}")
    differs.extend(f"{word}: not on record" for word in part.unread)
    differs.extend(_beyond(catalogue, design, part))
    sized = any(isinstance(design.values.get(key), Interval) for key in part.values)
    return Named(design.key, part, tuple(differs), tuple(unknown)) if sized else None


def _beyond(catalogue: Catalogue, design: Design, part: StandardPart) -> Iterator[str]:
    """Say what words on record are about something that the designation is silent on."""
    for key, value in design.values.items():
        if key not in part.values and key != _USUAL and not isinstance(value, Interval):
            measure = catalogue.measure.get((design.kind, key))
            yield f"{measure.name if measure else key} {value}: not in the number"


def _holds(value: Interval, cell: str) -> bool:
    nominal_u = round(float(cell) * 1_000_000)
    return value.low_u - _ROOM_U <= nominal_u <= value.high_u + _ROOM_U
