"""A position with what surrounds it, and what is known of parts there.

Most parts on a shelf are nothing to most machines. Nobody has said a word about them there, and their sizes settle the
matter; so the sizes are looked at first, and the whole judgement is asked for only where it can say more.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from functools import cached_property, reduce
from operator import and_, or_
from typing import Any, TypeVar

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site
from stash.fit.companions import Shelf
from stash.fit.facts import Mate, Rule
from stash.fit.findings import Finding
from stash.fit.intervals import Known, Outcome
from stash.fit.mates import Neighbour, far_ends, neighbours
from stash.fit.touching import Touch, compare
from stash.fit.verdicts import judge_machine, judge_model
from stash.kernel.years import Years, segments
from stash.plan.sized import Sized, places_of

T = TypeVar("T")

NOT_SHOWN = frozenset({"unknown", "wont_fit"})
"""Verdicts of parts that are no candidates."""


def part_signature(part: Part) -> Hashable:
    """Return what tells two parts apart: the design, and the measures taken on the part itself."""
    return (part.kind, part.design, tuple(sorted((key, part.values[key]) for key in part.own)))


class Comparing:
    """Compares values across mates, each pair of values once."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, Known, Known], Outcome] = {}

    def outcome(self, mate: Mate, a: Known | None, b: Known | None) -> Outcome:
        """Tell whether a mate holds between the values on its two sides."""
        if a is None or b is None:
            return Outcome.OPEN
        question = (mate.key, a, b)
        known = self._known.get(question)
        if known is None:
            known = self._known[question] = compare(mate, a, b)
        return known


class End:
    """A mate at a position, with what stands at its other end.

    Args:
        touch: The mate from our side.
        position: The position at the other end.
        others: What may stand there; none when not known.
    """

    def __init__(self, touch: Touch, position: str, others: tuple[Neighbour, ...]) -> None:
        self.position = position
        self.mate = touch.mate.key
        self._touch = touch
        self._others = others
        self._known: dict[Known | None, Outcome] = {}

    def outcome(self, values: Mapping[str, Known]) -> Outcome:
        """Tell how the mate stands with a part of these values in place."""
        ours = values.get(self._touch.measure)
        known = self._known.get(ours)
        if known is None:
            far = self._touch.far_measure
            found = {self._touch.outcome(ours, other.values.get(far)) for other in self._others}
            known = self._known[ours] = found.pop() if len(found) == 1 else Outcome.OPEN
        return known

    def outcomes_of(self, sized: Sized) -> tuple[int, int]:
        """Return the parts of a shelf for which the mate holds, and those for which it breaks."""
        measure = self._touch.far_measure
        found = [sized.against(self._touch, far) for far in {other.values.get(measure) for other in self._others}]
        holding = reduce(and_, (holds for holds, _ in found), sized.all if found else 0)
        return holding, reduce(and_, (breaks for _, breaks in found), sized.all if found else 0)


@dataclass(frozen=True, slots=True)
class Standing:
    """How a whole shelf stands at a spot: sets of parts, by what their sizes say.

    Args:
        likely: Those for which every mate holds.
        broken: ``{(mate key, position at the other end): those that break it}``.
    """

    likely: int
    broken: Mapping[tuple[str, str], int]

    @property
    def breaking(self) -> int:
        """Those that break any mate."""
        return reduce(or_, self.broken.values(), 0)


