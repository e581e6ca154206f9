"""A second planner, written from the words alone: it tries everything, and shares nothing with the first but verdicts.

Only for shelves of a few parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from stash.fit.claims import Site, part_of_design
from stash.fit.facts import Machine
from stash.fit.intervals import Outcome
from stash.fit.mates import neighbours
from stash.fit.touching import compare
from stash.fit.verdicts import judge_machine, judge_model

POINTS = {"new": 0, "excellent": 1, "good": 2, "serviceable": 3, "needs_work": 5, "unknown": 5}
USABLE = {"bolts_on", "likely", "with_companions"}


@dataclass(frozen=True)
class Unit:
    """One part that can be had, or as many as wanted when it is bought."""

    design: str
    points: int
    price: int = 0
    donor: str = ""
    bought: bool = False
    place: str = ""


@dataclass(frozen=True)
class Worth:
    """What an answer is worth, better ones larger."""

    value: int
    money: int
    minutes: int
    points: int

    @property
    def order(self):
        return (self.value, -self.money, -self.minutes, -self.points)


def best(catalogue, stock, *, donors=False, buy=False, work=False):
    """Return the best worth, trying every way."""
    units = list(_units(catalogue, stock, donors, buy, work))
    ways = [
        [None, *_ways(catalogue, stock, build, units, work)]
        for build in stock.builds.values()
        if build.status == "open"
    ]
    costs = {row.code: (row.value_u or 0) // 10_000 for row in stock.machines.values()}
    found = [worth for chosen in product(*ways) if (worth := _worth(chosen, costs)) is not None]
    return max(found, key=lambda worth: worth.order)


def _units(catalogue, stock, donors, buy, work):  # noqa: C901 - three sources, one after the other
    good = {"new", "excellent", "good", "serviceable", "unknown"} | ({"needs_work"} if work else set())
    for lot in stock.lots.values():
        kind = catalogue.kind[lot.kind]
        trusted = lot.condition == "new" or (
            lot.condition in {"excellent", "good", "serviceable"} and lot.checked in {"measured", "ran"}
        )
        if lot.condition in good and (trusted or not kind.safety_critical):
            for number in range(lot.quantity):
                yield Unit(lot.design, POINTS[lot.condition], place=f"{lot.code}/{number}")
    for machine in stock.machines.values() if donors else ():
        sheet = catalogue.positions[machine.model]
        for position, row in machine.fitted.items() if machine.state == "donor" else ():
            trusted = row.condition == "new" or not catalogue.kind[sheet[position].kind].safety_critical
            if row.state == "present" and row.condition in good and trusted:
                for number in range(sheet[position].quantity):
                    place = f"{machine.code}/{position}/{number}"
                    yield Unit(row.design, POINTS[row.condition], donor=machine.code, place=place)
    if buy:
        for design in catalogue.designs:
            if design.price_minor is not None:
                yield Unit(design.key, 0, design.price_minor, bought=True)


def _ways(catalogue, stock, build, units, work):
    """Every complete way to build: (build, [(unit, times)], minutes)."""
    machine = stock.machines.get(build.machine)
    sheet = catalogue.positions[build.model]
    empty = [
        position
        for position in sheet.values()
        if machine is None
        or (position.name in machine.fitted and machine.fitted[position.name].state in {"missing", "faulty"})
    ]
    choices = []
    for position in empty:
        of_kind = [unit for unit in units if catalogue.design[unit.design].kind == position.kind]
        found = []
        for chosen in product(of_kind, repeat=position.quantity):
            loose = [unit for unit in chosen if not unit.bought]
            same = len({unit.design for unit in chosen}) == 1
            if same and len(loose) == len(set(loose)) and list(chosen) == sorted(chosen, key=lambda unit: unit.place):
                verdict = _verdict(catalogue, machine, chosen[0].design, build.model, position.name)
                if verdict.verdict in USABLE or (work and verdict.verdict == "with_work"):
                    found.append((position, chosen, verdict))
        choices.append(found)
    for way in product(*choices):
        used = [unit for _, chosen, _ in way for unit in chosen]
        loose = [unit for unit in used if not unit.bought]
        spent = sum(unit.price for unit in used)
        if len(loose) != len(set(loose)) or (build.budget_minor is not None and spent > build.budget_minor):
            continue
        if _goes_together(catalogue, machine, build.model, way) and _accompanied(catalogue, machine, build.model, way):
            yield build, used, sum(verdict.minutes or 0 for _, _, verdict in way)


def _empty(row):
    return row is not None and row.state in {"missing", "faulty"}


def _verdict(catalogue, machine, design, model, position):
    part = part_of_design(catalogue.design[design])
    (by_model,) = judge_model(catalogue, part, model, position)
    if machine is None:
        return by_model
    as_built = judge_machine(catalogue, part, machine, position)
    return by_model if as_built.verdict == "unknown" else as_built


def _goes_together(catalogue, machine, model, way):
    """No mate breaks between two parts that go in, or between one that goes in and one that stays."""
    values = {position.name: catalogue.design[chosen[0].design].values for position, chosen, _ in way}
    sheet = catalogue.positions[model]
    for mate in catalogue.mates:
        for a, b in product(sheet.values(), sheet.values()):
            if a.name == b.name or a.kind != mate.kind_a or b.kind != mate.kind_b:
                continue
            if a.name not in values and b.name not in values:
                continue
            sides = [
                [values[each.name]] if each.name in values else _kept(catalogue, machine, model, each.name)
                for each in (a, b)
            ]
            outcomes = {
                compare(mate, left.get(mate.measure_a), right.get(mate.measure_b))
                for left in sides[0]
                for right in sides[1]
            }
            if outcomes == {Outcome.BREAKS}:
                return False
    return True


def _kept(catalogue, machine, model, position):
    site = Site(catalogue.model[model], position, machine)
    return [each.values for each in neighbours(catalogue, site, position, None)]


def _accompanied(catalogue, machine, model, way):
    for position, _, verdict in way:
        there = {chosen[0].design for other, chosen, _ in way if other is not position}
        there |= {other.kind for other, _, _ in way if other is not position}
        if machine is not None:
            for name, each in catalogue.positions[model].items():
                row = machine.fitted.get(name)
                if row is None or row.state == "present":
                    there |= {each.kind} | ({row.design} if row is not None and row.design else set())
        if not all(there.intersection(item) for item in verdict.demanded):
            return False
    return True


def _worth(chosen, costs):
    ways = [way for way in chosen if way is not None]
    used = [unit for _, units, _ in ways for unit in units]
    loose = [unit for unit in used if not unit.bought]
    if len(loose) != len(set(loose)):
        return None
    donors = {unit.donor for unit in used if unit.donor}
    return Worth(
        value=sum(build.value_u for build, _, _ in ways),
        money=sum(unit.price for unit in used) + sum(costs[donor] for donor in donors),
        minutes=sum(minutes for _, _, minutes in ways),
        points=sum(unit.points for unit in used),
    )


__all__ = ["Machine", "Unit", "Worth", "best"]
