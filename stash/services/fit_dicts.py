"""The reasons of a verdict as plain data."""

from __future__ import annotations

from typing import Any

from stash.fit.beating import Heard
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part
from stash.fit.mates import MateState
from stash.fit.settle import Measurement
from stash.fit.wording import beaten_reason, mate_sentence, measurement_sentence


def claim_dict(catalogue: Catalogue, heard: Heard, among: tuple[Heard, ...]) -> dict[str, Any]:
    """A claim, and what became of it."""
    claim = heard.claim
    return {
        "key": claim.key,
        "verdict": claim.verdict,
        "evidence": claim.evidence,
        "origin": claim.origin,
        "source": claim.source,
        "reason": claim.reason,
        "work": claim.work,
        "minutes": claim.minutes,
        "tell": claim.tell,
        "said_on": claim.said_on or None,
        "from_year": claim.scope.years.from_year,
        "to_year": claim.scope.years.to_year,
        "beaten_by": heard.beaten_by or None,
        "why_beaten": beaten_reason(catalogue, heard, among) if heard.beaten_by else None,
    }


def measurement_dict(catalogue: Catalogue, part: Part, wanted: Measurement) -> dict[str, Any]:
    """One thing to find out."""
    return {
        "of": wanted.of,
        "kind": wanted.kind,
        "measure": wanted.measure or None,
        "among": list(wanted.among),
        "mates": list(wanted.closes),
        "effort_s": wanted.effort_s,
        "chance": round(wanted.chance, 4),
        "text": measurement_sentence(catalogue, part, wanted),
    }


def mate_dict(catalogue: Catalogue, kind: str, state: MateState) -> dict[str, Any]:
    """How a mate stands."""
    return {
        "mate": state.mate.key,
        "position": state.position,
        "outcome": state.outcome.value,
        "ours": None if state.ours is None else str(state.ours),
        "theirs": [None if value is None else str(value) for value in state.theirs],
        "designs": list(state.neighbours),
        "text": mate_sentence(catalogue, kind, state),
    }