class Spot:
    """A position of a model or of one machine; equal parts there are judged once.

    Args:
        catalogue: The facts.
        site: Which position.
        shelf: What lies on the shelf, for choosing among companions.
    """

    def __init__(self, catalogue: Catalogue, site: Site, shelf: Shelf) -> None:
        self._catalogue = catalogue
        self._site = site
        self._shelf = shelf
        self._kind = catalogue.positions[site.model.key][site.position].kind
        self._judged: dict[Hashable, tuple[Finding, ...]] = {}
        self._offered: dict[Hashable, tuple[Finding, ...]] = {}
        self._recalled: dict[Hashable, Any] = {}

    def findings(self, part: Part, signature: Hashable) -> tuple[Finding, ...]:
        """Judge a part: on a model over all its years in order, on a machine as built with one finding."""
        known = self._judged.get(signature)
        if known is None:
            machine, model, position = self._site.machine, self._site.model.key, self._site.position
            if machine is None:
                known = tuple(judge_model(self._catalogue, part, model, position, self._shelf))
            else:
                known = (judge_machine(self._catalogue, part, machine, position, self._shelf),)
            self._judged[signature] = known
        return known

    def offered(self, part: Part, signature: Hashable) -> tuple[Finding, ...]:
        """Judge a part for a hole here; no findings when it is no candidate.

        A part that nobody speaks of and that breaks a mate goes in only with sound parts changed, if at all; that is
        the business of what a part fits, not of filling a hole.
        """
        known = self._offered.get(signature)
        if known is None:
            known = ()
            if self.spoken_of(part) or "likely" in self.sizes_say(part):
                known = self.findings(part, signature)
            if all(finding.verdict in NOT_SHOWN for finding in known):
                known = ()
            self._offered[signature] = known
        return known

    def recall(self, question: Hashable, answer: Callable[[], T]) -> T:
        """Return what was answered to a question about this spot, asking only the first time.

        The answer may depend on nothing but the question and the spot.
        """
        if question not in self._recalled:
            self._recalled[question] = answer()
        known: T = self._recalled[question]
        return known

    def sizes_say(self, part: Part) -> frozenset[str]:
        """Return what the sizes say of a part: ``likely``, ``breaks`` or ``unknown``, in any of the years."""
        return frozenset(_summary(part, ends) for _, ends in self.eras)

    def sizes_in(self, part: Part, year: int | None) -> str:
        """Return what the sizes say of a part in one year: ``likely``, ``breaks`` or ``unknown``."""
        return _summary(part, self._ends_of(year))

    def outcomes(self, part: Part, year: int | None) -> dict[tuple[str, str], Outcome]:
        """Return ``{(mate key, position at the other end): how it stands}`` with the part in place in a year.

        A mate of a kind with itself meets a position twice; the worse of the two counts.
        """
        found: dict[tuple[str, str], Outcome] = {}
        for end in self._ends_of(year):
            key, outcome = (end.mate, end.position), end.outcome(part.values)
            found[key] = max(found.get(key, outcome), outcome, key=_WORSE.index)
        return found

    def spoken_of(self, part: Part) -> bool:
        """Tell whether the factory or any rule says something of the part here, in any year."""
        if part.design in self._came_on:
            return True
        rules = self._catalogue.rules_by_design.get(part.design, ())
        return any(self._about_here(rule) for rule in rules) or any(
            _about(rule, self._catalogue, part) for rule in self._kind_rules
        )

    def spoken_among(self, sized: Sized) -> int:
        """Return which parts of the kind the factory or any rule says something of here."""
        if self._kind_rules:
            return sum(1 << place for place, part in enumerate(sized.parts) if self.spoken_of(part))
        ruled = sized.by_design.keys() & self._catalogue.rules_by_design.keys()
        rules = self._catalogue.rules_by_design
        spoken = {design for design in ruled if any(self._about_here(rule) for rule in rules[design])}
        return reduce(or_, (sized.by_design.get(design, 0) for design in self._came_on | spoken), 0)

    def offered_among(self, sized: Sized) -> list[tuple[int, tuple[Finding, ...]]]:
        """Judge a whole shelf for a hole here: ``(place, findings)`` of each candidate, in order of place."""
        bits = self.spoken_among(sized)
        for _, ends in self.eras:
            bits |= _standing(sized, ends).likely
        asked = ((place, sized.parts[place]) for place in places_of(bits))
        found = ((place, self.offered(part, part_signature(part))) for place, part in asked)
        return [(place, findings) for place, findings in found if findings]

    def standing(self, sized: Sized, year: int | None) -> Standing:
        """Tell how a whole shelf stands here in a year."""
        return _standing(sized, self._ends_of(year))

    @cached_property
    def eras(self) -> tuple[tuple[Years, tuple[End, ...]], ...]:
        """The spans of years within which the same stock stands around, with the mates here."""
        machine, model = self._site.machine, self._site.model
        if machine is not None and machine.year is not None:
            return ((Years(machine.year, machine.year), self._ends_in(machine.year)),)
        rows = [row.years for found in self._catalogue.stock_rows[model.key].values() for row in found]
        return tuple((years, self._ends_in(year_of(years))) for years in segments(model.years, rows))

    def _ends_of(self, year: int | None) -> tuple[End, ...]:
        return next((ends for years, ends in self.eras if year is None or years.contains(year)), self.eras[0][1])

    def _ends_in(self, year: int | None) -> tuple[End, ...]:
        return tuple(
            End(touch, position, neighbours(self._catalogue, self._site, position, year))
            for touch in self._catalogue.touches.get(self._kind, ())
            for position in far_ends(self._catalogue, self._site, touch)
        )

    @cached_property
    def _came_on(self) -> frozenset[str]:
        """Every design that came here from the factory or replaces one that did."""
        stock = {row.design for row in self._catalogue.stock_rows[self._site.model.key].get(self._site.position, ())}
        later = {new for new, older in self._catalogue.forerunners.items() if stock & older}
        return frozenset(stock | later)

    @cached_property
    def _kind_rules(self) -> tuple[Rule, ...]:
        """Rules about every part of the kind, or of a maker or generation."""
        return tuple(rule for rule in self._catalogue.rules_by_kind.get(self._kind, ()) if self._about_here(rule))

    def _about_here(self, rule: Rule) -> bool:
        machine = self._site.machine
        return (
            self._catalogue.is_about(rule, self._site.model)
            and rule.position in {"", self._site.position}
            and (not rule.machine or (machine is not None and machine.code == rule.machine))
        )


_WORSE = (Outcome.HOLDS, Outcome.OPEN, Outcome.BREAKS)


def _standing(sized: Sized, ends: tuple[End, ...]) -> Standing:
    likely = sized.all if ends else 0
    broken: dict[tuple[str, str], int] = {}
    for end in ends:
        holding, breaking = end.outcomes_of(sized)
        likely &= holding
        if breaking:
            key = (end.mate, end.position)
            broken[key] = broken.get(key, 0) | breaking
    return Standing(likely, broken)


def _summary(part: Part, ends: tuple[End, ...]) -> str:
    outcomes = {end.outcome(part.values) for end in ends}
    if Outcome.BREAKS in outcomes:
        return "breaks"
    return "likely" if outcomes == {Outcome.HOLDS} else "unknown"


def _about(rule: Rule, catalogue: Catalogue, part: Part) -> bool:
    design = catalogue.design.get(part.design)
    return (not rule.part_maker or (design is not None and design.maker == rule.part_maker)) and (
        not rule.part_generation or (design is not None and design.generation == rule.part_generation)
    )


def year_of(years: Years) -> int | None:
    """Return a year that stands for a whole span; None when it is open at both ends."""
    return years.from_year if years.from_year is not None else years.to_year
