"""What the sizes say: every mate that touches a part, compared with what is at the other end.

At the other end of a mate stands, for a machine, what is fitted now; for a model, and for a position nobody has
looked at (assumed stock), the stock designs of the year.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site
from stash.fit.facts import Mate
from stash.fit.intervals import Known, Outcome
from stash.fit.touching import Touch, compare

__all__ = [
    "MateState",
    "Neighbour",
    "ToMeasure",
    "compare",
    "far_ends",
    "kind_at",
    "mate_states",
    "neighbours",
    "positions_of",
    "stock_designs",
]


@dataclass(frozen=True, slots=True)
class Neighbour:
    """One thing that may stand at the other end.

    Args:
        design: Design key, "" when not known which.
        values: ``{measure: value}``.
        confirmed: Somebody saw it fitted on this machine; False for stock and assumed stock.
        blended: Confirmed, and more than simply what this position left the factory with: another design, one of
            several that it may have left with, or one with measures of its own.
    """

    design: str
    values: Mapping[str, Known]
    confirmed: bool = False
    blended: bool = False


@dataclass(frozen=True, slots=True)
class ToMeasure:
    """A measurement that would help to settle an open mate.

    Args:
        mate: Mate key.
        measure: Measure key.
        of: What to measure: a lot code, a design key, or the name of a position.
    """

    mate: str
    measure: str
    of: str


@dataclass(frozen=True, slots=True)
class MateState:
    """How one mate stands between the part and one other position.

    Args:
        mate: The mate.
        measure: Our measure.
        ours: Our value, None when not known.
        position: The position at the other end.
        far_measure: The measure there.
        theirs: The values there, one for each thing that may stand there.
        neighbours: Designs that may stand there, in the same order.
        outcome: Whether it holds, breaks or is open.
        blended: The other end is a confirmed part that is not stock.
        to_measure: What would settle it when it is open.
    """

    mate: Mate
    measure: str
    ours: Known | None
    position: str
    far_measure: str
    theirs: tuple[Known | None, ...]
    neighbours: tuple[str, ...]
    outcome: Outcome
    blended: bool
    to_measure: tuple[ToMeasure, ...] = ()


def kind_at(catalogue: Catalogue, site: Site, position: str) -> str:
    """Return the kind that a position of the site takes, "" when the site has no such position.

    A machine also has the positions its model lacks at which a part of known design was found.
    """
    sheet = catalogue.positions[site.model.key]
    return sheet[position].kind if position in sheet else _added(catalogue, site).get(position, "")


def positions_of(catalogue: Catalogue, site: Site) -> tuple[str, ...]:
    """Return every position of the site: its model's, and what a machine carries beyond them."""
    return (*catalogue.positions[site.model.key], *_added(catalogue, site))


def _added(catalogue: Catalogue, site: Site) -> dict[str, str]:
    """``{position: kind}`` that a machine carries although its model has no such position."""
    if site.machine is None:
        return {}
    sheet = catalogue.positions[site.model.key]
    return {
        name: catalogue.design[row.design].kind
        for name, row in sorted(site.machine.fitted.items())
        if name not in sheet and row.state == "present" and row.design in catalogue.design
    }


def far_ends(catalogue: Catalogue, site: Site, touch: Touch) -> Sequence[str]:
    """Return the positions of the site at the other end of a mate; none when it does not touch there."""
    if touch.position and touch.position != site.position:
        return ()
    names = catalogue.positions_of_kind[site.model.key].get(touch.far_kind, ())
    added = [name for name, kind in _added(catalogue, site).items() if kind == touch.far_kind]
    return [
        name
        for name in (*names, *added)
        if name != site.position and (not touch.far_position or touch.far_position == name)
    ]


