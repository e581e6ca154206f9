"""Columns of lists for people: each with its heading and how its value is found, chosen and filtered by key."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Generic, TypeVar

from stash.errors import InvalidInput
from stash.exchange.flat.listing import Heading, Listing, Value, shown

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Column(Generic[Item]):
    """One column: its heading, its value for an item, and whether it is shown when nobody chooses."""

    heading: Heading
    value: Callable[[Item], Value]
    usual: bool = True


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person wants of a list.

    Args:
        columns: Keys of the columns, in their order; none for the usual ones.
        where: ``{column key: words}``: only rows whose cell holds all the words, in any case; a column need not be
            shown to be filtered by. An empty text asks for an empty cell.
        all: Also what the list leaves out by itself, such as lots with nothing left in them.
    """

    columns: tuple[str, ...] = ()
    where: Mapping[str, str] = field(default_factory=dict)
    all: bool = False


def column(
    key: str,
    name: str,
    value: Callable[[Item], Value],
    type_: str = "text",
    wide: int = 14,
    *,
    usual: bool = True,
    total: bool = False,
) -> Column[Item]:
    """Return a column; ``type_`` is one of ``listing.TYPES``, ``wide`` counts characters."""
    return Column(Heading(key, name, type_, wide, total), value, usual)


def listed(
    title: str, columns: Sequence[Column[Item]], items: Iterable[Item], wish: Wish, notes: tuple[str, ...] = ()
) -> Listing:
    """Make a list of items; rows are worked out as they are taken.

    Raises:
        InvalidInput: A column that is chosen or filtered by is none of the list's.
    """
    known = {each.heading.key: each for each in columns}
    for key in (*wish.columns, *wish.where):
        if key not in known:
            near = get_close_matches(key, known, 1)
            hint = f"Did you mean {near[0]}?" if near else "The columns are: " + ", ".join(known) + "."
            raise InvalidInput(f"The list has no column {key!r}", hint)
    chosen = [known[key] for key in dict.fromkeys(wish.columns)] or [each for each in columns if each.usual]
    filters = [(known[key], words.casefold().split()) for key, words in wish.where.items()]

    def rows() -> Iterator[tuple[Value, ...]]:
        for item in items:
            if all(_holds(each, words, item) for each, words in filters):
                yield tuple(each.value(item) for each in chosen)

    told = tuple(f"{known[key].heading.name}: {words or 'empty'}" for key, words in wish.where.items())
    choice = tuple(each.heading for each in columns)
    return Listing(title, tuple(each.heading for each in chosen), rows(), (*notes, *told), choice)


def _holds(asked: Column[Item], words: Sequence[str], item: Item) -> bool:
    text = shown(asked.heading, asked.value(item)).casefold()
    return all(word in text for word in words) if words else not text
