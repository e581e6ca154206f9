"""What templates call things: names for keys and codes, from one snapshot for each page."""

from __future__ import annotations

from functools import cached_property

from flask import Flask

from stash.fit.beating import Heard
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part
from stash.fit.facts import Lot, Machine
from stash.fit.mates import MateState
from stash.fit.settle import Measurement
from stash.fit.wording import beaten_reason, design_name, mate_sentence, measurement_sentence
from stash.plan.facts import Stock
from stash.services import titles
from stash.web.shop import store


class Names:
    """Names of things, looked up when a template first asks."""

    @cached_property
    def catalogue(self) -> Catalogue:
        """The facts."""
        return store().catalogue()

    @cached_property
    def stock(self) -> Stock:
        """What is owned and kept."""
        return store().stock()

    def design(self, key: str) -> str:
        """A design."""
        return design_name(self.catalogue, key)

    def kind(self, key: str) -> str:
        """A kind of part."""
        return titles.kind_name(self.catalogue, key)

    def model(self, key: str) -> str:
        """A model with its maker."""
        return titles.model_title(self.catalogue, key) if key in self.catalogue.model else key

    def maker(self, key: str) -> str:
        """A maker."""
        return self.catalogue.maker[key].name if key in self.catalogue.maker else key

    def family(self, key: str) -> str:
        """A family."""
        return self.catalogue.family[key].name if key in self.catalogue.family else key

    def generation(self, key: str) -> str:
        """A generation with its family."""
        known = self.catalogue.generation.get(key)
        return f"{self.family(known.family)}: {known.name}" if known else key

    def place(self, code: str) -> str:
        """A place with what it is inside."""
        return titles.place_path(self.stock, code)

    def bin(self, code: str) -> str:
        """A place by its own name alone."""
        known = self.stock.places.get(code)
        return known.name if known else code

    def lot(self, lot: Lot | str) -> str:
        """A lot."""
        known = self.stock.lots.get(lot) if isinstance(lot, str) else lot
        return titles.lot_title(self.catalogue, known) if known else str(lot)

    def machine(self, machine: Machine | str) -> str:
        """A machine with its year."""
        known = self.stock.machines.get(machine) if isinstance(machine, str) else machine
        return titles.machine_title(self.catalogue, known) if known else str(machine)

    def measure(self, kind: str, key: str) -> str:
        """A measure of a kind."""
        known = self.catalogue.measure.get((kind, key))
        return known.name if known else key

    def mate_name(self, key: str) -> str:
        """A mate."""
        return self.catalogue.mate[key].name if key in self.catalogue.mate else key

    def build(self, key: str) -> str:
        """A build."""
        return self.stock.builds[key].name if key in self.stock.builds else key

    def ref(self, table: str, key: str) -> str:
        """What a cell refers to, by name."""
        named = {
            "designs": self.design,
            "kinds": self.kind,
            "models": self.model,
            "makers": self.maker,
            "families": self.family,
            "generations": self.generation,
            "places": self.place,
            "machines": self.machine,
            "lots": self.lot,
            "mates": self.mate_name,
            "builds": self.build,
        }
        return named[table](key) if table in named else key

    def value(self, kind: str, key: str, value: object) -> str:
        """A measured value with its name and unit."""
        return titles.value_text(self.catalogue, kind, key, value)  # type: ignore[arg-type]

    def mate(self, kind: str, state: MateState) -> str:
        """How a mate stands, with both values."""
        return mate_sentence(self.catalogue, kind, state)

    def item(self, alternatives: tuple[str, ...]) -> str:
        """A demanded companion: one of some designs or kinds."""
        known = self.catalogue
        return " or ".join(self.design(key) if key in known.design else self.kind(key) for key in alternatives)

    def to_find_out(self, part: Part, wanted: Measurement) -> str:
        """What to measure or to look at, and on what."""
        return measurement_sentence(self.catalogue, part, wanted)

    def beaten(self, heard: Heard, among: tuple[Heard, ...]) -> str:
        """Why a claim does not count."""
        return beaten_reason(self.catalogue, heard, among)


def teach(app: Flask) -> None:
    """Give every page its names."""

    @app.context_processor
    def _names() -> dict[str, object]:
        return {"names": Names()}
