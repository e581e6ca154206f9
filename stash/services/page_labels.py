"""What the page for printing labels shows besides the labels: a picture of the first page, and a calibration page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stash.db.store import Store
from stash.errors import InvalidInput
from stash.services.labels import Printing, label_stocks

if TYPE_CHECKING:
    from labels.stocks import Stock as LabelStock


def picture(pdf: bytes) -> tuple[bytes, int]:
    """Return the first page of a PDF as a PNG, and how many pages there are."""
    from labels.preview import page_count, png

    return png(pdf, 1, dpi=80), page_count(pdf)


def calibration(printing: Printing, store: Store | None = None) -> bytes:
    """Return a calibration page for a stock as a PDF.

    Args:
        printing: The stock, and the offsets and scale in force.
        store: The database, for the owner's own stocks.

    Raises:
        InvalidInput: The stock is unknown, or a number is out of range.
    """
    from labels.calibration import page
    from labels.errors import LabelError

    stock = label_stocks(store).get(printing.stock)
    if stock is None:
        raise InvalidInput(f"There is no label stock {printing.stock!r}", "Choose one from the list.")
    try:
        return page(stock, offset_x_mm=printing.offset_x_mm, offset_y_mm=printing.offset_y_mm, scale=printing.scale)
    except LabelError as error:
        raise InvalidInput(error.message, error.hint) from error


def page_of(stock: LabelStock) -> bytes:
    """Return a page of a stock as a PNG: rulers, and the edges of its labels.

    Raises:
        InvalidInput: It can't be drawn.
    """
    from labels.calibration import page
    from labels.errors import LabelError
    from labels.preview import png

    try:
        return png(page(stock), 1, dpi=60)
    except LabelError as error:
        raise InvalidInput(error.message, error.hint) from error


def calibration_steps(stock: str, store: Store | None = None) -> list[str]:
    """Return how to measure the calibration page of a stock, step by step."""
    from labels.calibration import words

    return words(label_stocks(store)[stock])
