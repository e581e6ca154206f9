"""Which claims count: one beats another by a narrower scope and evidence as strong, or the reverse.

Source: project decision.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stash.fit.claims import Claim, strength
from stash.fit.scopes import Scopes


@dataclass(frozen=True, slots=True)
class Heard:
    """A claim and what became of it.

    Args:
        claim: The claim.
        beaten_by: Key of the claim that beat it, ``mate:KEY`` of the mate that set it aside, or "" when it counts.
    """

    claim: Claim
    beaten_by: str = ""


def weigh(scopes: Scopes, claims: Iterable[Claim]) -> tuple[Heard, ...]:
    """Tell of every claim whether it counts, and if not, what beat it.

    Args:
        scopes: Compares scopes by the facts.
        claims: What is said about one part at one site in one year.

    Returns:
        Every claim, those that count first, then stronger evidence first.
    """
    ordered = sorted(claims, key=lambda claim: (-strength(claim.evidence), claim.origin, claim.key, claim.scope.years))
    return in_order(Heard(claim, _beater(scopes, claim, ordered)) for claim in ordered)


def in_order(heard: Iterable[Heard]) -> tuple[Heard, ...]:
    """Put what counts first, without doubles."""
    return tuple(sorted(dict.fromkeys(heard), key=lambda each: bool(each.beaten_by)))


def verdict_of(heard: Iterable[Heard]) -> str:
    """Return the one verdict of the claims that count, ``disputed`` when they differ, ``unknown`` when there are none."""
    said = {each.claim.verdict for each in heard if not each.beaten_by}
    if not said:
        return "unknown"
    return said.pop() if len(said) == 1 else "disputed"


def _beater(scopes: Scopes, claim: Claim, claims: Sequence[Claim]) -> str:
    """Return the key of the first claim that beats this one, "" when none does.

    A beats B when A's scope is narrower or equal and A's evidence is as strong or stronger, one of them strictly.
    """
    for other in claims:
        if other is claim or strength(other.evidence) < strength(claim.evidence):
            continue
        if not scopes.narrower_or_equal(other.scope, claim.scope):
            continue
        stronger = strength(other.evidence) > strength(claim.evidence)
        if stronger or not scopes.narrower_or_equal(claim.scope, other.scope):
            return other.key
    return ""
