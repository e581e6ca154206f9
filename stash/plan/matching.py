"""Which options go together inside one variant, told by groups: options that no mate there can tell apart.

::

    piston options   {38.0 pin 10} {38.0 pin 12} {38.2 pin 10}
                           |  x      x  |              x
    bearing options  {pin 10}        {pin 12}

What no partner goes with is dropped, again and again, until every option left has a partner at every position it
meets and every companion a rule demands may still come. That is necessary, not enough: the solver decides.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace

from stash.fit.intervals import Known, Outcome
from stash.plan.chains import Domains, Pairing, keep_short_chains
from stash.plan.meeting import Meeting, Meetings
from stash.plan.options import Option, Vacancy, Variant

Group = tuple[Option, ...]
"""Options that no mate with one other position can tell apart."""


class Matching:
    """Pairs options across mates.

    Args:
        meetings: Mates inside a machine.
    """

    def __init__(self, meetings: Meetings) -> None:
        self._meetings = meetings
        self._narrowed: dict[Hashable, Domains | None] = {}

    def beside(self, model: str, one: str, here: Option, other: str, options: Sequence[Option]) -> list[bool]:
        """Tell of each option at another position whether it goes together with an option at one."""
        met = self._meetings.between(model, one, other)
        if one < other:
            return [all(self._good(meeting, one, here, other, there) for meeting in met) for there in options]
        return [all(self._good(meeting, other, there, one, here) for meeting in met) for there in options]

    def meet(self, model: str, one: str, other: str) -> bool:
        """Tell whether two positions meet."""
        return bool(self._meetings.between(model, one, other))

    def narrowed(self, variant: Variant) -> Variant | None:
        """Drop options that can't be part of a complete variant; None when a position is left without any."""
        signature = (
            variant.task.model,
            variant.task.carried,
            tuple((vacancy.position.name, vacancy.options) for vacancy in variant.vacancies),
        )
        if signature not in self._narrowed:
            self._narrowed[signature] = self._narrow(variant)
        domains = self._narrowed[signature]
        if domains is None:
            return None
        return replace(
            variant,
            vacancies=tuple(Vacancy(each.position, domains[each.position.name]) for each in variant.vacancies),
        )

    def mendable(self, variant: Variant) -> Variant:
        """Leave out only what is mended by no short chain; positions may be left without any option."""
        if not any(option.must_hold for vacancy in variant.vacancies for option in vacancy.options):
            return variant
        domains = {vacancy.position.name: vacancy.options for vacancy in variant.vacancies}
        keep_short_chains(domains, self.pairings(variant.task.model, domains))
        vacancies = (Vacancy(each.position, domains[each.position.name]) for each in variant.vacancies)
        return replace(variant, vacancies=tuple(vacancies))

    def pairings(self, model: str, domains: Mapping[str, Sequence[Option]]) -> list[Pairing]:
        """Return the pairings between positions that meet, where not everything goes with everything."""
        found = []
        for (one, other), met in self._meetings.of(model).items():
            if one in domains and other in domains:
                pairing = self._pair(met, one, domains[one], other, domains[other])
                if any(len(partners) < len(pairing.others) for partners in pairing.partners):
                    found.append(pairing)
        return found

    def _pair(
        self, met: Sequence[Meeting], one: str, ones: Sequence[Option], other: str, others: Sequence[Option]
    ) -> Pairing:
        here = _grouped(ones, met, other, early=True)
        there = _grouped(others, met, one, early=False)
        partners = [frozenset(range(len(there)))] * len(here)
        for meeting in met:
            good = self._good_groups(meeting, one, here, other, there)
            partners = [before & found for before, found in zip(partners, good, strict=True)]
        return Pairing(one, other, here, there, tuple(partners))

    def _good_groups(
        self, meeting: Meeting, one: str, here: Sequence[Group], other: str, there: Sequence[Group]
    ) -> list[frozenset[int]]:
        """For each group at one position, the places of those at the other for which one mate is good."""
        (mate, early_is_a), groups = meeting, list[frozenset[int]]()
        ours, theirs = (mate.measure_a, mate.measure_b) if early_is_a else (mate.measure_b, mate.measure_a)
        places: dict[Known | None, set[int]] = defaultdict(set)
        for place, group in enumerate(there):
            places[group[0].ware.part.values.get(theirs)].add(place)
        choosy = {place for place, group in enumerate(there) if (mate.key, one) in group[0].must_hold}
        known: dict[tuple[Known | None, bool], frozenset[int]] = {}
        for group in here:
            key = (group[0].ware.part.values.get(ours), (mate.key, other) in group[0].must_hold)
            if key not in known:
                known[key] = self._good_places(meeting, key, group[0], there, places, choosy)
            groups.append(known[key])
        return groups

    def _good_places(
        self,
        meeting: Meeting,
        key: tuple[Known | None, bool],
        example: Option,
        there: Sequence[Group],
        places: Mapping[Known | None, set[int]],
        choosy: set[int],
    ) -> frozenset[int]:
        """The places where the mate holds, and, where neither side must have it hold, where it is open."""
        good: set[int] = set()
        for found in places.values():
            far = there[next(iter(found))][0].ware.part.values
            outcome = self._meetings.outcome(meeting, example.ware.part.values, far)
            if outcome is Outcome.HOLDS:
                good |= found
            elif outcome is Outcome.OPEN and not key[1]:
                good |= found - choosy
        return frozenset(good)

    def _good(self, meeting: Meeting, one: str, here: Option, other: str, there: Option) -> bool:
        key = meeting[0].key
        outcome = self._meetings.outcome(meeting, here.ware.part.values, there.ware.part.values)
        if (key, other) in here.must_hold or (key, one) in there.must_hold:
            return outcome is Outcome.HOLDS
        return outcome is not Outcome.BREAKS

    def _narrow(self, variant: Variant) -> Domains | None:
        domains = {vacancy.position.name: vacancy.options for vacancy in variant.vacancies}
        if not all(domains.values()):
            return None
        pairings = self.pairings(variant.task.model, domains)
        _settle(domains, pairings, variant.task.carried)
        if any(option.must_hold for options in domains.values() for option in options):
            keep_short_chains(domains, pairings)
            _settle(domains, pairings, variant.task.carried)
        return domains if all(domains.values()) else None


