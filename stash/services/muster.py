"""The muster: every model there is, family by family and generation by generation, and which of them stand here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from stash.db.store import Store
from stash.fit.facts import Family, Generation, Machine, Model
from stash.plan.gaps import Gap
from stash.plan.holes import KEPT_STATES
from stash.services.gaps import gaps
from stash.services.titles import model_title


@dataclass(frozen=True, slots=True)
class Tile:
    """One model.

    Args:
        model: The model.
        title: What it is called.
        complete: Codes of its machines that lack nothing that is noted.
        short: Codes of its machines that are short of something.
        finishable: Those of the short ones that the shelf would complete, each taken by itself.
        for_parts: Codes of its donors and stripped machines.
        wanted: The gap of a wanted model, "" where it is not wanted or one stands here complete.
    """

    model: Model
    title: str
    complete: tuple[str, ...]
    short: tuple[str, ...]
    finishable: tuple[str, ...]
    for_parts: tuple[str, ...]
    wanted: str

    @property
    def kept(self) -> tuple[str, ...]:
        """Codes of all of its machines but those kept for parts."""
        return (*self.complete, *self.short)

    @property
    def state(self) -> str:
        """``complete``, ``short``, ``parts`` (only donors), ``wanted`` or ``missing``."""
        if self.complete:
            return "complete"
        if self.short:
            return "short"
        if self.wanted:
            return "wanted"
        return "parts" if self.for_parts else "missing"


@dataclass(frozen=True, slots=True)
class Rank:
    """A generation and its models, in the order models are shown."""

    generation: Generation
    tiles: tuple[Tile, ...]


@dataclass(frozen=True, slots=True)
class Muster:
    """All of it.

    Args:
        families: ``(family, its generations, earliest first)``, by name.
        counts: ``{state of a tile: models}``; every state is there.
    """

    families: tuple[tuple[Family, tuple[Rank, ...]], ...]
    counts: dict[str, int]


STATES = ("complete", "short", "wanted", "parts", "missing")
"""States of a tile, fullest first."""


def muster(store: Store) -> Muster:
    """Line up every model with what is owned of it."""
    catalogue, stock, found = store.catalogue(), store.stock(), gaps(store)
    owned: dict[str, list[Machine]] = {}
    for machine in sorted(stock.machines.values(), key=lambda each: each.code):
        if machine.state != "gone":
            owned.setdefault(machine.model, []).append(machine)
    wanted = {gap.model: gap.key for gap in found if gap.key.startswith("wanted:")}
    short = {gap.machine: gap for gap in found if gap.machine and gap.key.startswith("machine:")}
    tiles = [
        _tile(model, model_title(catalogue, key), owned.get(key, ()), short, wanted.get(key, ""))
        for key, model in catalogue.model.items()
    ]
    ranks = [
        Rank(catalogue.generation[key], tuple(row))
        for key, row in groupby(tiles, key=lambda tile: tile.model.generation)
    ]
    families = [
        (catalogue.family[key], tuple(sorted(row, key=lambda rank: rank.generation.ordinal)))
        for key, row in groupby(ranks, key=lambda rank: rank.generation.family)
    ]
    counts = {state: sum(1 for tile in tiles if tile.state == state) for state in STATES}
    return Muster(tuple(sorted(families, key=lambda pair: (pair[0].name, pair[0].key))), counts)


def _tile(model: Model, title: str, owned: Sequence[Machine], short: dict[str, Gap], wanted: str) -> Tile:
    kept = [machine.code for machine in owned if machine.state in KEPT_STATES]
    lacking = tuple(code for code in kept if code in short)
    return Tile(
        model=model,
        title=title,
        complete=tuple(code for code in kept if code not in short),
        short=lacking,
        finishable=tuple(code for code in lacking if short[code].fillable),
        for_parts=tuple(machine.code for machine in owned if machine.state not in KEPT_STATES),
        wanted=wanted,
    )
