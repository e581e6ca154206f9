"""Checks against published standards and an independent solver."""

import tomllib
from pathlib import Path

import pressfit
import pytest
from hypothesis import HealthCheck, assume, given, settings
from ortools.sat.python import cp_model

from stash.fit.claims import Site, part_of_design
from stash.fit.companions import Impossible, Shelf, smallest_change
from stash.fit.facts import Mate
from stash.fit.intervals import Interval, Outcome, gap, interval
from stash.fit.mates import compare
from stash.fit.verdicts import judge_model
from tests.fit.by_the_words import World
from tests.fit.small_worlds import catalogues, questions

STANDARDS = tomllib.loads((Path(__file__).parent / "standards.toml").read_text(encoding="utf-8"))


def um(low, high):
    return Interval(round(low * 1000), round(high * 1000))


@pytest.mark.parametrize("size", [3, 6, 10, 12, 15, 17, 25, 30, 40, 52, 80])
@pytest.mark.parametrize("letters", ["H7/g6", "H7/h6", "H7/k6", "H7/n6", "H7/p6", "H8/f7", "H7/s6"])
def test_the_gap_of_a_shaft_in_a_hole_is_the_clearance_of_iso_286(size, letters):
    """Source: ISO 286-1 and 286-2, limits as tabulated in the package pressfit."""
    fit = pressfit.fit(f"{size} {letters}")
    nominal = size * 1000
    shaft = um(nominal + fit.shaft_ei_um, nominal + fit.shaft_es_um)
    hole = um(nominal + fit.hole_ei_um, nominal + fit.hole_es_um)
    assert gap(shaft, hole) == um(*fit.clearance_um)
    clear = Mate("m", "m", "shaft", "od", "hole", "id", "gap", 0, None)
    expected = {"clearance": Outcome.HOLDS, "interference": Outcome.BREAKS, "transition": Outcome.OPEN}
    if 0 not in fit.clearance_um:
        assert compare(clear, shaft, hole) is expected[fit.kind]


@pytest.mark.parametrize("row", STANDARDS["fits"], ids=lambda row: row["fit"])
def test_published_limits_of_fit(row):
    shaft = interval(row["nominal_um"] * 1000, -row["shaft_um"][0] * 1000, row["shaft_um"][1] * 1000)
    hole = interval(row["nominal_um"] * 1000, -row["hole_um"][0] * 1000, row["hole_um"][1] * 1000)
    assert gap(shaft, hole) == um(*row["clearance_um"])


@pytest.mark.parametrize("seat", STANDARDS["bearings"], ids=lambda row: row["number"])
def test_a_bearing_goes_on_the_journal_and_in_the_seat_of_its_iso_15_size_only(seat):
    journal = Mate("j", "j", "bearing", "bore", "crank", "journal", "same")
    case = Mate("c", "c", "bearing", "od", "case", "seat", "same")
    for bearing in STANDARDS["bearings"]:
        on = compare(journal, interval(bearing["bore_um"] * 1000), interval(seat["bore_um"] * 1000))
        inside = compare(case, interval(bearing["outside_um"] * 1000), interval(seat["outside_um"] * 1000))
        same = bearing["number"] == seat["number"]
        assert (on is Outcome.HOLDS and inside is Outcome.HOLDS) == same
        code = int(bearing["number"][-2:])
        assert bearing["number"] == "608" or bearing["bore_um"] == {0: 10, 1: 12, 2: 15, 3: 17}[code] * 1000


def choices(world, model, home, shelf):
    """One variable for what each other position takes (None stays), with the cost of each change."""
    takes, terms = {}, []
    for name in world.kinds.keys() - {home}:
        rows = [
            row for row in world.catalogue.designs_of_kind.get(world.kinds[name], ()) if not world.refused(row, name)
        ]
        takes[name] = {None: model.new_bool_var(f"{name}-stays")}
        takes[name] |= {row.key: model.new_bool_var(f"{name}-{row.key}") for row in rows}
        model.add_exactly_one(takes[name].values())
        for row in rows:
            buy = row.key not in shelf
            price = (row.price_minor or 0) if buy else 0
            terms.append((takes[name][row.key], (1, 0, int(buy), int(buy and row.price_minor is None), price)))
    return takes, terms


def solved(world, design, home, shelf):
    """The least cost (positions, open, to buy, unpriced, money) by a constraint solver; None when nothing works."""
    model = cp_model.CpModel()
    before = world.states({home: design.values})
    broke = {(mate, frozenset((a, b))) for (mate, a, b), state in before.items() if state == "breaks"}
    takes, terms = choices(world, model, home, shelf)
    values = {row.key: row.values for row in world.catalogue.designs}
    opened = {}
    for mate, a, b in world.pairs():
        for one in takes.get(a, {home: None}):
            for two in takes.get(b, {home: None}):
                put_in = {home: design.values}
                put_in |= {name: values[key] for name, key in ((a, one), (b, two)) if name != home and key is not None}
                if a not in put_in and b not in put_in:
                    continue
                lits = [takes[name][key] for name, key in ((a, one), (b, two)) if name != home]
                state = world.states(put_in)[mate.key, a, b]
                pair = (mate.key, frozenset((a, b)))
                if state == "breaks" or (pair in broke and state != "holds"):
                    model.add_bool_or([lit.negated() for lit in lits])
                elif state == "open":
                    flag = opened.setdefault(pair, model.new_bool_var(str(pair)))
                    model.add_bool_or([*(lit.negated() for lit in lits), flag])
    weights = (10**8, 10**6, 10**4, 10**2, 1)
    terms += [(flag, (0, 1, 0, 0, 0)) for flag in opened.values()]
    model.minimize(sum(flag * sum(w * c for w, c in zip(weights, cost, strict=True)) for flag, cost in terms))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    assert status == cp_model.OPTIMAL
    return tuple(sum(solver.value(flag) * cost[place] for flag, cost in terms) for place in range(5))


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(catalogues())
def test_companions_cost_what_an_independent_solver_finds(catalogue):
    """Source: OR-tools CP-SAT, a general-purpose solver; the model is written from the words."""
    shelf = frozenset(row.key for row in catalogue.designs[::3])
    compared = 0
    for design, model, position in questions(catalogue)[:12]:
        for finding in judge_model(catalogue, part_of_design(design), model, position, Shelf(shelf)):
            year = finding.years.from_year or finding.years.to_year
            world = World(catalogue, model, year)
            if "breaks" not in world.states({position: design.values}).values():
                continue
            compared += 1
            least = solved(world, design, position, shelf)
            told = {each.claim.verdict for each in finding.heard if each.claim.origin == "mates"}
            if len(told) > 1:
                continue
            assert told == {"wont_fit" if least is None else "with_companions"}
            again = smallest_change(catalogue, part_of_design(design), Site(world.model, position), year, Shelf(shelf))
            assert (least is None) == isinstance(again, Impossible)
            if finding.companions is not None:
                changes = {each.position: each.design for each in finding.companions.changes}
                opened = {tuple(sorted(names.items())): count for count, names in world.sets(design.values, position)}
                assert world.cost(opened[tuple(sorted(changes.items()))], changes, shelf) == least
    assume(compared)
