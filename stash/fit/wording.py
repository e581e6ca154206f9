"""Reasons as a mechanic would say them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from stash.fit.beating import Heard
from stash.fit.catalogue import Catalogue
from stash.fit.claims import SIZES, Claim, Part, strength
from stash.fit.companions import Change, CompanionSet, Impossible
from stash.fit.intervals import Known
from stash.fit.mates import MateState

if TYPE_CHECKING:  # findings words what it finds, and settle needs findings
    from stash.fit.settle import Measurement

VERDICT_WORDS = {
    "bolts_on": "bolts on",
    "with_companions": "fits with companions",
    "with_work": "fits with work",
    "likely": "likely fits",
    "unknown": "unknown",
    "disputed": "disputed",
    "wont_fit": "won't fit",
}
VERDICT_BRIEF = {
    "bolts_on": "on",
    "with_companions": "+ parts",
    "with_work": "work",
    "likely": "likely",
    "unknown": "?",
    "disputed": "disputed",
    "wont_fit": "no",
}
"""``{verdict: the few letters a chart's cell has room for}``."""
EVIDENCE_WORDS = {
    "bench": "fitted it on the bench",
    "book": "maker's literature",
    "measured": "measured",
    "word": "heard it",
}
_LONG_S = 90
"""From how many seconds on a time is said in minutes. Source: project decision."""
_FEW = 3
"""How many refused designs are named in a sentence."""


def design_name(catalogue: Catalogue, key: str) -> str:
    """Return what people call a design, its key when nobody named it."""
    design = catalogue.design.get(key)
    return design.name if design and design.name else key


def maker_name(catalogue: Catalogue, key: str) -> str:
    """Return what people call a maker, its key when it is not listed."""
    maker = catalogue.maker.get(key)
    return maker.name if maker and maker.name else key


def kind_name(catalogue: Catalogue, key: str) -> str:
    """Return what people call a kind, its key when it is not listed."""
    kind = catalogue.kind.get(key)
    return kind.name if kind and kind.name else key


def measure_name(catalogue: Catalogue, kind: str, measure: str) -> str:
    """Return what people call a measure of a kind, its key when it is not listed."""
    known = catalogue.measure.get((kind, measure))
    return known.name if known and known.name else measure


def mate_sentence(catalogue: Catalogue, kind: str, state: MateState) -> str:
    """Say how a mate stands, with both values.

    Args:
        catalogue: The facts.
        kind: Our kind.
        state: The mate seen from our side.
    """
    mate = state.mate
    far_kind = _far_kind(kind, state)
    ours = _measured(catalogue, kind, state.measure, state.ours)
    values = list(dict.fromkeys(_measured(catalogue, far_kind, state.far_measure, value) for value in state.theirs))
    theirs = " or ".join(values) if values else f"{measure_name(catalogue, far_kind, state.far_measure)} not known"
    return f"{mate.name}: {ours} against {theirs} at the {state.position}"


def asking_sentence(catalogue: Catalogue, kind: str, state: MateState) -> str:
    """Say what to measure to settle an open mate, each by its name and on what.

    Args:
        catalogue: The facts.
        kind: Our kind.
        state: The mate seen from our side.
    """
    far_kind = _far_kind(kind, state)
    asks = (
        f"{measure_name(catalogue, far_kind if ask.of == state.position else kind, ask.measure)} of "
        + (f"what is at the {ask.of}" if ask.of == state.position else design_name(catalogue, ask.of))
        for ask in state.to_measure
    )
    return f"Measure to settle it: {', '.join(asks)}."


def _far_kind(kind: str, state: MateState) -> str:
    mate = state.mate
    return mate.kind_b if (mate.kind_a, mate.measure_a) == (kind, state.measure) else mate.kind_a


def broken_reason(catalogue: Catalogue, part: Part, broken: Sequence[MateState], impossible: Impossible | None) -> str:
    """Say what breaks, and which mate nothing can satisfy."""
    said = "; ".join(mate_sentence(catalogue, part.kind, state) for state in broken)
    return said if impossible is None else f"{said}. {_why_not(catalogue, impossible)}"


def _why_not(catalogue: Catalogue, impossible: Impossible) -> str:
    """Say why no change helps."""
    place = f"at the {impossible.position}"
    if impossible.beside:
        place += " beside " + _changes(catalogue, impossible.beside)
    if impossible.refused:
        names = ", ".join(design_name(catalogue, key) for key in impossible.refused[:_FEW])
        more = f" and {len(impossible.refused) - _FEW} more" if len(impossible.refused) > _FEW else ""
        return (
            f"What would satisfy {catalogue.mate[impossible.mate].name} {place} is itself refused there: {names}{more}"
        )
    if impossible.also:
        mates = " and ".join(catalogue.mate[key].name for key in (impossible.mate, *impossible.also))
        return f"No known part {place} satisfies {mates} at once"
    return f"No known part {place} satisfies {catalogue.mate[impossible.mate].name}"


def _changes(catalogue: Catalogue, changes: Sequence[Change]) -> str:
    return ", ".join(f"{design_name(catalogue, each.design)} at the {each.position}" for each in changes)


def companions_reason(catalogue: Catalogue, part: Part, broken: Sequence[MateState], found: CompanionSet) -> str:
    """Say what breaks and what mends it."""
    said = "; ".join(mate_sentence(catalogue, part.kind, state) for state in broken)
    return f"{said}. It goes in with {_changes(catalogue, found.changes)}"


def likely_reason(catalogue: Catalogue, part: Part, states: Sequence[MateState]) -> str:
    """Say that every size that is compared agrees."""
    said = "; ".join(mate_sentence(catalogue, part.kind, state) for state in states)
    return f"every size that meets another agrees: {said}"


def beaten_reason(catalogue: Catalogue, heard: Heard, among: Sequence[Heard]) -> str:
    """Say what a claim that does not count is beaten by, and why.

    Args:
        catalogue: The facts.
        heard: The claim.
        among: Everything heard about the same thing.
    """
    if heard.beaten_by.startswith("mate:"):
        name = catalogue.mate[heard.beaten_by.removeprefix("mate:")].name
        return f"set aside: on this machine {name} says the opposite"
    winner = next(each.claim for each in among if each.claim.key == heard.beaten_by and not each.beaten_by)
    better = strength(winner.evidence) > strength(heard.claim.evidence)
    why = "which is known better" if better else "which speaks of this more closely"
    return f"beaten by: {VERDICT_WORDS[winner.verdict]} ({said_by(winner)}), {why}"


def said_by(claim: Claim) -> str:
    """Say how a claim is known, and whose word it is."""
    if claim.origin == SIZES:
        return "what the sizes say"
    return EVIDENCE_WORDS[claim.evidence] + (f", {claim.source}" if claim.source else "")


def measurement_sentence(catalogue: Catalogue, part: Part, wanted: Measurement) -> str:
    """Say what to find out, on what, and how long it takes.

    Args:
        catalogue: The facts.
        part: The part in question.
        wanted: What to find out.
    """
    if wanted.of == part.title:
        thing = "this lot" if part.lot else "this design"
    elif wanted.of in catalogue.design:
        thing = f"the {design_name(catalogue, wanted.of)}"
    else:
        thing = f"what is at the {wanted.of}"
    if not wanted.measure:
        names = " or ".join(design_name(catalogue, key) for key in wanted.among)
        return f"see which it is at the {wanted.of}: {names} ({_time(wanted.effort_s)})"
    return f"{measure_name(catalogue, wanted.kind, wanted.measure)} of {thing} ({_time(wanted.effort_s)})"


def _time(seconds: float) -> str:
    return f"about {seconds:.0f} s" if seconds < _LONG_S else f"about {seconds / 60:.0f} min"


def _measured(catalogue: Catalogue, kind: str, measure: str, value: Known | None) -> str:
    label = measure_name(catalogue, kind, measure)
    if value is None:
        return f"{label} not known"
    known = catalogue.measure.get((kind, measure))
    unit = f" {known.unit}" if known and known.unit and not isinstance(value, str) else ""
    return f"{label} {value}{unit}"
