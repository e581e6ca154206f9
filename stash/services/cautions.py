"""What to mind where parts are handled: said once, with the kinds it is about."""

from __future__ import annotations

from collections.abc import Iterable

from stash.bench.cautions import to_say
from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_lot
from stash.fit.facts import Lot

METAL = "metal"
"""The measure, in the starter vocabulary, that says what a part is made of."""
Mind = tuple[str, tuple[str, ...]]
"""A caution, and the names of the kinds it is about."""


def cautions_of(catalogue: Catalogue, kind: str, action: str = "", metal: str = "") -> tuple[str, ...]:
    """Return what to say where a part of a kind is handled.

    Args:
        catalogue: The facts.
        kind: The kind's key; "" for none.
        action: What is being done, such as ``strip``; "" for fitting and looking.
        metal: What the part is made of, where known.
    """
    known = catalogue.kind.get(kind)
    if known is None:
        return to_say("", action=action) if action else ()
    return to_say(kind, known.caution, system=known.system, action=action, metal=metal)


def metal_of(catalogue: Catalogue, lot: Lot) -> str:
    """Return what a loose part is made of, as far as it is on record; "" where not."""
    value = part_of_lot(catalogue, lot).values.get(METAL)
    return value if isinstance(value, str) else ""


def mind(catalogue: Catalogue, parts: Iterable[tuple[str, str]]) -> tuple[Mind, ...]:
    """Return what to mind on a list of parts, each caution once, in order of first need.

    Args:
        catalogue: The facts.
        parts: ``(kind key, what it is made of or "")`` of each part.
    """
    said: dict[str, list[str]] = {}
    for kind, metal in dict.fromkeys(parts):
        name = catalogue.kind[kind].name if kind in catalogue.kind else kind
        for text in cautions_of(catalogue, kind, metal=metal):
            names = said.setdefault(text, [])
            if name not in names:
                names.append(name)
    return tuple((text, tuple(names)) for text, names in said.items())
