"""Stocks: sheets, rolls and hang tags, told by their dimensions and by nothing else.

One row parser serves the bundled ``stocks.csv`` and the owner's own stocks. All lengths are millimetres as
measured on the stock, from the top left corner of the page; a roll or a tag is a page of its own for each label.

Source of the bundled dimensions: A4 from ISO 216, Letter from ANSI/ASME Y14.1; the labels on them are common
practice, no source.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib import resources
from typing import Any, Literal

from labels.errors import LabelError
from labels.layout import SMALLEST_MODULES, Place, layout, module_dots

Form = Literal["sheet", "roll", "tag"]
FORMS: tuple[Form, ...] = ("sheet", "roll", "tag")

LONGEST_MM = 1500.0
"""No page is longer than this. Source: project decision, to catch inches, dots and slips of a digit."""

MOST_LABELS_ACROSS = 60
DPI_RANGE = (100, 2400)
_CUT_MM = 0.05  # how far sums of rounded dimensions may run over before it counts


@dataclass(frozen=True, slots=True)
class Stock:
    """What labels are printed on.

    Attributes:
        key: Short name, lower case, as the owner types it.
        name: What it is called on screens.
        form: ``sheet`` (many labels a page), ``roll`` or ``tag`` (a page a label).
        page_w_mm, page_h_mm: The page as it leaves the printer.
        columns, rows: Labels across and down a page.
        label_w_mm, label_h_mm: One label.
        pitch_x_mm, pitch_y_mm: From one label's left (top) edge to the next one's.
        margin_left_mm, margin_top_mm: From the page's edge to the first label.
        corner_radius_mm: Rounding of the corners, 0 for none.
        round: The label is a disc of diameter ``label_w_mm``.
        hole_mm: Diameter of a punched hole in the middle of a short side, 0 for none.
        qr_mm: Side of the square kept for the QR symbol with its quiet zone; 0 prints code and words only.
        dpi: Dots an inch of the printer; symbols are drawn in whole dots.
        note: Anything the owner wants to remember.
    """

    key: str
    name: str
    form: Form
    page_w_mm: float
    page_h_mm: float
    columns: int
    rows: int
    label_w_mm: float
    label_h_mm: float
    pitch_x_mm: float
    pitch_y_mm: float
    margin_left_mm: float
    margin_top_mm: float
    corner_radius_mm: float
    round: bool
    hole_mm: float
    qr_mm: float
    dpi: int
    note: str

    @property
    def labels_a_page(self) -> int:
        """Columns times rows."""
        return self.columns * self.rows

    @property
    def place(self) -> Place:
        """What the layout of a label depends on."""
        return Place(self.label_w_mm, self.label_h_mm, self.qr_mm, round=self.round, hole_mm=self.hole_mm)

    @property
    def dot_mm(self) -> float:
        """One printer dot."""
        return 25.4 / self.dpi


COLUMNS = tuple(field.name for field in fields(Stock))
_OPTIONAL = {
    "margin_left_mm": "0",
    "margin_top_mm": "0",
    "corner_radius_mm": "0",
    "round": "no",
    "hole_mm": "0",
    "note": "",
}
_WHOLE = {"columns": (1, MOST_LABELS_ACROSS), "rows": (1, MOST_LABELS_ACROSS), "dpi": DPI_RANGE}
_MAY_BE_ZERO = {"margin_left_mm", "margin_top_mm", "corner_radius_mm", "hole_mm", "qr_mm"}


def parse(row: Mapping[str, str], where: str = "") -> Stock:
    """A stock from one row of a table.

    Args:
        row: Column name to cell. Empty or missing margins, corner radius and hole mean 0, ``round`` no, and an
            empty pitch means that the labels touch.
        where: Where the row stands, such as ``stocks.csv, row 3``; put in front of the message.

    Raises:
        LabelError: With everything that is wrong in this row.
    """
    cells = {**row, **{name: (row.get(name) or "").strip() for name in COLUMNS}}
    for name, default in _OPTIONAL.items():
        cells[name] = cells[name] or default
    cells["pitch_x_mm"] = cells["pitch_x_mm"] or cells["label_w_mm"]
    cells["pitch_y_mm"] = cells["pitch_y_mm"] or cells["label_h_mm"]
    reading = _Reading(cells)
    reading.refuse_strangers()
    values: dict[str, Any] = {name: reading.value(name) for name in COLUMNS}
    problems = reading.problems
    if not problems:
        stock = Stock(**values)
        problems = _misfits(stock)
        if not problems:
            return stock
    name = cells["key"] or "without a key"
    raise LabelError(
        f"{where}: stock {name}: {'; '.join(problems)}." if where else f"Stock {name}: {'; '.join(problems)}.",
        "Measure the stock in millimetres from the top left corner of the page.",
    )


def read_table(text: str, name: str = "stocks") -> dict[str, Stock]:
    """Stocks by key, in the order of a CSV table with a header row.

    Raises:
        LabelError: A row is wrong or a key stands twice.
    """
    found: dict[str, Stock] = {}
    for number, row in enumerate(csv.DictReader(io.StringIO(text)), start=2):
        where = f"{name}, row {number}"
        if None in row:
            raise LabelError(f"{where}: more cells than the header has columns.", "Quote cells that hold a comma.")
        stock = parse(row, where)
        if stock.key in found:
            raise LabelError(f"{where}: stock {stock.key} stands twice.", "Give each stock a key of its own.")
        found[stock.key] = stock
    return found


@lru_cache(maxsize=1)
def bundled() -> dict[str, Stock]:
    """The stocks that come with the program, by key."""
    return read_table(resources.files("labels").joinpath("stocks.csv").read_text("utf-8"), "stocks.csv")


class _Reading:
    """The cells of one row, turned into values while problems are collected."""

    def __init__(self, cells: dict[str, str]) -> None:
        self.cells = cells
        self.problems: list[str] = []

    def refuse_strangers(self) -> None:
        strangers = sorted(set(self.cells) - set(COLUMNS))
        if strangers:
            self.problems.append(f"unknown column {', '.join(strangers)}")

    def value(self, name: str) -> object:
        text = self.cells[name]
        if name == "note":
            return text
        if not text:
            self.problems.append(f"{name} is empty")
            return None
        if name in _WHOLE:
            return self._whole(name, text)
        if name.endswith("_mm"):
            return self._length(name, text)
        return self._word(name, text)

    def _word(self, name: str, text: str) -> object:
        if name == "round":
            if text.lower() in {"yes", "no"}:
                return text.lower() == "yes"
            self.problems.append(f"round is {text!r}, not yes or no")
        elif name == "form" and text not in FORMS:
            self.problems.append(f"form is {text!r}, not one of {', '.join(FORMS)}")
        elif name == "key" and not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", text):
            self.problems.append(f"key is {text!r}, not lower-case letters, digits and single dashes")
        return text

    def _whole(self, name: str, text: str) -> int | None:
        low, high = _WHOLE[name]
        if re.fullmatch(r"\d{1,6}", text, re.ASCII) and low <= int(text) <= high:
            return int(text)
        self.problems.append(f"{name} is {text!r}, not a whole number from {low} to {high}")
        return None

    def _length(self, name: str, text: str) -> float | None:
        zero = name in _MAY_BE_ZERO
        if re.fullmatch(r"\d{1,6}(\.\d*)?", text, re.ASCII):
            length = float(text)
            if length <= LONGEST_MM and (length > 0 or zero):
                return length
        lowest = "0" if zero else "above 0"
        self.problems.append(f"{name} is {text!r}, not millimetres with a decimal point, {lowest} to {LONGEST_MM:.0f}")
        return None


def _misfits(stock: Stock) -> list[str]:
    """What cannot be true of a stock's dimensions, in words."""
    found = []
    for way, count, label, pitch, margin, page in (
        ("x", stock.columns, stock.label_w_mm, stock.pitch_x_mm, stock.margin_left_mm, stock.page_w_mm),
        ("y", stock.rows, stock.label_h_mm, stock.pitch_y_mm, stock.margin_top_mm, stock.page_h_mm),
    ):
        side, rank = ("right", "column") if way == "x" else ("bottom", "row")
        if count > 1 and pitch < label - _CUT_MM:
            found.append(f"each {rank} overlaps its neighbour by {label - pitch:.2f} mm (pitch_{way}_mm too small)")
        over = margin + (count - 1) * pitch + label - page
        if over > _CUT_MM:
            found.append(f"the last {rank} runs off the {side} of the page by {over:.2f} mm")
    if stock.round and not math.isclose(stock.label_w_mm, stock.label_h_mm):
        found.append("a round label needs label_w_mm and label_h_mm alike")
    if stock.round and stock.hole_mm:
        found.append("a round label with a hole is not known here; set round to no")
    if stock.corner_radius_mm > min(stock.label_w_mm, stock.label_h_mm) / 2:
        found.append("corner_radius_mm is more than half the short side")
    if stock.form == "tag" and not stock.hole_mm:
        found.append("a tag needs hole_mm")
    return found or _crowded(stock)


def _crowded(stock: Stock) -> list[str]:
    """Whether the symbol's square, the hole and the printed code share the label."""
    try:
        if stock.qr_mm:
            module_dots(SMALLEST_MODULES, stock.qr_mm, stock.dpi)
        layout(stock.place)
    except LabelError as error:
        return [error.message.rstrip(".")]
    return []
