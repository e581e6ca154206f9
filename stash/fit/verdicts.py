"""The verdict for a part at a position: which claim counts, year by year, for models and machines as built.

::

    factory + rules ─┐
                     ├─ set aside (machines) ─ beating ─┬ none left, none at all ── unknown
    mates ─ broken ──┤                                  ├ one voice ─────────────── its verdict
            all hold ┘ (likely, only if alone)          └ several voices ────────── disputed

Nothing is averaged and nothing is dropped: beaten claims stay, with what beat them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from stash.fit.beating import Heard, in_order, verdict_of, weigh
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Claim, Part, Site, factory_claims, rule_claims
from stash.fit.companions import NO_SHELF, CompanionSet, Shelf, smallest_change
from stash.fit.facts import Machine
from stash.fit.intervals import Outcome
from stash.fit.mates import MateState, ToMeasure, mate_states
from stash.fit.scopes import Scope, Scopes
from stash.fit.wording import broken_reason, companions_reason, likely_reason
from stash.kernel.years import ALL_YEARS, Years, segments


@dataclass(frozen=True, slots=True)
class Finding:
    """The verdict for one part at one site over some years.

    Args:
        verdict: One of the verdicts.
        years: The years it holds for.
        heard: Every claim, those that count first, then the beaten.
        mates: How each mate stands.
        companions: What must change too: from the rules that count or from the search.
        note: One sentence that is not a claim, such as "find the year".
    """

    verdict: str
    years: Years
    heard: tuple[Heard, ...]
    mates: tuple[MateState, ...]
    companions: CompanionSet | None = None
    note: str = ""

    @property
    def counting(self) -> tuple[Claim, ...]:
        """The claims that count."""
        return tuple(heard.claim for heard in self.heard if not heard.beaten_by)

    @property
    def demanded(self) -> tuple[tuple[str, ...], ...]:
        """Companions that the counting rules demand, each a tuple of alternatives, without doubles."""
        return tuple(dict.fromkeys(item for claim in self.counting for item in claim.companions))

    @property
    def work(self) -> str:
        """The work the counting claims ask for."""
        return "; ".join(dict.fromkeys(claim.work for claim in self.counting if claim.work))

    @property
    def minutes(self) -> int | None:
        """The longest time a counting claim asks for; None when none says."""
        return max((claim.minutes for claim in self.counting if claim.minutes is not None), default=None)

    @property
    def open(self) -> tuple[ToMeasure, ...]:
        """What to measure to settle the open mates, without doubles."""
        return tuple(dict.fromkeys(ask for state in self.mates for ask in state.to_measure))


def judge_model(catalogue: Catalogue, part: Part, model: str, position: str, shelf: Shelf = NO_SHELF) -> list[Finding]:
    """Judge a part at a position of a model, over all its years.

    Args:
        catalogue: The facts.
        part: The part; its kind must be the position's.
        model: Model key.
        position: Position name.
        shelf: What lies on the shelf, for choosing among companions.

    Returns:
        Findings in order of years; neighbours with equal verdicts are merged.
    """
    site = Site(catalogue.model[model], position)
    return _merged(_judge(catalogue, part, site, years, shelf) for years in _segments(catalogue, part, site))


def judge_machine(
    catalogue: Catalogue, part: Part, machine: Machine, position: str, shelf: Shelf = NO_SHELF
) -> Finding:
    """Judge a part at a position of a machine as built.

    A machine with a year is judged in that year. Without one it gets the verdict common to all its model's years,
    or ``unknown`` with the note to find the year.
    """
    site = Site(catalogue.model[machine.model], position, machine)
    if machine.year is not None:
        return _judge(catalogue, part, site, Years(machine.year, machine.year), shelf)
    found = _merged(_judge(catalogue, part, site, years, shelf) for years in _segments(catalogue, part, site))
    if len(found) == 1:
        return found[0]
    agreed = len({finding.verdict for finding in found}) == 1
    said = ", ".join(f"{finding.years}: {finding.verdict.replace('_', ' ')}" for finding in found)
    return Finding(
        verdict=found[0].verdict if agreed else "unknown",
        years=site.model.years,
        heard=in_order(heard for finding in found for heard in finding.heard),
        mates=tuple(dict.fromkeys(state for finding in found for state in finding.mates)),
        companions=found[0].companions if agreed else None,
        note="Find the year: what it takes depends on it." if agreed else f"Find the year: it decides ({said}).",
    )


def _segments(catalogue: Catalogue, part: Part, site: Site) -> list[Years]:
    """Cut the model's years where a claim begins or ends or any stock changes."""
    claims = [*factory_claims(catalogue, part, site), *rule_claims(catalogue, part, site)]
    parts = [claim.scope.years for claim in claims]
    parts += [row.years for rows in catalogue.stock_rows[site.model.key].values() for row in rows]
    return segments(site.model.years, parts)


