"""The first screen: what can I finish, what lacks one part, what needs a look."""

from __future__ import annotations

from dataclasses import dataclass

from stash.db.store import Store
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Lot
from stash.key.lookalikes import mixed
from stash.plan.facts import Place, Stock
from stash.plan.gaps import Gap
from stash.services.gaps import Finishable, finishable, gaps
from stash.services.history import Line, history
from stash.services.titles import machine_title, model_title, place_path


@dataclass(frozen=True, slots=True)
class Pick:
    """One part to take from the shelf.

    Args:
        lot: The lot.
        position: Where it goes on the machine.
        quantity: How many.
        place: Where it lies, outermost place first.
    """

    lot: Lot
    position: str
    quantity: int
    place: str


@dataclass(frozen=True, slots=True)
class Mixed:
    """A bin that holds look-alikes: the pairs and the measure that tells each apart ("" when none does)."""

    place: Place
    pairs: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Home:
    """What the first screen shows.

    Args:
        empty: There is nothing in the stash at all, not even kinds.
        finishable: Gaps by what the shelf can do about them, each taken by itself.
        unidentified: Loose lots nobody has identified, by code.
        mixed: Bins that mix look-alikes, by name.
        recent: The last entries of the history.
    """

    empty: bool
    finishable: Finishable
    unidentified: tuple[Lot, ...]
    mixed: tuple[Mixed, ...]
    recent: tuple[Line, ...]


def home(store: Store, *, recent: int = 8) -> Home:
    """Answer "what can I finish?".

    Args:
        store: The database.
        recent: How many entries of the history to show.
    """
    catalogue, stock = store.catalogue(), store.stock()
    return Home(
        empty=not (catalogue.kinds or catalogue.makers or stock.machines or stock.lots or stock.places),
        finishable=finishable(gaps(store)),
        unidentified=stock.unidentified,
        mixed=mixed_bins(store),
        recent=history(store, limit=recent),
    )


def pick_list(stock: Stock, gap: Gap) -> tuple[Pick, ...]:
    """Return what to take from the shelf to fill a gap, in walking order of the bins."""
    picks = [
        Pick(stock.lots[code], short.position, short.quantity, place_path(stock, stock.lots[code].place))
        for short in gap.short
        for code in short.filled_by
    ]
    return tuple(sorted(picks, key=lambda pick: (pick.place, pick.lot.code)))


def gap_title(catalogue: Catalogue, stock: Stock, gap: Gap) -> str:
    """Return what a gap is about: a machine with its year, or a wanted model."""
    if gap.machine:
        title = machine_title(catalogue, stock.machines[gap.machine])
        return f"{title} (wanted)" if gap.key.startswith("wanted:") else title
    return f"{model_title(catalogue, gap.model)} (wanted, none owned)"


def mixed_bins(store: Store) -> tuple[Mixed, ...]:
    """Return the bins that hold designs which one measure at most tells apart, in order of name."""
    catalogue, stock = store.catalogue(), store.stock()
    known: _Known = store.derived("mixed", catalogue, dict)
    return store.derived("mixed bins", (catalogue, stock), lambda: _mixed_bins(catalogue, stock, known))


_Known = dict[frozenset[str], tuple[tuple[str, str, str], ...]]
"""``{designs of a bin: its look-alikes}``, kept while the facts stay the same: few bins change at a time."""


def _mixed_bins(catalogue: Catalogue, stock: Stock, known: _Known) -> tuple[Mixed, ...]:
    held = {
        code: frozenset(lot.design for lot in inside if lot.design) for code, inside in stock.lots_in.items() if code
    }
    pairs: _Known = {}
    for designs in set(held.values()):
        before = known.get(designs)
        pairs[designs] = mixed(catalogue, designs) if before is None else before
    known.clear()
    known.update(pairs)
    found = (Mixed(stock.places[code], pairs[designs]) for code, designs in held.items())
    return tuple(sorted((each for each in found if each.pairs), key=lambda each: (each.place.name, each.place.code)))


def lots_in(stock: Stock, place: str) -> tuple[Lot, ...]:
    """Return the lots that lie in a place itself, in order of code."""
    return stock.lots_in.get(place, ())
