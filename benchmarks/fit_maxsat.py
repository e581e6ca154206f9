"""The companions question put to a general MaxSAT solver: fewest positions only, which is the easiest part of it."""

from __future__ import annotations

from collections.abc import Mapping

from pysat.examples.rc2 import RC2
from pysat.formula import WCNF

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site
from stash.fit.intervals import Known, Outcome
from stash.fit.mates import mate_states, stock_designs
from stash.fit.refusals import refused_designs
from stash.fit.touching import compare

Values = Mapping[str, Known]


def least_positions(facts: Catalogue, part: Part, site: Site, year: int | None) -> int | None:
    """Return the fewest positions to change so that a part goes in; None when nothing helps.

    Designs of a kind that no mate tells apart are one choice here too, so that the solver is not given needless work.
    """
    formula = WCNF()
    sheet = facts.positions[site.model.key]
    takes: dict[str, dict[str, int]] = {}
    number = 0
    values = {key: design.values for key, design in facts.design.items()}
    broke = {(s.mate.key, s.position) for s in mate_states(facts, part, site, year) if s.outcome is Outcome.BREAKS}
    for name, position in sheet.items():
        if name == site.position:
            continue
        refused = refused_designs(facts, position.kind, Site(site.model, name), year)
        choices = ["", *_one_of_each(facts, position.kind, refused)]
        takes[name] = {key: number + place for place, key in enumerate(choices, 1)}
        number += len(choices)
        formula.append(list(takes[name].values()))
        formula.append([takes[name][""]], weight=1)
    for mate in facts.mates:
        a = next((name for name, row in sheet.items() if row.kind == mate.kind_a), "")
        b = next((name for name, row in sheet.items() if row.kind == mate.kind_b), "")
        if not a or not b:
            continue
        for one in [""] if a == site.position else takes[a]:
            for two in [""] if b == site.position else takes[b]:
                if (not one and a != site.position) and (not two and b != site.position):
                    continue
                ours = [part.values] if a == site.position else _standing(facts, site, a, one, year, values)
                theirs = [part.values] if b == site.position else _standing(facts, site, b, two, year, values)
                said = {compare(mate, x.get(mate.measure_a), y.get(mate.measure_b)) for x in ours for y in theirs}
                outcome = said.pop() if len(said) == 1 else Outcome.OPEN
                far = b if a == site.position else a
                must_hold = site.position in {a, b} and (mate.key, far) in broke
                if outcome is Outcome.BREAKS or (must_hold and outcome is not Outcome.HOLDS):
                    formula.append([-takes[name][key] for name, key in ((a, one), (b, two)) if name != site.position])
    with RC2(formula) as solver:
        return None if solver.compute() is None else int(solver.cost)


def _one_of_each(facts: Catalogue, kind: str, refused: frozenset[str]) -> list[str]:
    groups = facts.pairings.groups(kind).members
    allowed = ([row.key for row in group if row.key not in refused] for group in groups)
    return [keys[0] for keys in allowed if keys]


def _standing(
    facts: Catalogue, site: Site, position: str, key: str, year: int | None, values: dict[str, Values]
) -> list[Values]:
    if key:
        return [values[key]]
    return [values[each] for each in stock_designs(facts, site.model.key, position, year)]
