"""The companions search once more, written from the words and not from the code: try every set, keep the best.

every mate that broke holds; no mate touching the part or a changed part breaks (open ones are listed); no
changed part is wont_fit or disputed by what is said outright for the model. Fewest positions, then fewest open
mates, then most already on the shelf, then least money (what has no price comes after what has one).
"""

from __future__ import annotations

from itertools import combinations, product

from stash.fit.intervals import Interval
from stash.kernel.tables import EVIDENCE


def gap_state(mate, a, b):
    if a is None or b is None or isinstance(a, Interval) != isinstance(b, Interval):
        return "open"
    if not isinstance(a, Interval):
        if mate.relation == "gap":
            return "open"
        return "holds" if a == b else "breaks"
    least, most = b.low_u - a.high_u, b.high_u - a.low_u
    low, high = mate.low_u, mate.high_u
    if mate.relation == "same":
        low, high = low or 0, high or 0
    low = float("-inf") if low is None else low
    high = float("inf") if high is None else high
    if low <= least and most <= high:
        return "holds"
    return "breaks" if most < low or least > high else "open"


class World:
    """One target: which values may stand at each position (a list of alternatives), as it is now."""

    def __init__(self, catalogue, model, year, machine=None):
        self.catalogue, self.model, self.year = catalogue, catalogue.model[model], year
        self.kinds = {row.name: row.kind for row in catalogue.positions[model].values()}
        self.now = {name: self._standing(name, machine) for name in self.kinds}

    def stock(self, position):
        rows = [row for row in self.catalogue.came_on if row.position == position]
        own = [row for row in rows if row.model == self.model.key]
        rows = own or [row for row in rows if not row.model and row.generation == self.model.generation]
        return {row.design for row in rows if self.year is None or row.years.contains(self.year)}

    def _standing(self, position, machine):
        seen = machine.fitted.get(position) if machine else None
        if seen is None:
            return [self.catalogue.design[key].values for key in self.stock(position)]
        if seen.state != "present":
            return []
        design = self.catalogue.design.get(seen.design)
        values = {**(design.values if design else {}), **seen.values}
        return [values] if values or design else []

    def pairs(self):
        """Every (mate, position on its a side, position on its b side)."""
        for mate in self.catalogue.mates:
            for a, b in product(self.kinds, repeat=2):
                named = mate.position_a in {"", a} and mate.position_b in {"", b}
                if a != b and named and (self.kinds[a], self.kinds[b]) == (mate.kind_a, mate.kind_b):
                    yield mate, a, b

    def states(self, put_in):
        """``{(mate, a, b): state}`` for every mate that touches something put in."""
        found = {}
        for mate, a, b in self.pairs():
            if a not in put_in and b not in put_in:
                continue
            ours = [put_in[a]] if a in put_in else self.now[a]
            theirs = [put_in[b]] if b in put_in else self.now[b]
            said = {gap_state(mate, x.get(mate.measure_a), y.get(mate.measure_b)) for x in ours for y in theirs}
            found[mate.key, a, b] = said.pop() if len(said) == 1 else "open"
        return found

    def refused(self, design, position):
        """wont_fit or disputed by came_on and rules alone."""
        claims = [
            (rule.verdict, EVIDENCE.index(rule.evidence), self._reach(rule))
            for rule in self.catalogue.rules
            if self._speaks(rule, design, position)
        ]
        for key in self.stock(position):
            if key == design.key or self._replaces(design.key, key):
                for row in self.catalogue.came_on:
                    level = row.model == self.model.key or (not row.model and row.generation == self.model.generation)
                    if row.design == key and row.position == position and level and self._in_year(row.years):
                        reach = {"design": design.key, "position": position, **self._target(row)}
                        claims.append(("bolts_on", EVIDENCE.index("book"), (reach, self._bounded(row))))
        standing = {
            claim[0]
            for claim in claims
            if not any(self._beats(other, claim, design) for other in claims if other is not claim)
        }
        return "wont_fit" in standing or len(standing) > 1

    def _in_year(self, years):
        return self.year is None or years.contains(self.year)

    def _speaks(self, rule, design, position):
        era = self.catalogue.generation[self.model.generation]
        wanted = {
            "design": design.key,
            "kind": design.kind,
            "part_maker": design.maker,
            "part_generation": design.generation,
            "model": self.model.key,
            "generation": era.key,
            "family": era.family,
            "maker": self.model.maker,
            "position": position,
        }
        return self._in_year(rule.years) and all(getattr(rule, name) in {"", value} for name, value in wanted.items())

    def _target(self, row):
        return {"model": row.model} if row.model else {"generation": row.generation}

    def _bounded(self, row):
        return (row.years.common(self.model.years) or row.years) if row.model else row.years

    def _reach(self, rule):
        names = (
            "design",
            "kind",
            "part_maker",
            "part_generation",
            "model",
            "generation",
            "family",
            "maker",
            "position",
        )
        return {name: getattr(rule, name) for name in names if getattr(rule, name)}, self._bounded(rule)

    def _implied(self, filled, design):
        """Everything the filled columns imply."""
        told = dict(filled)
        if "design" in told:
            told |= {"kind": design.kind, "part_maker": design.maker, "part_generation": design.generation}
        if "model" in told:
            told |= {"generation": self.model.generation, "maker": self.model.maker}
        if "generation" in told:
            told["family"] = self.catalogue.generation[told["generation"]].family
        return told

    def _narrower(self, a, b, design):
        told = self._implied(a[0], design)
        return all(told.get(name) == value for name, value in b[0].items())

    def _beats(self, a, b, design):
        a_in_b = self._narrower(a[2], b[2], design) and a[2][1].within(self._raw(b))
        b_in_a = self._narrower(b[2], a[2], design) and b[2][1].within(self._raw(a))
        return a_in_b and a[1] <= b[1] and (a[1] < b[1] or not b_in_a)

    def _raw(self, claim):
        return claim[2][1]

    def _replaces(self, new, old):
        later = {(row.maker, row.number): row for row in self.catalogue.numbers}
        for row in self.catalogue.numbers:
            if row.design != old:
                continue
            step = later.get((row.maker, row.replaced_by)) if row.replaced_by else None
            while step is not None:
                if step.design == new:
                    return True
                step = later.get((row.maker, step.replaced_by)) if step.replaced_by else None
        return False

    def sets(self, values, home):
        """Yield (cost, changes) of every set of the smallest size that works, for a part that breaks a mate."""
        before = self.states({home: values})
        broke = {key for key, state in before.items() if state == "breaks"}
        places = {(mate, frozenset((a, b))) for mate, a, b in broke}
        others = [name for name in self.kinds if name != home]
        for size in range(1, len(others) + 1):
            found = []
            for names in combinations(others, size):
                choices = [
                    [
                        row
                        for row in self.catalogue.designs_of_kind.get(self.kinds[name], ())
                        if not self.refused(row, name)
                    ]
                    for name in names
                ]
                for rows in product(*choices):
                    put_in = {home: values, **{name: row.values for name, row in zip(names, rows, strict=True)}}
                    states = self.states(put_in)
                    must = [state for (mate, a, b), state in states.items() if (mate, frozenset((a, b))) in places]
                    if "breaks" in states.values() or any(state != "holds" for state in must):
                        continue
                    opened = {(mate, frozenset((a, b))) for (mate, a, b), state in states.items() if state == "open"}
                    found.append((len(opened), dict(zip(names, (row.key for row in rows), strict=True))))
            if found:
                return found
        return []

    def cost(self, opened, changes, shelf):
        rows = [self.catalogue.design[key] for key in changes.values()]
        bought = [row for row in rows if row.key not in shelf]
        unpriced = sum(row.price_minor is None for row in bought)
        return (len(changes), opened, len(bought), unpriced, sum(row.price_minor or 0 for row in bought))

    def best_cost(self, values, home, shelf):
        return min((self.cost(opened, changes, shelf) for opened, changes in self.sets(values, home)), default=None)
