"""What a claim is about, and when one claim's scope lies inside another's.

A scope fills columns; a filled column implies others (a model its generation, family and maker, a generation its
family, a design its kind, maker and generation, a machine its model, a lot its design), and a model and a machine
bound the years. Scope A is narrower than or equal to B when every column B fills is implied by A.

Source: project decision.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Machine, Rule
from stash.kernel.years import ALL_YEARS, Years


@dataclass(frozen=True, slots=True)
class Scope:
    """The columns a claim fills; "" and open years fill nothing."""

    lot: str = ""
    design: str = ""
    kind: str = ""
    part_maker: str = ""
    part_generation: str = ""
    machine: str = ""
    model: str = ""
    generation: str = ""
    family: str = ""
    maker: str = ""
    position: str = ""
    years: Years = ALL_YEARS


_COLUMNS = tuple(field.name for field in fields(Scope) if field.name != "years")


def rule_scope(rule: Rule) -> Scope:
    """Return the columns a rule fills."""
    return Scope(
        design=rule.design,
        kind=rule.kind,
        part_maker=rule.part_maker,
        part_generation=rule.part_generation,
        machine=rule.machine,
        model=rule.model,
        generation=rule.generation,
        family=rule.family,
        maker=rule.maker,
        position=rule.position,
        years=rule.years,
    )


class Scopes:
    """Compares scopes by the facts of one catalogue.

    Args:
        catalogue: The facts that say what implies what.
        machine: The machine in question, if any; scopes name no other.
    """

    def __init__(self, catalogue: Catalogue, machine: Machine | None = None) -> None:
        self._catalogue = catalogue
        self._machine = machine
        self._implied = lru_cache(maxsize=4096)(self._imply)

    def narrower_or_equal(self, a: Scope, b: Scope) -> bool:
        """Tell whether every column ``b`` fills is implied by ``a``."""
        implied = self._implied(a)
        columns = all(not getattr(b, name) or getattr(implied, name) == getattr(b, name) for name in _COLUMNS)
        return columns and implied.years.within(b.years)

    def _imply(self, scope: Scope) -> Scope:
        catalogue = self._catalogue
        model_key, years = scope.model, scope.years
        if scope.machine and self._machine is not None:
            model_key = self._machine.model
            year = self._machine.year
            if year is not None:
                years = years.common(Years(year, year)) or years
        model = catalogue.model.get(model_key)
        if model is not None:
            years = years.common(model.years) or years
        generation = (model.generation if model else "") or scope.generation
        era = catalogue.generation.get(generation)
        design = catalogue.design.get(scope.design)
        return Scope(
            lot=scope.lot,
            design=scope.design,
            kind=design.kind if design else scope.kind,
            part_maker=design.maker if design else scope.part_maker,
            part_generation=design.generation if design else scope.part_generation,
            machine=scope.machine,
            model=model_key,
            generation=generation,
            family=era.family if era else scope.family,
            maker=model.maker if model else scope.maker,
            position=scope.position,
            years=years,
        )
