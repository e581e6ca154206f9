"""What came_on and the rules alone refuse: designs that are no companions, however well their sizes agree."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from stash.fit.beating import verdict_of, weigh
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Site, claim_of, factory_claims, part_of_design, rule_claims
from stash.fit.facts import Design, Rule
from stash.fit.scopes import Scopes

_MOST_MODELS = 200
"""Of so many models what was found out is kept; then it begins anew."""


def refused_outright(catalogue: Catalogue, design: Design, site: Site, year: int | None) -> bool:
    """Tell whether came_on and the rules alone make a design ``wont_fit`` or ``disputed`` at a position of a model."""
    part = part_of_design(design)
    claims = [
        claim
        for claim in (*factory_claims(catalogue, part, site), *rule_claims(catalogue, part, site))
        if year is None or claim.scope.years.contains(year)
    ]
    return verdict_of(weigh(Scopes(catalogue), claims)) in {"wont_fit", "disputed"}


def refused_designs(catalogue: Catalogue, kind: str, site: Site, year: int | None) -> frozenset[str]:
    """Return the designs of a kind that are refused outright at a position of a model in a year."""
    of_model = catalogue.refusals.get(site.model.key)
    if of_model is None:
        if len(catalogue.refusals) >= _MOST_MODELS:
            catalogue.refusals.clear()
        of_model = catalogue.refusals[site.model.key] = {}
    key = (site.position, kind, year)
    known = of_model.get(key)
    if known is None:
        known = of_model[key] = frozenset(_refused(catalogue, kind, Site(site.model, site.position), year))
    return known


def _refused(catalogue: Catalogue, kind: str, site: Site, year: int | None) -> Iterator[str]:
    """Weigh only where it can matter: one voice that is no refusal, or nothing but refusals, needs no weighing.

    Designs that no rule names and that did not come on it are told apart by the rules only through their maker and
    generation.
    """
    wide: list[Rule] = []
    named: dict[str, list[Rule]] = defaultdict(list)
    for rule in catalogue.rulebook.about(site.model, kind):
        if rule.position in {"", site.position} and not rule.machine and (year is None or rule.years.contains(year)):
            (named[rule.design] if rule.design else wide).append(rule)
    stock = catalogue.stock_rows[site.model.key].get(site.position, ())
    factory = {row.design for row in stock if year is None or row.years.contains(year)}
    for old in tuple(factory):
        factory |= catalogue.successors.get(old, frozenset())
    special = named.keys() | factory
    for key in special:
        design = catalogue.design[key]
        rules = [rule for rule in (*named.get(key, ()), *wide) if _is_of(rule, design)]
        verdicts = {rule.verdict for rule in rules} | ({"bolts_on"} if key in factory else set())
        if _surely(verdicts) or (len(verdicts) > 1 and refused_outright(catalogue, design, site, year)):
            yield key
    if wide:
        yield from (key for key in _refused_by_make(catalogue, kind, wide) if key not in special)


def _refused_by_make(catalogue: Catalogue, kind: str, wide: Sequence[Rule]) -> frozenset[str]:
    """Designs refused by rules that name none; kept by the rules themselves, which many models share."""
    kept = catalogue.rulebook.refused_by
    key = tuple(id(rule) for rule in wide)
    known = kept.get(key)
    if known is None:
        found: list[str] = []
        for designs in catalogue.designs_by_make[kind].values():
            verdicts = {rule.verdict for rule in wide if _is_of(rule, designs[0])}
            if _surely(verdicts) or (len(verdicts) > 1 and _refused_if_weighed(catalogue, wide, designs[0])):
                found.extend(design.key for design in designs)
        known = kept[key] = (tuple(wide), frozenset(found))
    return known[1]


def _refused_if_weighed(catalogue: Catalogue, wide: Sequence[Rule], design: Design) -> bool:
    claims = [claim_of(rule) for rule in wide if _is_of(rule, design)]
    return verdict_of(weigh(Scopes(catalogue), claims)) in {"wont_fit", "disputed"}


def _surely(verdicts: set[str]) -> bool:
    return verdicts == {"wont_fit"}


def _is_of(rule: Rule, design: Design) -> bool:
    return (
        rule.kind in {"", design.kind}
        and rule.part_maker in {"", design.maker}
        and rule.part_generation in {"", design.generation}
    )
