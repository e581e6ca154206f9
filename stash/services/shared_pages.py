"""What a shared link shows: as much as its list needs, and nothing of places, people or prices."""

from __future__ import annotations

from dataclasses import dataclass

from stash.db.store import Store
from stash.errors import NotFound
from stash.services.gaps import gaps
from stash.services.home import gap_title
from stash.services.titles import how_many, kind_name, lot_title, model_title
from stash.services.uses import gaps_filled


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a shared list: what it is about, and what more there is to say of it."""

    title: str
    more: tuple[str, ...] = ()


def shown_list(store: Store, what: str) -> tuple[Line, ...]:
    """Return a list that can be shared.

    Args:
        store: The database.
        what: ``gaps``, ``wanted`` or ``swap``.
    """
    return {"gaps": _gaps, "wanted": _wanted, "swap": _swap}[what](store)


def family_kinds(store: Store, family: str) -> tuple[tuple[str, str], ...]:
    """Return the kinds that the models of a family take: (key, name), by name.

    Raises:
        NotFound: The family is gone.
    """
    catalogue = store.catalogue()
    if family not in {each.key for each in catalogue.families}:
        raise NotFound(f"There is no family {family!r}", "Ask whoever gave you the link for a new one.")
    models = [key for key, model in catalogue.model.items() if catalogue.generation[model.generation].family == family]
    kinds = {kind for key in models for kind in catalogue.positions_of_kind[key]}
    return tuple(sorted(((kind, kind_name(catalogue, kind)) for kind in kinds), key=lambda pair: pair[1]))


def _gaps(store: Store) -> tuple[Line, ...]:
    """What stays short once the shelf has given what it has."""
    catalogue, stock = store.catalogue(), store.stock()
    lines = []
    for gap in gaps(store):
        kinds = {short.position: short.kind for short in gap.short}
        short = tuple(
            f"{kind_name(catalogue, kinds[position])}, {position}: {quantity}" for position, quantity in gap.still_short
        )
        if short:
            lines.append(Line(gap_title(catalogue, stock, gap), short))
    return tuple(lines)


def _wanted(store: Store) -> tuple[Line, ...]:
    catalogue = store.catalogue()
    return tuple(sorted((Line(model_title(catalogue, each.model)) for each in store.stock().wanted), key=_by_title))


def _swap(store: Store) -> tuple[Line, ...]:
    """Identified loose parts that no gap here asks for and no build has decided on."""
    catalogue, stock = store.catalogue(), store.stock()
    needed = set(gaps_filled(store)) | {part.lot for build in stock.builds.values() for part in build.parts}
    spare = [
        lot
        for lot in stock.lots.values()
        if lot.quantity > 0 and lot.design and lot.condition != "scrap" and lot.code not in needed
    ]
    lines = [
        Line(
            lot_title(catalogue, lot),
            tuple(filter(None, (f"{kind_name(catalogue, lot.kind)}: {how_many(lot)}", lot.condition, lot.number_seen))),
        )
        for lot in spare
    ]
    return tuple(sorted(lines, key=_by_title))


def _by_title(line: Line) -> tuple[str, tuple[str, ...]]:
    return line.title.casefold(), line.more
