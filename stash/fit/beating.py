"""Which claims count: one beats another by a narrower scope and evidence as strong, or the reverse.

Source: project decision.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from stash.fit.catalogue import years_order
from stash.fit.claims import SIZES, Claim, strength
from stash.fit.scopes import Scopes
from stash.kernel.years import ALL_YEARS, Years


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
        Every claim, those that count first, then stronger evidence first. A claim is named as beaten by one that
        itself counts: beating is transitive, so there always is one.
    """
    ordered = sorted(claims, key=_order)
    beaten_by = [[other for other in ordered if beats(scopes, other, claim)] for claim in ordered]
    standing = [claim for claim, beaters in zip(ordered, beaten_by, strict=True) if not beaters]
    heard = (
        Heard(claim, next(other.key for other in beaters if other in standing) if beaters else "")
        for claim, beaters in zip(ordered, beaten_by, strict=True)
    )
    return in_order(heard)


def beats(scopes: Scopes, a: Claim, b: Claim) -> bool:
    """Tell whether claim A beats claim B.

    A's scope is narrower or equal and A's evidence is as strong or stronger, at least one of them strictly.
    """
    if strength(a.evidence) < strength(b.evidence) or not scopes.narrower_or_equal(a.scope, b.scope):
        return False
    return strength(a.evidence) > strength(b.evidence) or not scopes.narrower_or_equal(b.scope, a.scope)


def in_order(heard: Iterable[Heard]) -> tuple[Heard, ...]:
    """Put what counts first, without doubles."""
    return tuple(sorted(dict.fromkeys(heard), key=lambda each: bool(each.beaten_by)))


def joined(heard: Iterable[Heard]) -> tuple[Heard, ...]:
    """Join what is heard in adjoining years, earliest first.

    A claim stands once, and counts when it counts in any of the years. What the sizes say is one claim as long as
    they say the same; its years are then all those in which they say it.
    """
    found: dict[Claim, Heard] = {}
    for each in heard:
        claim = each.claim
        key = replace(claim, scope=replace(claim.scope, years=ALL_YEARS)) if claim.origin == SIZES else claim
        before = found.get(key)
        if before is not None:
            years = Years(before.claim.scope.years.from_year, claim.scope.years.to_year)
            claim = replace(claim, scope=replace(claim.scope, years=years))
            found[key] = Heard(claim, before.beaten_by and each.beaten_by)
        else:
            found[key] = each
    return in_order(found.values())


def verdict_of(heard: Iterable[Heard]) -> str:
    """Return the verdict of the claims that count: ``disputed`` when they differ, ``unknown`` when there are none."""
    said = {each.claim.verdict for each in heard if not each.beaten_by}
    if not said:
        return "unknown"
    return said.pop() if len(said) == 1 else "disputed"


def _order(claim: Claim) -> tuple[int, str, str, tuple[int, int]]:
    return (-strength(claim.evidence), claim.origin, claim.key, years_order(claim.scope.years))
