"""Fields for what can be measured on a part of a kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from stash.errors import InvalidInput
from stash.fit.facts import Measure
from stash.kernel.tables import Cell, Column
from stash.key.taking import way_of
from stash.services.identify import asked
from stash.web.forms import Field, Form, choices
from stash.web.shop import store

PREFIX = "m-"


def measure_fields(kind: str, values: Mapping[str, str]) -> tuple[Field, ...]:
    """Return a field for every measure of a kind, quickest first.

    Args:
        kind: Kind key.
        values: ``{measure: what stands in it}``.
    """
    return tuple(measure_field(each.measure, values.get(each.measure.key, "")) for each in asked(store(), kind, {}))


def measure_field(measure: Measure, value: str) -> Field:
    """Return the field of one measure, with how to take it."""
    unit = f" ({measure.unit})" if measure.unit else ""
    column = Column(PREFIX + measure.key, Cell.EXACT if measure.type == "number" else Cell.MEASURED)
    words = {"yes_no": ("yes", "no"), "choice": measure.choices}.get(measure.type, ())
    options = choices(words, blank="can't see") if words else ()
    return Field(column, value, label=f"{measure.name}{unit}", hint=measure.how, options=options, way=way_of(measure))


def measured(form: Form) -> dict[str, str]:
    """Return ``{measure: text}`` of a form's measure fields."""
    return {each.name.removeprefix(PREFIX): each.value for each in form.fields if each.name.startswith(PREFIX)}


def plain(form: Form) -> dict[str, str]:
    """Return ``{column: text}`` of a form's other fields."""
    return {each.name: each.value for each in form.fields if not each.name.startswith(PREFIX)}


def beside_measures(error: InvalidInput, form: Form) -> InvalidInput:
    """Return an error whose problems with measured values stand beside their fields."""
    filled = [measure for measure, text in measured(form).items() if text.strip()]
    problems = tuple(
        replace(problem, column=PREFIX + filled[problem.row - 1])
        if problem.table == "lot_measures" and 0 < problem.row <= len(filled)
        else problem
        for problem in error.problems
    )
    return InvalidInput(error.message, error.hint, problems)
