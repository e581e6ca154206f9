"""One label drawn on a page: symbol, code, mark and words.

A label's origin, the symbol's corner and the module are whole dots of the stock's resolution, counted from the top left
of the page, because a module of uneven width costs more reading distance than a smaller one. A symbol is one
vector path, so no printer driver can smooth it.
"""

from __future__ import annotations

import re
from functools import lru_cache

from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

from labels import marks
from labels.errors import LabelError
from labels.layout import CAP_EM, PT_MM, Box, Layout, layout, module_dots
from labels.marks import Mark
from labels.qr import QUIET_MODULES, modules_of, symbol
from labels.stocks import Stock
from labels.text import LEADING, LabelText, Line, check, fill, grouped
from labels.type import BOLD, REGULAR, clean, face, width_em

_RUN = re.compile("1+")
_MARK_HEIGHT = 1.3  # of the code's capitals
_OUTLINE_PT = 0.35
_FORM_RADIUS = 10
_ASCENT = 0.95  # from the top of a line to its baseline, in type sizes


class Press:
    """Draws labels of one stock on the current page of a canvas."""

    def __init__(self, canvas: Canvas, stock: Stock, *, outlines: bool) -> None:
        self.canvas = canvas
        self.stock = stock
        self.outlines = outlines
        self.layout: Layout = layout(stock.place)
        self.forms: set[str] = set()
        for name in (REGULAR, BOLD):
            face(name)

    def label(self, label: LabelText, slot: int) -> None:
        """Draw a label in a slot, counted from 0 along the rows."""
        check(label)
        self._enter(slot)
        if self.outlines:
            self._outline()
        self._symbols(label)
        pen = self.canvas.beginText()
        self._code(label, pen)
        if self.layout.words is not None:
            self._words(label, pen, self.layout.words)
        self.canvas.drawText(pen)
        self.canvas.addLiteral("Q")

    def edge(self, slot: int) -> None:
        """Draw only the edge of a slot, and its hole."""
        self._enter(slot)
        self._outline()
        self.canvas.addLiteral("Q")

    def _enter(self, slot: int) -> None:
        """Move the origin to a slot's top left corner, until the matching ``Q``."""
        stock = self.stock
        row, column = divmod(slot, stock.columns)
        x_mm = self._snapped(stock.margin_left_mm + column * stock.pitch_x_mm)
        y_mm = self._snapped(stock.margin_top_mm + row * stock.pitch_y_mm)
        self.canvas.addLiteral(f"q 1 0 0 1 {x_mm / PT_MM:.4f} {(stock.page_h_mm - y_mm) / PT_MM:.4f} cm")

    def _snapped(self, length_mm: float) -> float:
        return round(length_mm / self.stock.dot_mm) * self.stock.dot_mm

    def _outline(self) -> None:
        canvas, stock = self.canvas, self.stock
        w, h = stock.label_w_mm / PT_MM, stock.label_h_mm / PT_MM
        canvas.setLineWidth(_OUTLINE_PT)
        if stock.round:
            canvas.circle(w / 2, -h / 2, w / 2)
        else:
            canvas.roundRect(0, -h, w, h, stock.corner_radius_mm / PT_MM)
        if self.layout.hole:
            x_mm, y_mm = self.layout.hole
            canvas.circle(x_mm / PT_MM, -y_mm / PT_MM, stock.hole_mm / 2 / PT_MM)

    def _symbols(self, label: LabelText) -> None:
        if not self.layout.symbols:
            return
        stock = self.stock
        modules = modules_of(len(label.address))
        try:
            module_mm = module_dots(modules, stock.qr_mm, stock.dpi) * stock.dot_mm
        except LabelError as error:
            raise LabelError(f"Stock {stock.key}: {error.message}", error.hint) from None
        path = _path(label.address)
        for box in self.layout.symbols:
            spare_mm = (stock.qr_mm - (modules + 2 * QUIET_MODULES) * module_mm) / 2
            edge_mm = spare_mm + QUIET_MODULES * module_mm
            x, y = (self._snapped(start + edge_mm) / PT_MM for start in (box.x_mm, box.y_mm))
            module = module_mm / PT_MM
            self.canvas.addLiteral(f"q {module:.5f} 0 0 {-module:.5f} {x:.4f} {-y:.4f} cm\n{path}f Q")

    def _code(self, label: LabelText, pen: PDFTextObject) -> None:
        """The big code, with the generation mark behind it."""
        box = self.layout.code
        text = grouped(label.code)
        mark_em = CAP_EM * _MARK_HEIGHT
        wide_em = width_em(text, BOLD) + (0.3 + mark_em if label.mark else 0.0)
        high_em = mark_em if label.mark and self.layout.centred else CAP_EM  # centred: nothing clear above or below
        size = min(self.layout.code_pt, box.w_mm / PT_MM / wide_em, box.h_mm / PT_MM / high_em)
        x, top = box.x_mm / PT_MM, -box.y_mm / PT_MM
        if self.layout.centred:
            x += (box.w_mm / PT_MM - wide_em * size) / 2
            top -= (box.h_mm / PT_MM - size * CAP_EM) / 2
        _write(pen, text, BOLD, size, x=x, y=top - size * CAP_EM)
        if label.mark:
            centre = x + (wide_em - mark_em / 2) * size
            self._mark(marks.parse(label.mark), centre, top - size * CAP_EM / 2, mark_em * size / 2)

    def _mark(self, mark: Mark, x: float, y: float, radius: float) -> None:
        """A generation mark around a centre, from a form that the file holds once."""
        name = f"mark{ord(mark.letter):x}-{mark.ordinal}"
        if name not in self.forms:
            _mark_form(self.canvas, name, mark)
            self.forms.add(name)
        scale = radius / _FORM_RADIUS
        self.canvas.addLiteral(f"q {scale:.4f} 0 0 {scale:.4f} {x:.2f} {y:.2f} cm")
        self.canvas.doForm(name)
        self.canvas.addLiteral("Q")

    def _words(self, label: LabelText, pen: PDFTextObject, box: Box) -> None:
        width = box.w_mm / PT_MM
        x, y = box.x_mm / PT_MM, -box.y_mm / PT_MM
        for line in fill(label, width, box.h_mm / PT_MM, self.layout.words_pt):
            baseline = y - line.size_pt * _ASCENT
            if line.tag:
                self._tag(line, pen, x, baseline)
            indent = line.indent_pt
            if self.layout.centred:
                indent += (width - indent - width_em(line.text, line.face) * line.size_pt) / 2
            _write(pen, line.text, line.face, line.size_pt, x=x + indent, y=baseline)
            y -= line.size_pt * LEADING

    def _tag(self, line: Line, pen: PDFTextObject, x: float, y: float) -> None:
        """The word before an item; NOT stands white on black, so that nobody reads past it."""
        size = line.size_pt
        if not line.inverse:
            _write(pen, line.tag, BOLD, size, x=x, y=y)
            return
        wide = (width_em(line.tag, BOLD) + 0.3) * size
        self.canvas.addLiteral(f"{x:.2f} {y - 0.13 * size:.2f} {wide:.2f} {size:.2f} re f")
        pen.setFillGray(1)
        _write(pen, line.tag, BOLD, size, x=x + 0.15 * size, y=y)
        pen.setFillGray(0)


