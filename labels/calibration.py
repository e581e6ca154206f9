"""A page to measure a printer by: rulers, corner crosses, the outlines of the labels, one sample, and what to enter.

Printed with the placing in force, so that a second print shows whether it is right.
"""

from __future__ import annotations

from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from labels.layout import PT_MM
from labels.press import Press
from labels.sheet import Placing, open_canvas, place_page
from labels.stocks import Stock
from labels.text import LabelText, wrap
from labels.type import BOLD, REGULAR, face

_CROSS_MM = 4.0
_LINE_PT = 0.3
_ROOMY_MM = 100.0
_SHORTEST_MM = 10.0


def ruler_mm(page_mm: float, inset_mm: float) -> int:
    """Length of the ruler along a page's side: whole tens of millimetres between the crosses, or at least five."""
    free = page_mm - 2 * inset_mm
    return int(free // 10 * 10) if free >= _SHORTEST_MM else 5


def words(stock: Stock, placing: Placing | None = None) -> list[str]:
    """How to measure the page and what to enter, one step an item.

    Args:
        stock: What the page was printed on.
        placing: What was in force when it was printed.
    """
    now = placing or Placing()
    inset_mm = _inset_mm(stock)
    long_mm = ruler_mm(stock.page_w_mm, inset_mm)
    scale = f"New scale = {now.scale:g} x {long_mm} / what you measured."
    across = f"New offset_x_mm = {now.offset_x_mm:g} + {inset_mm:g} - what you measured."
    down = f"New offset_y_mm = {now.offset_y_mm:g} + {inset_mm:g} - what you measured."
    return [
        "Print at 100 % (actual size), never “fit to page”.",
        f"Measure the ruler across, in mm from its start to its {long_mm}. {scale}",
        f"Measure from the left edge of the paper to the cross at the top left, in mm. {across}",
        f"Measure from the top edge of the paper to the same cross, in mm. {down}",
        "Set the scale first, print again, then set the offsets.",
        "Hold the print and the stock against a light together: the outlines must cover the labels.",
        "Scan the sample from where you mean to stand: your phone must show an address that ends in 7K3QX9.",
    ]


def page(stock: Stock, *, offset_x_mm: float = 0.0, offset_y_mm: float = 0.0, scale: float = 1.0) -> bytes:
    """A calibration page for a stock, as a PDF.

    A page too small for the steps leaves them to the caller (``words``); its sample label says them in short. Where the
    sample would stand under the rulers, it comes on a page of its own.

    Args:
        stock: What will be printed on.
        offset_x_mm: Shift to the right now in force.
        offset_y_mm: Shift downwards now in force.
        scale: Factor now in force.

    Raises:
        LabelError: The placing is out of range.
    """
    placing = Placing(offset_x_mm, offset_y_mm, scale)
    out = BytesIO()
    canvas = open_canvas(out, stock, f"Calibration of {stock.name}")
    press = Press(canvas, stock, outlines=True)
    sample = (stock.rows - 1) // 2 * stock.columns + stock.columns // 2
    apart = stock.columns == 1
    place_page(canvas, stock, placing)
    for slot in range(stock.labels_a_page):
        if apart or slot != sample:
            press.edge(slot)
    if not apart:
        press.label(_sample(stock, placing), sample)
    _rulers(canvas, stock)
    _crosses(canvas, stock)
    if min(stock.page_w_mm, stock.page_h_mm) >= _ROOMY_MM:
        _panel(canvas, stock, words(stock, placing))
    canvas.showPage()
    if apart:
        place_page(canvas, stock, placing)
        press.label(_sample(stock, placing), sample)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _sample(stock: Stock, placing: Placing) -> LabelText:
    """A label that can be scanned and says in short what to enter."""
    return LabelText(
        code="7K3QX9",
        address="HTTP://STASH.LOCAL/Q/7K3QX9",
        title="Sample label",
        discriminator=f"scale = {placing.scale:g} x {ruler_mm(stock.page_w_mm, _inset_mm(stock))} / ruler measured",
        quantity=f"offset = old + {_inset_mm(stock):g} mm - edge to cross",
    )


def _inset_mm(stock: Stock) -> float:
    """How far in from the edges crosses and rulers stand: where every printer prints, or still on a narrow tape."""
    return 10.0 if min(stock.page_w_mm, stock.page_h_mm) >= _ROOMY_MM else 3.0


def _rulers(canvas: Canvas, stock: Stock) -> None:
    """Millimetre rulers from the top left cross, across and down."""
    x0 = y0 = _inset_mm(stock)
    face(REGULAR)
    canvas.setFont(REGULAR, 5)
    canvas.setLineWidth(_LINE_PT)
    for across, length in ((True, ruler_mm(stock.page_w_mm, x0)), (False, ruler_mm(stock.page_h_mm, y0))):
        for mm in range(length + 1):
            long_mm = 2.4 if mm % 10 == 0 else 1.7 if mm % 5 == 0 else 1.0
            if across:
                _line(canvas, stock, (x0 + mm, y0), (x0 + mm, y0 + long_mm))
            else:
                _line(canvas, stock, (x0, y0 + mm), (x0 + long_mm, y0 + mm))
            if mm and mm % 10 == 0:
                at = (x0 + mm, y0 + 4.4) if across else (x0 + 4.2, y0 + mm + 0.6)
                _word(canvas, stock, str(mm), at)
        end = (x0 + length, y0) if across else (x0, y0 + length)
        _line(canvas, stock, (x0, y0), end)


def _word(canvas: Canvas, stock: Stock, text: str, at: tuple[float, float]) -> None:
    """A number on a white ground, so that a label's edge behind it does not hide it."""
    x, y = at[0] / PT_MM, (stock.page_h_mm - at[1]) / PT_MM
    canvas.setFillGray(1)
    canvas.rect(x - 4, y - 0.8, 8, 5.4, stroke=0, fill=1)
    canvas.setFillGray(0)
    canvas.drawCentredString(x, y, text)


def _crosses(canvas: Canvas, stock: Stock) -> None:
    """A cross near each corner of the page."""
    inset = _inset_mm(stock)
    reach = min(_CROSS_MM, inset)
    for x in (inset, stock.page_w_mm - inset):
        for y in (inset, stock.page_h_mm - inset):
            _line(canvas, stock, (x - reach, y), (x + reach, y))
            _line(canvas, stock, (x, y - reach), (x, y + reach))


def _line(canvas: Canvas, stock: Stock, start: tuple[float, float], end: tuple[float, float]) -> None:
    height = stock.page_h_mm
    canvas.line(start[0] / PT_MM, (height - start[1]) / PT_MM, end[0] / PT_MM, (height - end[1]) / PT_MM)


def _panel(canvas: Canvas, stock: Stock, steps: list[str]) -> None:
    """The steps on a white panel over the lower part of the page."""
    size, leading = 9.0, 12.0
    wide = min(stock.page_w_mm - 40, 150) / PT_MM
    lines: list[tuple[str, str]] = [(BOLD, f"Calibration · {stock.name}")]
    for number, step in enumerate(steps, start=1):
        broken, _ = wrap(step, (wide - 40) / size, REGULAR, 4)
        lines += [(REGULAR, f"{number}  {text}" if index == 0 else f"    {text}") for index, text in enumerate(broken)]
    high = len(lines) * leading + 20
    left = (stock.page_w_mm / PT_MM - wide) / 2
    bottom = 24 / PT_MM
    canvas.setFillGray(1)
    canvas.rect(left, bottom, wide, high, stroke=1, fill=1)
    canvas.setFillGray(0)
    y = bottom + high - 10 - size
    for name, text in lines:
        face(name)
        canvas.setFont(name, size)
        canvas.drawString(left + 12, y, text)
        y -= leading
