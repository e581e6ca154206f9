"""What came_on and the rules alone refuse: designs that are no companions, however well their sizes agree."""

from __future__ import annotations

from collections.abc import Iterator

from stash.fit.beating import verdict_of, weigh
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Site, factory_claims, part_of_design, rule_claims
from stash.fit.facts import Design
from stash.fit.scopes import Scopes


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
    """Return the designs of a kind that are refused outright at a position of a model in a year.

    Designs that no rule names and that did not come on it are told apart by the rules only through their maker and
    generation, so one of each is judged for all.
    """
    key = (site.model.key, site.position, kind, year)
    known = catalogue.refusals.get(key)
    if known is None:
        known = catalogue.refusals[key] = frozenset(_refused(catalogue, kind, Site(site.model, site.position), year))
    return known


def _refused(catalogue: Catalogue, kind: str, site: Site, year: int | None) -> Iterator[str]:
    rules = list(catalogue.rules_about(site.model, kind))
    named = {rule.design for rule in rules if rule.design}
    for key in named:
        if refused_outright(catalogue, catalogue.design[key], site, year):
            yield key
    if all(rule.design for rule in rules):
        return
    stock = {row.design for row in catalogue.stock_rows[site.model.key].get(site.position, ())}
    alike: dict[tuple[str, str], bool] = {}
    for design in catalogue.designs_of_kind.get(kind, ()):
        if design.key in named:
            continue
        if design.key in stock or catalogue.forerunners.get(design.key, frozenset()) & stock:
            refused = refused_outright(catalogue, design, site, year)
        else:
            maker = (design.maker, design.generation)
            if maker not in alike:
                alike[maker] = refused_outright(catalogue, design, site, year)
            refused = alike[maker]
        if refused:
            yield design.key
