"""A photo of a shelf read at once: every code of ours on it, what it is, and what fills a gap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from stash.db.store import Store
from stash.errors import InvalidInput
from stash.fit.facts import Lot
from stash.kernel.codes import parse_code
from stash.plan.facts import Stock
from stash.services.find import Found, thing
from stash.services.uses import Use, uses

if TYPE_CHECKING:
    from labels.reading import Corners, Photo


@dataclass(frozen=True, slots=True)
class Seen:
    """One code of ours on a photo.

    Args:
        code: The code.
        thing: What it is on; None when nothing has it (a blank label, or another stash's).
        corners: Where it stands: four (x, y) in pixels of the upright photo, from its top left corner clockwise.
        lots: The lots it stands for: the lot itself, or what lies in the place.
        uses: Those of them that fill a gap.
    """

    code: str
    thing: Found | None
    corners: tuple[tuple[float, float], ...]
    lots: tuple[Lot, ...]
    uses: tuple[Use, ...]

    def as_dict(self) -> dict[str, Any]:
        """The code as plain data."""
        return {
            "code": self.code,
            "type": self.thing.type if self.thing else None,
            "title": self.thing.title if self.thing else "",
            "corners": [[round(x, 1), round(y, 1)] for x, y in self.corners],
            "fills": [
                {"lot": use.lot.code, "gap": gap.key, "position": position, "verdict": verdict}
                for use in self.uses
                for gap, position, verdict in use.gaps
            ],
        }


@dataclass(frozen=True, slots=True)
class PhotoRead:
    """What was read on a photo.

    Args:
        seen: Codes of ours, those that fill a gap first, then from top to bottom; each code once.
        foreign: How many codes of others there were.
        unread: Where codes were found that could not be read.
        width: Pixels across, upright.
        height: Pixels down, upright.
    """

    seen: tuple[Seen, ...]
    foreign: int
    unread: tuple[tuple[tuple[float, float], ...], ...]
    width: int
    height: int


def read(store: Store, data: bytes) -> PhotoRead:
    """Read a photo of labels.

    Args:
        store: The database.
        data: A JPEG, PNG, WebP or HEIC file.

    Raises:
        InvalidInput: The file can't be read as a photo, or is too large.
    """
    photo = _photo(data)
    from labels.reading import code_of

    places: dict[str, Corners] = {}
    foreign = 0
    for reading in photo.readings:
        code = parse_code(code_of(reading.payload) or "")
        if code is None:
            foreign += 1
        else:
            places.setdefault(str(code), reading.corners)
    seen = _seen(store, places)
    ordered = sorted(seen, key=lambda each: (not each.uses, each.corners[0][1], each.corners[0][0]))
    return PhotoRead(tuple(ordered), foreign, tuple(photo.unread), photo.width, photo.height)


def drawn(data: bytes) -> bytes:
    """Return the photo as a JPEG with every code that was found framed, without the file's own notes.

    Raises:
        InvalidInput: The file can't be read as a photo, or is too large.
    """
    from labels.reading import drawn as draw

    photo = _photo(data)
    return draw(data, photo.readings, photo.unread)


def _photo(data: bytes) -> Photo:
    from labels.errors import LabelError
    from labels.reading import read_photo

    try:
        return read_photo(data)
    except LabelError as error:
        raise InvalidInput(error.message, error.hint) from error


def _seen(store: Store, places: dict[str, Corners]) -> list[Seen]:
    catalogue, stock = store.catalogue(), store.stock()
    lots = {code: _lots(stock, code) for code in places}
    distinct = {lot.code: lot for held in lots.values() for lot in held}
    useful = {use.lot.code: use for use in uses(store, distinct.values()) if use.gaps}
    return [
        Seen(
            code,
            thing(catalogue, stock, code),
            corners,
            lots[code],
            tuple(useful[lot.code] for lot in lots[code] if lot.code in useful),
        )
        for code, corners in places.items()
    ]


def _lots(stock: Stock, code: str) -> tuple[Lot, ...]:
    if code in stock.lots:
        return (stock.lots[code],)
    return stock.lots_in.get(code, ())