def neighbours(catalogue: Catalogue, site: Site, position: str, year: int | None) -> tuple[Neighbour, ...]:
    """Return what may stand at a position: several for stock alternatives, none when not known.

    Args:
        catalogue: The facts.
        site: The model or machine.
        position: The position at the other end.
        year: A year of the segment in question; None when the model has no years.
    """
    stock = stock_designs(catalogue, site.model.key, position, year)
    fitted = site.machine.fitted.get(position) if site.machine is not None else None
    if fitted is None:
        return tuple(Neighbour(key, catalogue.design[key].values) for key in stock)
    if fitted.state != "present":
        return ()
    design = catalogue.design.get(fitted.design)
    if design is not None and design.kind != kind_at(catalogue, site, position):
        return ()
    values = {**(design.values if design else {}), **fitted.values}
    if design is None and not values:
        return ()
    blended = bool(fitted.values) or stock != (fitted.design,)
    return (Neighbour(fitted.design, values, confirmed=True, blended=blended),)


def stock_designs(catalogue: Catalogue, model: str, position: str, year: int | None) -> tuple[str, ...]:
    """Return the designs a position left the factory with in a year, in order of key.

    Args:
        catalogue: The facts.
        model: Model key.
        position: Position name.
        year: The year; None asks for rows of any year.
    """
    rows = catalogue.stock_rows[model].get(position, ())
    return tuple(sorted({row.design for row in rows if year is None or row.years.contains(year)}))


def mate_states(
    catalogue: Catalogue,
    part: Part,
    site: Site,
    year: int | None,
    changed: Mapping[str, Part] | None = None,
) -> Iterator[MateState]:
    """Yield how every mate that touches the part stands, in order of mate key and position.

    A mate of a kind with itself is looked at from both its sides; where they say the same it is told once.

    Args:
        catalogue: The facts.
        part: The part, in place at the site.
        site: Where.
        year: A year of the segment; None when the model has no years.
        changed: ``{position: part}`` put in together with it (companions).
    """
    mirrored: set[MateState] = set()
    for touch in catalogue.touches.get(part.kind, ()):
        for position in far_ends(catalogue, site, touch):
            companion = (changed or {}).get(position)
            if companion is not None:
                others: tuple[Neighbour, ...] = (Neighbour(companion.design, companion.values),)
            else:
                others = neighbours(catalogue, site, position, year)
            state = _state(touch, part, position, others)
            if touch.far_kind == part.kind:
                if state in mirrored:
                    continue
                mirrored.add(state)
            yield state


def _state(touch: Touch, part: Part, position: str, others: tuple[Neighbour, ...]) -> MateState:
    ours = part.values.get(touch.measure)
    theirs = tuple(other.values.get(touch.far_measure) for other in others)
    outcomes = {touch.outcome(ours, value) for value in theirs}
    outcome = next(iter(outcomes)) if len(outcomes) == 1 else Outcome.OPEN
    asks = _what_to_measure(touch, part, position, others, outcomes) if outcome is Outcome.OPEN else ()
    return MateState(
        mate=touch.mate,
        measure=touch.measure,
        ours=ours,
        position=position,
        far_measure=touch.far_measure,
        theirs=theirs,
        neighbours=tuple(other.design for other in others),
        outcome=outcome,
        blended=bool(others) and all(other.blended for other in others),
        to_measure=asks,
    )


def _what_to_measure(
    touch: Touch, part: Part, position: str, others: tuple[Neighbour, ...], outcomes: set[Outcome]
) -> tuple[ToMeasure, ...]:
    """Name what would settle an open mate.

    A value that is missing on a side; both sides where both are known and yet too coarse; the other end where several
    stock designs differ, and it alone where each of them decides, since what matters then is which of them is there.
    """
    ours = ToMeasure(touch.mate.key, touch.measure, part.title)
    theirs = ToMeasure(touch.mate.key, touch.far_measure, position)
    missing_here = part.values.get(touch.measure) is None
    missing_there = not others or any(other.values.get(touch.far_measure) is None for other in others)
    if missing_here:
        alike = len({other.values.get(touch.far_measure) for other in others}) == 1
        return (ours, theirs) if missing_there or not alike else (ours,)
    if missing_there or Outcome.OPEN not in outcomes:
        return (theirs,)
    return (ours, theirs)
