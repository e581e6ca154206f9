"""Lists for people by name, written in the form a file's ending says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from stash.db.store import Store
from stash.errors import InvalidInput, StorageError
from stash.exchange import write_atomically
from stash.exchange.flat.listing import ENDINGS as FLAT_ENDINGS
from stash.exchange.flat.listing import Heading, Listing, shown
from stash.exchange.flat.listing import render as render_flat
from stash.services.people_buying import buy_list
from stash.services.people_columns import Wish
from stash.services.people_lots import lots_list
from stash.services.people_machines import collection_list, insurance_list

__all__ = ["ENDINGS", "LISTS", "Heading", "Listing", "Wish", "make", "render", "save", "shown", "write"]

LISTS: dict[str, tuple[str, str, Callable[[Store, Wish], Listing]]] = {
    "parts": ("Loose parts", "loose parts, what each fits and which gap it fills", lots_list),
    "machines": ("The collection", "the collection, with what is not as it left the factory", collection_list),
    "buy": ("To buy", "what is short and nothing on the shelf fills", buy_list),
    "insurance": ("For the insurer", "machines with photos, and loose parts summed up", insurance_list),
}
"""``{name: (title, what it lists, how)}``."""
ENDINGS = (*FLAT_ENDINGS, ".pdf")


def make(store: Store, what: str, wish: Wish | None = None) -> Listing:
    """Return a list by its name; its rows are worked out as they are taken, once.

    Raises:
        InvalidInput: There is no such list or column.
    """
    if what not in LISTS:
        raise InvalidInput(f"There is no list {what!r}", "The lists are: " + ", ".join(LISTS) + ".")
    return LISTS[what][2](store, wish or Wish())


def render(listing: Listing, ending: str) -> bytes:
    """Return a list's bytes.

    Args:
        listing: The list.
        ending: One of ``ENDINGS``.

    Raises:
        InvalidInput: The ending is another one.
    """
    if ending == ".pdf":
        from stash.services.people_pdf import render_pdf

        return render_pdf(listing)
    if ending not in ENDINGS:
        raise InvalidInput(f"{ending or 'No ending'} is no form a list comes in", f"Use one of: {', '.join(ENDINGS)}.")
    return render_flat(listing, ending)


def write(listing: Listing, path: Path) -> None:
    """Write a list into a file, in the form its ending says; an old file stays until the new one is whole.

    Raises:
        InvalidInput: The ending is none of ours.
        StorageError: The disk would not do it.
    """
    save(path, render(listing, path.suffix.lower()))


def save(path: Path, data: bytes) -> None:
    """Write a file whole or not at all.

    Raises:
        StorageError: The disk would not do it.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, data)
    except OSError as error:
        raise StorageError(f"{path} can't be written: {error.strerror}", "Check the disk and your rights.") from error
