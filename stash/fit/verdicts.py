"""The verdict for a part at a position: which claim counts, year by year, for models and machines as built.

::

    factory + rules ─┐
                     ├─ as built (machines) ─ beating ─┬ none left, none at all ── unknown
    mates ─ broken ──┤                                 ├ one voice ─────────────── its verdict
            all hold ┘ (likely, only if alone)         └ several voices ────────── disputed

Nothing is averaged and nothing is dropped: beaten claims stay, with what beat them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from stash.errors import InvalidInput, NotFound
from stash.fit.as_built import as_built
from stash.fit.beating import Heard, joined, verdict_of, weigh
from stash.fit.catalogue import Catalogue
from stash.fit.claims import SIZES, Claim, Part, Site, factory_claims, rule_claims
from stash.fit.companions import NO_SHELF, CompanionSet, Searches, Shelf
from stash.fit.facts import Machine
from stash.fit.findings import Finding, merged, over_all_years
from stash.fit.intervals import Outcome
from stash.fit.mates import MateState, kind_at, mate_states, positions_of
from stash.fit.scopes import Scope, Scopes
from stash.fit.wording import broken_reason, companions_reason, likely_reason
from stash.kernel.years import ALL_YEARS, Years, segments

__all__ = ["Finding", "judge_machine", "judge_model"]


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

    Raises:
        NotFound: The model has no such position.
        InvalidInput: The position takes another kind.
    """
    site = Site(catalogue.model[model], position)
    _check_kinds_agree(catalogue, part, site)
    return merged(_year_by_year(catalogue, part, site, shelf))


def judge_machine(
    catalogue: Catalogue, part: Part, machine: Machine, position: str, shelf: Shelf = NO_SHELF
) -> Finding:
    """Judge a part at a position of a machine as built.

    A machine with a year is judged in that year. Without one it gets the verdict common to all its model's years,
    or ``unknown`` with the note to find the year.

    Raises:
        NotFound: The machine has no such position.
        InvalidInput: The position takes another kind.
    """
    model = catalogue.model[machine.model]
    site = Site(model, position, machine)
    _check_kinds_agree(catalogue, part, site)
    if machine.year is None:
        return over_all_years(catalogue, merged(_year_by_year(catalogue, part, site, shelf)), model.years)
    search = Searches(catalogue, part, site, shelf)
    finding = _judge(catalogue, part, site, Years(machine.year, machine.year), search)
    if model.years.contains(machine.year):
        return finding
    return replace(finding, note=f"The year {machine.year} is outside its model's years, {model.years}: look again.")


def _check_kinds_agree(catalogue: Catalogue, part: Part, site: Site) -> None:
    kind = kind_at(catalogue, site, site.position)
    name = site.machine.code if site.machine else site.model.key
    if not kind:
        raise NotFound(f"{name} has no position {site.position!r}", "Look at its stock sheet for the names.")
    if kind != part.kind:
        raise InvalidInput(
            f"The {site.position} of {name} takes a {kind}, not a {part.kind}",
            "Ask about a position that takes a part of this kind.",
        )


def _year_by_year(catalogue: Catalogue, part: Part, site: Site, shelf: Shelf) -> Iterator[Finding]:
    """Judge each stretch of the model's years within which the same claims and the same stock apply.

    Where a mate breaks, companions are searched for, and what is said outright about those may change with the years
    too: there the dated rules about the model cut again.
    """
    parts = [claim.scope.years for claim in _said(catalogue, part, site)]
    parts += [row.years for rows in catalogue.stock_rows[site.model.key].values() for row in rows]
    for years in segments(site.model.years, parts):
        search = Searches(catalogue, part, site, shelf)
        states = mate_states(catalogue, part, site, _year_of(years))
        broken = any(state.outcome is Outcome.BREAKS for state in states)
        cuts = _dated_rules(catalogue, site) if broken else ()
        for stretch in segments(years, cuts):
            yield _judge(catalogue, part, site, stretch, search)


def _dated_rules(catalogue: Catalogue, site: Site) -> Iterator[Years]:
    kinds = {kind_at(catalogue, site, position) for position in positions_of(catalogue, site)}
    return (rule.years for kind in kinds for rule in catalogue.rulebook.about(site.model, kind))


def _year_of(years: Years) -> int | None:
    """Return a year that stands for a whole segment; None when nothing is bounded in years."""
    return years.from_year if years.from_year is not None else years.to_year


def _judge(catalogue: Catalogue, part: Part, site: Site, years: Years, search: Searches) -> Finding:
    year = _year_of(years)
    states = tuple(mate_states(catalogue, part, site, year))
    spoken = [claim for claim in _said(catalogue, part, site) if year is None or claim.scope.years.contains(year)]
    outright, aside = as_built(catalogue, spoken, site, states)
    sizes, found = _what_sizes_say(catalogue, part, site, year, states, search)
    alone = sizes is not None and (sizes.verdict != "likely" or not outright)
    heard = weigh(Scopes(catalogue, site.machine), [*outright, sizes] if alone and sizes else outright)
    verdict = verdict_of(heard)
    if sizes is not None and not alone:
        aside = (*aside, Heard(sizes, heard[0].claim.key))
    counts = any(each.claim is sizes and not each.beaten_by for each in heard)
    every = joined(_in_years(each, years) for each in (*heard, *aside))
    return Finding(verdict, years, every, states, found if counts else None)


def _said(catalogue: Catalogue, part: Part, site: Site) -> tuple[Claim, ...]:
    """Everything said outright, in any year."""
    return (*factory_claims(catalogue, part, site), *rule_claims(catalogue, part, site))


def _what_sizes_say(
    catalogue: Catalogue, part: Part, site: Site, year: int | None, states: Sequence[MateState], search: Searches
) -> tuple[Claim | None, CompanionSet | None]:
    """Return the claim that follows from the mates, and the companions that mend what breaks."""
    broken = [state for state in states if state.outcome is Outcome.BREAKS]
    if broken:
        change = search.at(year)
        scope = _exactly(part, site, year, broken)
        if isinstance(change, CompanionSet):
            reason = companions_reason(catalogue, part, broken, change)
            return _derived("with_companions", scope, reason, broken[0].mate.key), change
        reason = broken_reason(catalogue, part, broken, change)
        return _derived("wont_fit", scope, reason, broken[0].mate.key), None
    if states and all(state.outcome is Outcome.HOLDS for state in states):
        scope = _exactly(part, site, year, states)
        return _derived("likely", scope, likely_reason(catalogue, part, states), ""), None
    return None, None


def _exactly(part: Part, site: Site, year: int | None, states: Sequence[MateState]) -> Scope:
    """The scope of what the sizes say: exactly this part, target, position and year.

    The year is filled where the target has one at all: on a machine of known year and on a model with years. Where a
    machine is stock at every end that matters, the sizes say no more of it than of its model, so that a machine
    exactly as stock answers like its model.
    """
    machine = site.machine if any(state.blended for state in states) else None
    dated = site.model.years != ALL_YEARS or (machine is not None and machine.year is not None)
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
    return Claim(verdict, "measured", SIZES, SIZES, scope, source="the measures", reason=reason, because_mate=mate)


def _in_years(heard: Heard, years: Years) -> Heard:
    """Show what the sizes say with all the years of the segment, of which one stood for all while weighing."""
    claim = heard.claim
    if claim.origin != SIZES or claim.scope.years == ALL_YEARS:
        return heard
    return Heard(replace(claim, scope=replace(claim.scope, years=years)), heard.beaten_by)
