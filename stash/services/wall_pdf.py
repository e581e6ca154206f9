"""Interchange charts as a PDF for the wall, readable in black and white: a verdict is a shape and a word."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby
from typing import Any

from stash.errors import NotFound
from stash.fit.wording import VERDICT_BRIEF, VERDICT_WORDS
from stash.kernel.tables import VERDICTS
from stash.services.wall_chart import WallCell, WallChart
from stash.services.wall_layout import (
    COLUMN,
    ERA,
    LABEL,
    LINE,
    MARGIN,
    NOTE,
    ROW,
    SHEETS_MM,
    TITLE,
    Laid,
    Piece,
    heading,
    lay_out,
    note_columns,
    note_room,
)
from stash.services.wall_shapes import draw_shape


def wall_pdf(charts: Sequence[WallChart], sheet: str, name: str) -> bytes:
    """Return charts as a PDF, across; equal charts make equal bytes.

    Args:
        charts: The charts.
        sheet: ``a4``, ``a3``, ``a2`` or ``letter``.
        name: What the document is called.

    Raises:
        NotFound: No such sheet.
    """
    from reportlab.pdfgen.canvas import Canvas

    if sheet not in SHEETS_MM:
        raise NotFound(f"There is no sheet {sheet!r}", "The sheets are: " + ", ".join(SHEETS_MM) + ".")
    laid = lay_out(charts, sheet, _wrapped)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(laid.width, laid.height), invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(name)
    for number, page in enumerate(laid.pages, 1):
        for piece in page:
            _draw_piece(canvas, laid, piece)
        _draw_foot(canvas, laid, f"{name}, sheet {number} of {len(laid.pages)}")
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw_piece(canvas: Any, laid: Laid, piece: Piece) -> None:
    scale = laid.scale
    y, begin = laid.height - MARGIN - piece.top, MARGIN + piece.left
    more = ", continued" if piece.goes_on else ""
    _text(canvas, begin, y - 11 * scale, piece.chart.title + more, 11 * scale, bold=True)
    y -= TITLE * scale
    right = begin + (LABEL + COLUMN * len(piece.columns)) * scale
    _draw_heads(canvas, laid, piece, y)
    y -= ERA * scale + piece.header
    _line(canvas, begin, y, right, y, 1.2 * scale)
    numbers = {note: number for number, note in enumerate(piece.notes, 1)}
    for row in piece.rows:
        _draw_row(canvas, laid, piece, row, y, numbers)
        y -= ROW * scale
        _line(canvas, begin, y, right, y, 0.3 * scale)
    _draw_notes(canvas, laid, piece, y)


def _draw_heads(canvas: Any, laid: Laid, piece: Piece, y: float) -> None:
    scale, chart = laid.scale, piece.chart
    begin = MARGIN + piece.left
    x = begin + LABEL * scale
    bottom = y - ERA * scale - piece.header - ROW * scale * len(piece.rows)
    for era, found in groupby(piece.columns, key=lambda at: chart.columns[at].era):
        count = len(list(found))
        room = COLUMN * scale * count - 4 * scale
        _text(canvas, x + 3 * scale, y - 8 * scale, _wrapped(era, 7.5 * scale, room)[0], 7.5 * scale, bold=True)
        _line(canvas, x, y, x, bottom, 1.2 * scale)
        x += COLUMN * scale * count
    _line(canvas, x, y, x, bottom, 1.2 * scale)
    for place, at in enumerate(piece.columns):
        left = begin + (LABEL + COLUMN * place) * scale
        for number, line in enumerate(heading(chart, at, scale, _wrapped)):
            _text(canvas, left + 3 * scale, y - ERA * scale - LINE * scale * (number + 0.85), line, 7 * scale)
        if place:
            _line(canvas, left, y - ERA * scale, left, bottom, 0.3 * scale)


def _draw_row(canvas: Any, laid: Laid, piece: Piece, number: int, y: float, notes: dict[str, int]) -> None:
    scale, row = laid.scale, piece.chart.rows[number]
    begin, room = MARGIN + piece.left, (LABEL - 6) * scale
    lines = _wrapped(row.name, 7.5 * scale, room)[:2]
    for at, line in enumerate(lines):
        _text(canvas, begin, y - (8 + 8.4 * at) * scale, line, 7.5 * scale, bold=True)
    if row.numbers:
        _text(canvas, begin, y - 23.6 * scale, _wrapped(row.numbers, 6 * scale, room)[0], 6 * scale)
    for place, at in enumerate(piece.columns):
        left = begin + (LABEL + COLUMN * place) * scale
        _draw_cell(canvas, left, y, row.cells[at], notes.get(row.cells[at].note, 0), scale)


def _draw_cell(canvas: Any, left: float, y: float, cell: WallCell, note: int, scale: float) -> None:
    side = 12.5 * scale
    middle = left + COLUMN * scale / 2
    draw_shape(canvas, cell.verdict, middle - side / 2, y - 3 * scale - side, side)
    if cell.stop:
        draw_shape(canvas, "stop", left + 2.5 * scale, y - 3 * scale - side * 0.8, side * 0.8)
    word = VERDICT_BRIEF[cell.verdict] + (", stop" if cell.stop else "")
    size = 6.8 * scale
    _text(canvas, middle - _width(word, size) / 2, y - 22.8 * scale, word, size)
    if note:
        _text(canvas, middle + side / 2 + 2 * scale, y - 8 * scale, str(note), 6.2 * scale, bold=True)


def _draw_notes(canvas: Any, laid: Laid, piece: Piece, y: float) -> None:
    scale = laid.scale
    count, _ = note_room(laid.lane, scale)
    for place, lines in enumerate(note_columns(piece.notes, laid.lane, scale, _wrapped)):
        x = MARGIN + piece.left + laid.lane / count * place
        for at, line in enumerate(lines):
            _text(canvas, x, y - NOTE * scale * (at + 1.4), line, 6.5 * scale)


def _draw_foot(canvas: Any, laid: Laid, name: str) -> None:
    """The legend, the same on every page, and which page it is."""
    scale = laid.scale
    words = [VERDICT_WORDS[verdict] for verdict in VERDICTS]
    size, side = 7.2 * scale, 10 * scale
    inside = laid.width - 2 * MARGIN
    wanted = sum(_width(word, size) + side + 14 * scale for word in [*words, "must not run there"])
    shrunk = min(1.0, (inside - _width(name, 6.5 * scale) - 8 * scale) / wanted)
    size, side = size * shrunk, side * shrunk
    x = MARGIN
    for key, word in [*zip(VERDICTS, words, strict=True), ("stop", "must not run there")]:
        draw_shape(canvas, key, x, MARGIN - 1, side)
        _text(canvas, x + side + 3 * scale * shrunk, MARGIN + side * 0.2, word, size)
        x += _width(word, size) + side + 14 * scale * shrunk
    _text(canvas, laid.width - MARGIN - _width(name, 6.5 * scale), MARGIN + side * 0.2, name, 6.5 * scale)


def _text(canvas: Any, x: float, y: float, text: str, size: float, *, bold: bool = False) -> None:
    from labels.type import BOLD, REGULAR, face

    canvas.setFont(face(BOLD if bold else REGULAR).fontName, size)
    canvas.drawString(x, y, _printable(text))


def _line(canvas: Any, x: float, y: float, to_x: float, to_y: float, width: float) -> None:
    canvas.setLineWidth(width)
    canvas.line(x, y, to_x, to_y)


def _width(text: str, size: float) -> float:
    from labels.type import BOLD, width_em

    return width_em(_printable(text), BOLD) * size


@lru_cache(maxsize=20_000)
def _printable(text: str) -> str:
    """Text with a question mark for what the faces lack."""
    from labels.type import BOLD, REGULAR, face

    both = face(REGULAR).face.charWidths.keys() & face(BOLD).face.charWidths.keys()
    return "".join(each if ord(each) in both else "?" for each in text.replace("\n", " "))


@lru_cache(maxsize=20_000)
def _break(text: str, ems: float) -> tuple[str, ...]:
    lines = [""]
    for word in _printable(text).split():
        while _width(word, 1) > ems and len(word) > 1:
            at = next(end for end in range(len(word) - 1, 0, -1) if end == 1 or _width(word[:end], 1) <= ems)
            lines.append(word[:at])
            word = word[at:]  # noqa: PLW2901 - what is left of a word too long for a line
        longer = f"{lines[-1]} {word}".strip()
        if _width(longer, 1) <= ems:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(line for line in lines if line) or ("",)


def _wrapped(text: str, size: float, room: float) -> list[str]:
    """Break text at blanks, and words that are longer than a line anywhere."""
    return list(_break(text, round(room / size, 4)))
