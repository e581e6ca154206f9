"""What the sizes say: every mate that touches a part, compared with what is at the other end.

At the other end of a mate stands, for a machine, what is fitted now; for a model, and for a position nobody has
looked at (assumed stock), the stock designs of the year.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue, Touch
from stash.fit.claims import Part, Site
from stash.fit.facts import Mate
from stash.fit.intervals import Interval, Known, Outcome, compare_numbers


@dataclass(frozen=True, slots=True)
class Neighbour:
    """One thing that may stand at the other end.

    Args:
        design: Design key, "" when not known which.
        values: ``{measure: value}``.
        confirmed: Somebody saw it fitted on this machine; False for stock and assumed stock.
        blended: Confirmed, and not simply what this position left the factory with.
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


def compare(mate: Mate, a: Known | None, b: Known | None) -> Outcome:
    """Tell whether a mate holds between two values.

    Args:
        mate: The mate.
        a: The value on its a side, None when not known.
        b: The value on its b side.

    Returns:
        ``same`` compares words for equality and numbers by a gap within [low, high], by default [0, 0];
        ``gap`` asks for low <= b - a <= high, an empty bound being open. Anything not comparable is OPEN.
    """
    if a is None or b is None:
        return Outcome.OPEN
    if isinstance(a, Interval) and isinstance(b, Interval):
        if mate.relation == "same":
            return compare_numbers(a, b, mate.low_u or 0, mate.high_u or 0)
        return compare_numbers(a, b, mate.low_u, mate.high_u)
    if isinstance(a, str) and isinstance(b, str) and mate.relation == "same":
        return Outcome.HOLDS if a == b else Outcome.BREAKS
    return Outcome.OPEN


def far_ends(catalogue: Catalogue, site: Site, touch: Touch) -> Sequence[str]:
    """Return the positions of the site's model at the other end of a mate; none when it does not touch there."""
    if touch.position and touch.position != site.position:
        return ()
    names = catalogue.positions_of_kind[site.model.key].get(touch.far_kind, ())
    return [name for name in names if name != site.position and (not touch.far_position or touch.far_position == name)]


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
    values = {**(design.values if design else {}), **fitted.values}
    if design is None and not values:
        return ()
    blended = bool(fitted.values) or fitted.design not in stock
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

    Args:
        catalogue: The facts.
        part: The part, in place at the site.
        site: Where.
        year: A year of the segment; None when the model has no years.
        changed: ``{position: part}`` put in together with it (companions).
    """
    for touch in catalogue.touches.get(part.kind, ()):
        for position in far_ends(catalogue, site, touch):
            companion = (changed or {}).get(position)
            if companion is not None:
                others: tuple[Neighbour, ...] = (Neighbour(companion.design, companion.values),)
            else:
                others = neighbours(catalogue, site, position, year)
            yield _state(touch, part, position, others)


def _state(touch: Touch, part: Part, position: str, others: tuple[Neighbour, ...]) -> MateState:
    ours = part.values.get(touch.measure)
    theirs = tuple(other.values.get(touch.far_measure) for other in others)
    outcomes = {
        compare(touch.mate, ours, value) if touch.is_a else compare(touch.mate, value, ours) for value in theirs
    }
    outcome = outcomes.pop() if len(outcomes) == 1 else Outcome.OPEN
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
        to_measure=_what_to_measure(touch, part, position, ours, others) if outcome is Outcome.OPEN else (),
    )


def _what_to_measure(
    touch: Touch, part: Part, position: str, ours: Known | None, others: tuple[Neighbour, ...]
) -> tuple[ToMeasure, ...]:
    """Name the missing value on each side; where both are known and yet open, both need a closer look."""
    theirs = [other.values.get(touch.far_measure) for other in others]
    missing_there = not theirs or any(value is None for value in theirs)
    asks: list[ToMeasure] = []
    if ours is None or not missing_there:
        asks.append(ToMeasure(touch.mate.key, touch.measure, part.title))
    if missing_there or ours is not None:
        asks.append(ToMeasure(touch.mate.key, touch.far_measure, position))
    return tuple(asks)
