"""Verdicts asked once: equal parts at equal sites share one answer.

Two lots of one design without measures of their own are one part. Two machines are one site for a position when
nothing that its verdict can depend on differs: model, year, what is fitted wherever mates lead from that position,
and fitted designs that some rule names as companions.
"""

from __future__ import annotations

from collections.abc import Hashable
from functools import cached_property

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, Site
from stash.fit.companions import NO_SHELF, Shelf
from stash.fit.facts import Machine
from stash.fit.findings import Finding
from stash.fit.table import VerdictTable
from stash.plan.spots import Comparing, Spot, part_signature


class Judge:
    """Judges parts and remembers the answers; good for as long as the catalogue stays the same.

    Machines and lots may change between questions: what they are made of is part of the question.

    Args:
        catalogue: The facts.
        shelf: What lies on the shelf, for choosing among companions.
    """

    def __init__(self, catalogue: Catalogue, shelf: Shelf = NO_SHELF) -> None:
        self.catalogue = catalogue
        self.comparing = Comparing()
        self._shelf = shelf
        self._spots: dict[Hashable, Spot] = {}
        self._reaches: dict[tuple[str, str], frozenset[str]] = {}

    def spot(self, model: str, position: str, machine: Machine | None) -> Spot:
        """Return a position of a model, or of one machine of that model, with all that is remembered of it."""
        signature = self._site_signature(model, position, machine)
        known = self._spots.get(signature)
        if known is None:
            site = Site(self.catalogue.model[model], position, machine)
            known = self._spots[signature] = Spot(self.catalogue, site, self._shelf)
        return known

    def on_model(self, part: Part, model: str, position: str) -> tuple[Finding, ...]:
        """Judge a part at a position of a model, over all its years, in order of years."""
        return self.spot(model, position, None).findings(part, part_signature(part))

    def on_models(self, part: Part) -> dict[tuple[str, str], tuple[str, ...]]:
        """Return ``{(model, position): verdicts over its years}`` for every position that takes a part's kind.

        For a design, or a lot with no sizes of its own, all are found at once.
        """
        if self.is_of_design(part):
            row = self.table.row(part.design)
            return {target: tuple(cell.verdict for cell in cells) for target, cells in row.items()}
        return {
            (model, position): tuple(finding.verdict for finding in self.on_model(part, model, position))
            for model in self.catalogue.models_with_kind.get(part.kind, ())
            for position in self.catalogue.positions_of_kind[model][part.kind]
        }

    def is_of_design(self, part: Part) -> bool:
        """Tell whether a part is what its design says, without a size of its own."""
        design = self.catalogue.design.get(part.design)
        return design is not None and part.values == design.values

    @cached_property
    def table(self) -> VerdictTable:
        """All verdicts of the catalogue, without reasons."""
        return VerdictTable(self.catalogue)

    def on_machine(self, part: Part, machine: Machine, position: str) -> Finding:
        """Judge a part at a position of a machine as built."""
        return self.spot(machine.model, position, machine).findings(part, part_signature(part))[0]

    def _site_signature(self, model: str, position: str, machine: Machine | None) -> Hashable:
        """Everything about a position that a verdict there can depend on."""
        if machine is None:
            return (model, position)
        reach, sheet = self._reach(model, position), self.catalogue.positions[model]
        around = []
        carried = set()
        for name, row in sorted(machine.fitted.items()):
            if name == position:
                continue
            if name in reach or name not in sheet:
                around.append((name, row.state, row.design, tuple(sorted(row.values.items()))))
            if row.state == "present" and row.design in self._companions:
                carried.add(row.design)
        own_rules = machine.code if machine.code in self._named_machines else ""
        return (model, position, machine.year, own_rules, tuple(around), frozenset(carried))

    def _reach(self, model: str, position: str) -> frozenset[str]:
        """The positions that mates lead to from this one, in any number of steps."""
        known = self._reaches.get((model, position))
        if known is None:
            positions = self.catalogue.positions[model]
            present = {row.kind for row in positions.values()}
            seen, ahead = {positions[position].kind}, [positions[position].kind]
            while ahead:
                new = (self._met.get(ahead.pop(), frozenset()) & present) - seen
                seen |= new
                ahead.extend(new)
            known = frozenset(name for name, row in positions.items() if row.kind in seen)
            self._reaches[model, position] = known
        return known

    @cached_property
    def _met(self) -> dict[str, frozenset[str]]:
        """``{kind: kinds it meets}``."""
        return {
            kind: frozenset(touch.far_kind for touch in touches) for kind, touches in self.catalogue.touches.items()
        }

    @cached_property
    def _companions(self) -> frozenset[str]:
        """Every design that some rule names as a companion."""
        return frozenset(name for rule in self.catalogue.rules for item in rule.companions for name in item)

    @cached_property
    def _named_machines(self) -> frozenset[str]:
        """Machines that some rule is about."""
        return frozenset(rule.machine for rule in self.catalogue.rules if rule.machine)