def _judge(catalogue: Catalogue, part: Part, site: Site, years: Years, shelf: Shelf) -> Finding:
    year = years.from_year if years.from_year is not None else years.to_year
    states = tuple(mate_states(catalogue, part, site, year))
    claims = [
        claim
        for claim in (*factory_claims(catalogue, part, site), *rule_claims(catalogue, part, site))
        if _speaks(claim, year)
    ]
    claims, aside = _set_aside(claims, site, states)
    claims = [_satisfied(catalogue, claim, site) for claim in claims]
    broken = [state for state in states if state.outcome is Outcome.BREAKS]
    found: CompanionSet | None = None
    if broken:
        change = smallest_change(catalogue, part, site, year, shelf)
        found = change if isinstance(change, CompanionSet) else None
        scope = _exactly(part, site, year)
        reason = (
            companions_reason(catalogue, part, broken, found)
            if found
            else broken_reason(catalogue, part, broken, None if isinstance(change, CompanionSet) else change)
        )
        claims.append(_derived("with_companions" if found else "wont_fit", scope, reason, broken[0].mate.key))
    elif states and not claims and all(state.outcome is Outcome.HOLDS for state in states):
        claims.append(_derived("likely", _exactly(part, site, year), likely_reason(catalogue, part, states), ""))
    heard = weigh(Scopes(catalogue, site.machine), claims)
    verdict = verdict_of(heard)
    return Finding(verdict, years, (*heard, *aside), states, found if verdict == "with_companions" else None)


def _speaks(claim: Claim, year: int | None) -> bool:
    return year is None or claim.scope.years.contains(year)


def _exactly(part: Part, site: Site, year: int | None) -> Scope:
    """The scope of what the sizes say: exactly this part, target, position and year.

    The year is filled where the target has one at all: on a machine of known year and on a model with years.
    """
    machine = site.machine
    dated = site.model.years != ALL_YEARS if machine is None or machine.year is None else True
    return Scope(
        lot=part.lot if part.own else "",
        design=part.design,
        kind=part.kind,
        machine=machine.code if machine else "",
        model=site.model.key,
        position=site.position,
        years=Years(year, year) if dated and year is not None else ALL_YEARS,
    )


def _derived(verdict: str, scope: Scope, reason: str, mate: str) -> Claim:
    return Claim(verdict, "measured", "mates", "mates", scope, source="the measures", reason=reason, because_mate=mate)


def _set_aside(
    claims: Sequence[Claim], site: Site, states: Sequence[MateState]
) -> tuple[list[Claim], tuple[Heard, ...]]:
    """Set aside a rule that names a mate which, on this machine as built, is known to say the opposite.

    Known means a confirmed part that is not simply stock stands at the other end: a blended machine already carries
    the other half. A machine exactly as stock keeps its model's rules.
    """
    if site.machine is None:
        return list(claims), ()
    kept: list[Claim] = []
    aside: list[Heard] = []
    for claim in claims:
        ends = [state for state in states if state.mate.key == claim.because_mate]
        opposite = Outcome.BREAKS if claim.verdict == "bolts_on" else Outcome.HOLDS
        if ends and all(state.outcome is opposite for state in ends) and any(state.blended for state in ends):
            aside.append(Heard(claim, f"mate:{claim.because_mate}"))
        else:
            kept.append(claim)
    return kept, tuple(aside)


def _satisfied(catalogue: Catalogue, claim: Claim, site: Site) -> Claim:
    """Turn an outright ``with_companions`` into ``bolts_on`` where all its companions are known to be fitted."""
    if claim.verdict != "with_companions" or site.machine is None or not claim.companions:
        return claim
    fitted = {row.design for row in site.machine.fitted.values() if row.state == "present" and row.design}
    if not all(any(alternative in fitted for alternative in item) for item in claim.companions):
        return claim
    names = ", ".join(catalogue.design[key].name or key for item in claim.companions for key in item if key in fitted)
    reason = f"{claim.reason}; already fitted: {names}" if claim.reason else f"already fitted: {names}"
    return replace(claim, verdict="bolts_on", companions=(), reason=reason)


def _merged(findings: Iterable[Finding]) -> list[Finding]:
    merged: list[Finding] = []
    for finding in findings:
        last = merged[-1] if merged else None
        if last is not None and _alike(last, finding):
            merged[-1] = replace(
                last,
                years=Years(last.years.from_year, finding.years.to_year),
                heard=in_order((*last.heard, *finding.heard)),
                mates=tuple(dict.fromkeys((*last.mates, *finding.mates))),
            )
        else:
            merged.append(finding)
    return merged


def _alike(a: Finding, b: Finding) -> bool:
    return (a.verdict, a.demanded, a.companions, a.work, a.minutes) == (
        b.verdict,
        b.demanded,
        b.companions,
        b.work,
        b.minutes,
    )
