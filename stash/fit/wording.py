"""Reasons as a mechanic would say them."""

from __future__ import annotations

from collections.abc import Sequence

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part
from stash.fit.companions import Change, CompanionSet, Impossible
from stash.fit.intervals import Known
from stash.fit.mates import MateState

VERDICT_WORDS = {
    "bolts_on": "bolts on",
    "with_companions": "fits with companions",
    "with_work": "fits with work",
    "likely": "likely fits",
    "unknown": "unknown",
    "disputed": "disputed",
    "wont_fit": "won't fit",
}
EVIDENCE_WORDS = {
    "bench": "fitted it on the bench",
    "book": "maker's literature",
    "measured": "measured",
    "word": "heard it",
}
_FEW = 3
"""How many refused designs are named in a sentence."""


def design_name(catalogue: Catalogue, key: str) -> str:
    """Return what people call a design, its key when nobody named it."""
    design = catalogue.design.get(key)
    return design.name if design and design.name else key


def mate_sentence(catalogue: Catalogue, kind: str, state: MateState) -> str:
    """Say how a mate stands, with both values.

    Args:
        catalogue: The facts.
        kind: Our kind.
        state: The mate seen from our side.
    """
    mate = state.mate
    far_kind = mate.kind_b if (mate.kind_a, mate.measure_a) == (kind, state.measure) else mate.kind_a
    ours = _measured(catalogue, kind, state.measure, state.ours)
    values = list(dict.fromkeys(_measured(catalogue, far_kind, state.far_measure, value) for value in state.theirs))
    theirs = " or ".join(values) if values else f"{_label(catalogue, far_kind, state.far_measure)} not known"
    return f"{mate.name}: {ours} against {theirs} at the {state.position}"


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


def _measured(catalogue: Catalogue, kind: str, measure: str, value: Known | None) -> str:
    label = _label(catalogue, kind, measure)
    if value is None:
        return f"{label} not known"
    known = catalogue.measure.get((kind, measure))
    unit = f" {known.unit}" if known and known.unit and not isinstance(value, str) else ""
    return f"{label} {value}{unit}"


def _label(catalogue: Catalogue, kind: str, measure: str) -> str:
    known = catalogue.measure.get((kind, measure))
    return known.name if known and known.name else measure