def _settle(domains: Domains, pairings: Sequence[Pairing], carried: frozenset[str]) -> None:
    """Drop what has no partner or no company left, until nothing changes."""
    before = -1
    while before != sum(map(len, domains.values())):
        before = sum(map(len, domains.values()))
        for pairing in pairings:
            _keep_partnered(pairing, domains)
        _keep_accompanied(domains, carried)


def _grouped(
    options: Sequence[Option], met: Sequence[Meeting], far: str, *, early: bool
) -> tuple[tuple[Option, ...], ...]:
    """Group options by what the mates with one other position read of them."""
    measures = [mate.measure_a if early_is_a is early else mate.measure_b for mate, early_is_a in met]
    keys = [(mate.key, far) for mate, _ in met]
    groups: dict[Hashable, list[Option]] = defaultdict(list)
    for option in options:
        values = option.ware.part.values
        must = tuple(key in option.must_hold for key in keys) if option.must_hold else ()
        groups[tuple(values.get(measure) for measure in measures), must].append(option)
    return tuple(tuple(group) for group in groups.values())


def _keep_partnered(pairing: Pairing, domains: Domains) -> None:
    """Keep at both positions only what has a partner left at the other."""
    left, right = set(domains[pairing.one]), set(domains[pairing.other])
    here = {place for place, group in enumerate(pairing.ones) if not left.isdisjoint(group)}
    there = {place for place, group in enumerate(pairing.others) if not right.isdisjoint(group)}
    kept_here = {place for place in here if pairing.partners[place] & there}
    kept_there = frozenset().union(*(pairing.partners[place] for place in kept_here)) & there
    if kept_here != here:
        lonely = {option for place in here - kept_here for option in pairing.ones[place]}
        domains[pairing.one] = tuple(option for option in domains[pairing.one] if option not in lonely)
    if kept_there != there:
        lonely = {option for place in there - kept_there for option in pairing.others[place]}
        domains[pairing.other] = tuple(option for option in domains[pairing.other] if option not in lonely)


def _keep_accompanied(domains: Domains, carried: frozenset[str]) -> None:
    """Drop an option when a companion that a rule demands with it can't come."""
    if not any(option.demands for options in domains.values() for option in options):
        return
    names = {position: names_of(options) for position, options in domains.items()}
    for position, options in domains.items():
        others = carried.union(*(found for name, found in names.items() if name != position))
        domains[position] = tuple(
            option for option in options if all(others.intersection(item) for item in option.demands)
        )


def names_of(options: Sequence[Option]) -> frozenset[str]:
    """Return the designs and kinds of options, the names a rule may call a companion by."""
    return frozenset(name for option in options for name in (option.ware.part.design, option.ware.part.kind) if name)