def _write(pen: PDFTextObject, text: str, name: str, size_pt: float, *, x: float, y: float) -> None:
    """A piece of text with its baseline at a point; hundredths of a point are finer than any printer."""
    pen.setFont(name, round(size_pt, 2), 0)
    pen.setTextOrigin(round(x, 2), round(y, 2))
    pen.textOut(text)


def _mark_form(canvas: Canvas, name: str, mark: Mark) -> None:
    """Store a mark around the origin: the shape in black, the letter in white."""
    face(BOLD)
    radius = _FORM_RADIUS
    canvas.beginForm(name, -2 * radius, -2 * radius, 2 * radius, 2 * radius)
    path = canvas.beginPath()
    for index, (right, up) in enumerate(marks.outline(mark.ordinal)):
        (path.lineTo if index else path.moveTo)(right * radius, up * radius)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
    capital = marks.letter_size(mark.ordinal) * radius
    canvas.setFont(BOLD, capital / CAP_EM)
    canvas.setFillGray(1)
    canvas.drawCentredString(0, -capital / 2 - marks.letter_drop(mark.ordinal) * radius, clean(mark.letter))
    canvas.endForm()


@lru_cache(maxsize=2)
def _path(address: str) -> str:
    """A symbol's dark runs as rectangles in module units, downwards from its top left corner.

    Cached for the label that is printed twice.
    """
    rows = symbol(address).rows()
    return "".join(
        f"{run.start()} {y} {run.end() - run.start()} 1 re\n"
        for y, row in enumerate(rows)
        for run in _RUN.finditer(row)
    )
