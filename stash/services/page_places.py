"""Places as screens show them: the tree in walking order, and the way to one of them."""

from __future__ import annotations

from dataclasses import dataclass

from stash.db.store import Store
from stash.plan.facts import Place, Stock


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """A place in the tree.

    Args:
        place: The place.
        depth: How deep it lies below where the tree begins, from 0.
        lots: Lots that lie in it itself.
        machines: Machines that stand in it itself.
        places: Places directly inside it.
    """

    place: Place
    depth: int
    lots: int
    machines: int
    places: int


def tree(stock: Stock, inside: str = "") -> tuple[PlaceLine, ...]:
    """Return places in walking order, each followed by what is inside it.

    Args:
        stock: What is kept where.
        inside: Only what is inside this place; "" for all.
    """
    within: dict[str, list[Place]] = {}
    for place in sorted(stock.places.values(), key=lambda row: (row.name, row.code)):
        within.setdefault(place.inside if place.inside in stock.places else "", []).append(place)
    lots, machines = _counted(stock)
    found: list[PlaceLine] = []

    def visit(code: str, depth: int) -> None:
        for place in within.get(code, ()):
            key = place.code
            line = PlaceLine(place, depth, lots.get(key, 0), machines.get(key, 0), len(within.get(key, ())))
            found.append(line)
            visit(key, depth + 1)

    visit(inside, 0)
    return tuple(found)


def all_places(store: Store) -> tuple[PlaceLine, ...]:
    """Return all places in walking order, each followed by what is inside it."""
    stock = store.stock()
    return store.derived("places in walking order", stock, lambda: tree(stock))


def path(stock: Stock, place: Place) -> tuple[Place, ...]:
    """Return the places around a place, outermost first, itself not among them."""
    around: list[Place] = []
    code, seen = place.inside, {place.code}
    while code in stock.places and code not in seen:
        seen.add(code)
        around.append(stock.places[code])
        code = stock.places[code].inside
    return tuple(reversed(around))


def _counted(stock: Stock) -> tuple[dict[str, int], dict[str, int]]:
    lots = {place: len(held) for place, held in stock.lots_in.items()}
    machines: dict[str, int] = {}
    for machine in stock.machines.values():
        machines[machine.place] = machines.get(machine.place, 0) + 1
    return lots, machines
