"""The shortest list of measurements that would settle an open question, most telling first.

Each open mate needs every value that is missing, on whichever side. One measurement may serve several mates. Where the
other end holds one of several stock parts, either each of its sizes is measured or somebody looks which one it is:
whichever is fewer, then quicker. A mate that turns out to break settles everything at once, so what is most likely to
break is measured first: the share of the known designs on the missing side that would break it.

Source: project decision.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part
from stash.fit.findings import Finding
from stash.fit.intervals import Known, Outcome
from stash.fit.mates import MateState, ToMeasure
from stash.fit.touching import Touch

UNKNOWN_EFFORT_S = 30.0
"""What a measurement is taken to cost when its measure does not say. Source: project decision."""
LOOK_EFFORT_S = 30.0
"""What it costs to see which of several known designs is fitted. Source: project decision."""
_EVEN = 0.5


@dataclass(frozen=True, slots=True)
class Measurement:
    """One thing to find out.

    Args:
        of: What to measure: a lot code, a design key, or the name of a position.
        kind: The kind of part that is measured.
        measure: Measure key; "" means: see which of ``among`` it is.
        effort_s: How long it takes, in seconds.
        closes: Keys of the mates it serves.
        chance: How likely it is to settle everything by breaking a mate, 0 to 1.
        among: The designs to tell apart, where that is the question.
    """

    of: str
    kind: str
    measure: str
    effort_s: float
    closes: tuple[str, ...]
    chance: float = _EVEN
    among: tuple[str, ...] = ()


def shortest_list(catalogue: Catalogue, part: Part, finding: Finding) -> tuple[Measurement, ...]:
    """Return the fewest, then quickest, measurements that close every open mate that matters.

    Args:
        catalogue: The facts.
        part: The part in question.
        finding: Its finding at one site.

    Returns:
        What is most likely to decide first, then what is quickest. Empty when nothing is open that could change the
        verdict: it is settled by what is said, or by a mate that breaks. Where companions are proposed, what to
        measure before trusting them.
    """
    if finding.verdict == "with_companions":
        asks = finding.companions.open if finding.companions else ()
        return _in_order(_of_companions(catalogue, part, asks))
    if finding.verdict not in {"unknown", "disputed"}:
        return ()
    if any(state.outcome is Outcome.BREAKS for state in finding.mates):
        return ()
    opened = [state for state in finding.mates if state.outcome is Outcome.OPEN]
    return _in_order(_of_mates(catalogue, part, opened))


def _of_mates(catalogue: Catalogue, part: Part, opened: Sequence[MateState]) -> list[Measurement]:
    asked: dict[tuple[str, str], list[MateState]] = defaultdict(list)
    kinds: dict[tuple[str, str], str] = {}
    for state in opened:
        for ask in state.to_measure:
            asked[ask.of, ask.measure].append(state)
            kinds[ask.of, ask.measure] = part.kind if ask.of == part.title else _far_kind(part, state)
    single = {
        (of, measure): Measurement(
            of,
            kinds[of, measure],
            measure,
            _effort(catalogue, kinds[of, measure], measure),
            _once(state.mate.key for state in states),
            max(_chance(catalogue, part, state, ours=of == part.title) for state in states),
        )
        for (of, measure), states in asked.items()
    }
    looks = [
        _look(catalogue, position, [s for s in opened if s.position == position])
        for position in {s.position for s in opened}
    ]
    for look in looks:
        instead = [each for key, each in single.items() if key[0] == look.of]
        if look.among and (1, look.effort_s) < (len(instead), sum(each.effort_s for each in instead)):
            for each in instead:
                del single[each.of, each.measure]
            single[look.of, ""] = look
    return list(single.values())


def _look(catalogue: Catalogue, position: str, opened: Sequence[MateState]) -> Measurement:
    """Seeing which of several stock designs is there, if that closes every open mate with it."""
    among = opened[0].neighbours
    closing = len(among) > 1 and all(None not in state.theirs for state in opened)
    mates = _once(state.mate.key for state in opened)
    kind = catalogue.design[among[0]].kind if closing else ""
    return Measurement(position, kind, "", LOOK_EFFORT_S, mates, among=among if closing else ())


def _of_companions(catalogue: Catalogue, part: Part, asks: Iterable[ToMeasure]) -> list[Measurement]:
    asked: dict[tuple[str, str], list[str]] = defaultdict(list)
    kinds: dict[tuple[str, str], str] = {}
    for ask in asks:
        mate = catalogue.mate[ask.mate]
        asked[ask.of, ask.measure].append(ask.mate)
        design = catalogue.design.get(ask.of)
        own = design.kind if design else part.kind if ask.of == part.title else ""
        far = mate.kind_a if mate.measure_a == ask.measure else mate.kind_b
        kinds[ask.of, ask.measure] = own or far
    return [
        Measurement(of, kinds[of, measure], measure, _effort(catalogue, kinds[of, measure], measure), _once(mates))
        for (of, measure), mates in asked.items()
    ]


def _once(mates: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(mates))


def _in_order(measurements: Iterable[Measurement]) -> tuple[Measurement, ...]:
    return tuple(sorted(measurements, key=lambda each: (-each.chance, each.effort_s, each.of, each.measure)))


def _effort(catalogue: Catalogue, kind: str, measure: str) -> float:
    known = catalogue.measure.get((kind, measure))
    return UNKNOWN_EFFORT_S if known is None or known.effort_s is None else known.effort_s


def _far_kind(part: Part, state: MateState) -> str:
    return state.mate.kind_b if _is_a(part, state) else state.mate.kind_a


def _is_a(part: Part, state: MateState) -> bool:
    return (state.mate.kind_a, state.mate.measure_a) == (part.kind, state.measure)


def _chance(catalogue: Catalogue, part: Part, state: MateState, *, ours: bool) -> float:
    """Return the share of the known designs on the measured side that would break the mate; a half where none tells."""
    touch = Touch(state.mate, is_a=_is_a(part, state))
    if ours:
        kind, measure, against = part.kind, state.measure, state.theirs
    else:
        kind, measure, against, touch = touch.far_kind, state.far_measure, (state.ours,), touch.back
    values = [row.values[measure] for row in catalogue.designs_of_kind.get(kind, ()) if measure in row.values]
    known: list[Known] = [value for value in against if value is not None]
    if not values or not known:
        return _EVEN
    broken = sum(all(touch.outcome(value, other) is Outcome.BREAKS for other in known) for value in values)
    return broken / len(values)
