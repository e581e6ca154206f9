"""Labels placed on pages: the PDF that goes to the printer.

The file asks viewers not to scale it when printing; the same labels on the same stock give the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from labels.errors import LabelError
from labels.layout import PT_MM
from labels.press import Press
from labels.stocks import Stock
from labels.text import LabelText

rl_config.useA85 = 0  # binary streams: a quarter smaller, and any PDF reader since 1993 takes them

MOST_COPIES = 500
FURTHEST_MM = 20.0
"""Largest offset. Source: project decision; a printer further out wants its paper straightened."""

SCALES = (0.9, 1.1)


@dataclass(frozen=True, slots=True)
class Placing:
    """What a calibration page found out about a printer.

    A point meant for (x, y) from the page's top left corner is drawn at (offset_x + scale x, offset_y + scale y).

    Attributes:
        offset_x_mm: Shift to the right.
        offset_y_mm: Shift downwards.
        scale: Factor for all lengths, 1 for a true printer.
    """

    offset_x_mm: float = 0.0
    offset_y_mm: float = 0.0
    scale: float = 1.0

    def __post_init__(self) -> None:
        for name, value in (("offset_x_mm", self.offset_x_mm), ("offset_y_mm", self.offset_y_mm)):
            if not math.isfinite(value) or abs(value) > FURTHEST_MM:
                raise LabelError(
                    f"{name} is {value:g}, not a shift from -{FURTHEST_MM:g} to {FURTHEST_MM:g} mm.",
                    "Measure the calibration page again.",
                )
        if not SCALES[0] <= self.scale <= SCALES[1]:
            raise LabelError(
                f"scale is {self.scale:g}, not from {SCALES[0]:g} to {SCALES[1]:g}.",
                "Scale is wanted length divided by measured length, such as 1.003.",
            )


def draw(
    labels: Iterable[LabelText],
    stock: Stock,
    *,
    first: int = 1,
    copies: int = 1,
    offset_x_mm: float = 0.0,
    offset_y_mm: float = 0.0,
    scale: float = 1.0,
    outlines: bool = False,
) -> bytes:
    """A PDF of labels, row by row from the top left of each page.

    Args:
        labels: What to print, in order.
        stock: What to print on.
        first: The first free label of the first page, counted from 1.
        copies: How often each label is printed, one after the other.
        offset_x_mm: Shift to the right, from the calibration page.
        offset_y_mm: Shift downwards, from the calibration page.
        scale: Factor for all lengths, from the calibration page.
        outlines: Also draw each label's edge and hole, to cut plain paper by.

    Raises:
        LabelError: There is no label; ``first``, ``copies`` or the placing is out of range; a label's text
            cannot be printed; or the stock is too small for a symbol that reads.
    """
    if not 1 <= first <= stock.labels_a_page:
        raise LabelError(
            f"The first free label is {first}, but a page of {stock.key} has labels 1 to {stock.labels_a_page}."
        )
    if not 1 <= copies <= MOST_COPIES:
        raise LabelError(f"{copies} copies of each label are not from 1 to {MOST_COPIES}.")
    placing = Placing(offset_x_mm, offset_y_mm, scale)
    out = BytesIO()
    canvas = open_canvas(out, stock, f"Labels on {stock.name}")
    press = Press(canvas, stock, outlines=outlines)
    slot = first - 1
    drawn = 0
    for label in _repeated(labels, copies):
        if drawn == 0 or slot == stock.labels_a_page:
            if drawn:
                canvas.showPage()
                slot = 0
            place_page(canvas, stock, placing)
        press.label(label, slot)
        slot += 1
        drawn += 1
    if not drawn:
        raise LabelError("There is no label to print.", "Choose at least one place, machine or lot.")
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def open_canvas(out: BytesIO, stock: Stock, title: str) -> Canvas:
    """An empty PDF whose pages have the stock's size, to be printed unscaled."""
    size = (stock.page_w_mm / PT_MM, stock.page_h_mm / PT_MM)
    canvas = Canvas(out, pagesize=size, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(title)
    canvas.setAuthor("stash")
    canvas.setCreator("stash")
    canvas.setProducer("stash")
    canvas.setSubject(f"{stock.label_w_mm:g} x {stock.label_h_mm:g} mm at {stock.dpi} dots an inch; print at 100 %")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def place_page(canvas: Canvas, stock: Stock, placing: Placing) -> None:
    """Put the origin at the page's bottom left, moved and scaled about the top left as the printer needs it."""
    dot = stock.dot_mm
    x_mm, y_mm = (round(value / dot) * dot for value in (placing.offset_x_mm, placing.offset_y_mm))
    height = stock.page_h_mm / PT_MM
    canvas.transform(placing.scale, 0, 0, placing.scale, x_mm / PT_MM, height * (1 - placing.scale) - y_mm / PT_MM)


def _repeated(labels: Iterable[LabelText], copies: int) -> Iterator[LabelText]:
    for label in labels:
        for _ in range(copies):
            yield label
