"""The bench sums as one sheet: what was typed, or what a machine, a build or a model gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

from stash.bench.bearings import BEARINGS
from stash.bench.comparing import EngineSizes
from stash.bench.law import Crossing, displacement_line
from stash.bench.seats import CASE_METALS
from stash.bench.worksheet import Worked, read_inputs, worked
from stash.db.store import Store
from stash.errors import InvalidInput, NotFound
from stash.fit.facts import Machine
from stash.services.checks import as_planned
from stash.services.engine_sums import as_stock, engine_sizes
from stash.services.titles import machine_title, model_title

_INPUT_OF = {
    "bore_mm": "bore_mm",
    "stroke_mm": "stroke_mm",
    "rod_centres_mm": "rod_centres_mm",
    "chamber_cm3": "chamber_cm3",
    "exhaust_top_mm": "exhaust_top_mm",
    "limit_rpm": "limit_rpm",
    "reciprocating_g": "mass_g",
    "bearing": "bearing",
    "case_metal": "case_metal",
}
"""``{size of an engine: input of the sheet}``."""


@dataclass(frozen=True, slots=True)
class Begun:
    """What the sheet begins with.

    Args:
        title: The machine, build or model it comes from.
        type: machine, build or model; "" for nothing.
        key: Its code or key.
        texts: ``{input: text}`` its parts give.
    """

    title: str = ""
    type: str = ""
    key: str = ""
    texts: Mapping[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """The sheet with what was typed.

    Args:
        texts: ``{input: text}`` as typed or begun with.
        wrong: ``{input: what is wrong with it}``.
        worked: Every sum: done, or what it still needs.
        crossings: How the displacement stands to the lines by law.
    """

    texts: Mapping[str, str]
    wrong: Mapping[str, InvalidInput]
    worked: tuple[Worked, ...]
    crossings: tuple[Crossing, ...]


def begin(store: Store, ref: str) -> Begun:
    """Return what a machine, a build or a model gives the sheet.

    Args:
        store: The database.
        ref: A machine's code, a build's key, or ``model:KEY``; "" for nothing.

    Raises:
        NotFound: Nothing goes by that name.
    """
    if not ref:
        return Begun()
    catalogue, stock = store.catalogue(), store.stock()
    head, colon, key = ref.partition(":")
    if colon and head == "model":
        if key not in catalogue.model:
            raise NotFound(f"No model goes by {key!r}", "Look in the list of models.")
        machine = Machine("", key, None)
        return Begun(model_title(catalogue, key), "model", key, _texts(engine_sizes(catalogue, machine)))
    machine = as_planned(catalogue, stock, ref)
    now, before = engine_sizes(catalogue, machine), engine_sizes(catalogue, as_stock(machine))
    texts = _texts(now)
    if before.reciprocating_g and before.reciprocating_g != now.reciprocating_g:
        texts["mass_before_g"] = f"{before.reciprocating_g:g}"
    build = stock.builds.get(ref)
    title, kind, name = (
        (build.name, "build", ref) if build else (machine_title(catalogue, machine), "machine", machine.code)
    )
    return Begun(title, kind, name, texts)


def sheet(store: Store, texts: Mapping[str, str]) -> Sheet:
    """Do the sums that what was typed allows.

    Args:
        store: The database; it holds the owner's lines by law.
        texts: ``{input: text}``.
    """
    values, wrong = read_inputs(texts)
    done = worked(values)
    swept = next((each.sum.value for each in done if each.sum and each.sum.key == "displacement_cm3"), None)
    crossings = () if swept is None else tuple(displacement_line(swept, None, line) for line in store.stock().law_lines)
    return Sheet(texts, wrong, done, crossings)


def _texts(sizes: EngineSizes) -> dict[str, str]:
    found = {_INPUT_OF[each.name]: getattr(sizes, each.name) for each in fields(sizes) if each.name in _INPUT_OF}
    texts = {key: value if isinstance(value, str) else f"{value:.10g}" for key, value in found.items() if value}
    if sizes.cylinders > 1:
        texts["cylinders"] = str(sizes.cylinders)
    return texts


STANDARD_BEARINGS = tuple(BEARINGS)
"""Designations to offer."""
METALS = tuple(CASE_METALS)
"""Case metals to offer."""
