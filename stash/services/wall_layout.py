"""Laying charts out on sheets: pages of pieces, each with its headings and with the notes of its own cells below.

::

    ┌ title ──────────────────────────┐   A chart that is too wide goes on in another piece with the same designs, one
    │ design │ era       │ era        │   that is too long on the next page with the same headings. A piece's notes are
    │        │ model ... │ model ...  │   numbered anew, so that each page can be read by itself.
    │ row    │ cells                  │
    └ notes ──────────────────────────┘
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from stash.services.wall_chart import WallChart

SHEETS_MM = {"a4": (297, 210), "a3": (420, 297), "a2": (594, 420), "letter": (279.4, 215.9)}
"""``{sheet: width and height across, mm}``. Source: ISO 216; ANSI/ASME Y14.1 for Letter, from memory."""
_MM = 72 / 25.4
MARGIN = 10 * _MM
LABEL, COLUMN = 108.0, 46.0
TITLE, ERA, LINE, ROW = 18.0, 12.0, 8.4, 26.0
NOTE, NOTE_WIDTH, GAP, LEGEND = 7.8, 250.0, 16.0, 20.0
"""Widths and heights at scale 1, points. Source: project decision, 7 pt text is read at arm's length."""
_LARGEST, _STEPS = 2.4, 14
_KEPT_WHOLE = 6
"""Charts with so many rows at most are not cut for what is left of a lane. Source: project decision."""
_MOST_LANES, _LEAST_LANE, LANE_GAP = 3, 500.0, 24.0
"""How many charts stand side by side at most, and the room each must have. Source: project decision."""

Wrap = Callable[[str, float, float], list[str]]
"""(text, size in points, width in points) → lines."""


@dataclass(slots=True)
class Piece:
    """Part of a chart as it stands on a page.

    Args:
        chart: The chart.
        columns: Numbers of its columns shown here.
        rows: Numbers of its rows shown here.
        top: How far below the page's upper margin it begins, points.
        left: How far right of the page's left margin it begins, points.
        header: Height of the models' names, points.
        notes: What stands below, in order of number from 1.
        goes_on: Something of the chart stands before this piece.
    """

    chart: WallChart
    columns: range
    top: float
    left: float
    header: float
    goes_on: bool
    rows: list[int] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def notes_with(self, row: int) -> list[str]:
        """The notes when one more row stands here."""
        cells = self.chart.rows[row].cells
        return list(dict.fromkeys([*self.notes, *(cells[at].note for at in self.columns if cells[at].note)]))


@dataclass(frozen=True, slots=True)
class Laid:
    """Charts laid out.

    Args:
        width: Of a page, points.
        height: Of a page, points.
        lane: Width of the lanes that charts stand in side by side, points.
        scale: How much larger than at arm's length everything is.
        pages: The pieces of each page.
    """

    width: float
    height: float
    lane: float
    scale: float
    pages: tuple[tuple[Piece, ...], ...]


def lay_out(charts: Sequence[WallChart], sheet: str, wrap: Wrap) -> Laid:
    """Lay charts out as large as they can be without needing more pages than at the smallest scale.

    Args:
        charts: The charts.
        sheet: One of ``SHEETS_MM``.
        wrap: Breaks text into lines.
    """
    width, height = (side * _MM for side in SHEETS_MM[sheet])
    inside = width - 2 * MARGIN
    offered = [count for count in range(1, _MOST_LANES + 1) if count == 1 or inside / count >= _LEAST_LANE]
    lanes = min(offered, key=lambda count: len(_pages(charts, inside, height, count, 1.0, wrap)))
    least = _pages(charts, inside, height, lanes, 1.0, wrap)
    lane = (inside - LANE_GAP * (lanes - 1)) / lanes
    for step in range(_STEPS, 0, -1):
        scale = 1 + (_LARGEST - 1) * step / _STEPS
        pages = _pages(charts, inside, height, lanes, scale, wrap)
        if len(pages) <= len(least):
            return Laid(width, height, lane, scale, pages)
    return Laid(width, height, lane, 1.0, least)


def notes_height(notes: Sequence[str], lane: float, scale: float, wrap: Wrap) -> float:
    """Return the height of a piece's notes, points."""
    return (max(map(len, note_columns(notes, lane, scale, wrap)), default=0) + bool(notes)) * NOTE * scale


def note_columns(notes: Sequence[str], lane: float, scale: float, wrap: Wrap) -> list[list[str]]:
    """Return the lines of notes, in as many columns as a lane has room for; a note stays in one column."""
    count, room = note_room(lane, scale)
    each = [_numbered(number, note, room, scale, wrap) for number, note in enumerate(notes, 1)]
    enough = -(-sum(map(len, each)) // count)
    columns: list[list[str]] = []
    for lines in each:
        if not columns or (len(columns[-1]) >= enough and len(columns) < count):
            columns.append([])
        columns[-1].extend(lines)
    return columns


def note_room(lane: float, scale: float) -> tuple[int, float]:
    """Return how many columns of notes a lane has, and how wide one is, points."""
    count = max(1, int(lane // (NOTE_WIDTH * scale)))
    return count, lane / count - 10 * scale


def header_height(chart: WallChart, columns: range, scale: float, wrap: Wrap) -> float:
    """Return the height of the models' names over some columns, points."""
    lines = max(len(heading(chart, at, scale, wrap)) for at in columns)
    return (lines * LINE + 5) * scale


def heading(chart: WallChart, at: int, scale: float, wrap: Wrap) -> list[str]:
    """Return the lines over a column."""
    column = chart.columns[at]
    room = (COLUMN - 4) * scale
    return [*wrap(column.name, 7 * scale, room), *(wrap(column.position, 7 * scale, room) if column.position else ())]


def _numbered(number: int, note: str, room: float, scale: float, wrap: Wrap) -> list[str]:
    first, *rest = wrap(f"{number}  {note}", 6.5 * scale, room)
    return [first, *(f"     {line}" for line in rest)]


def _pages(
    charts: Sequence[WallChart], inside: float, height: float, lanes: int, scale: float, wrap: Wrap
) -> tuple[tuple[Piece, ...], ...]:
    """Fill lanes one after the other, and put so many side by side on each page."""
    lane = (inside - LANE_GAP * (lanes - 1)) / lanes
    strips = _Strips(lane, height - 2 * MARGIN - LEGEND * scale, scale, wrap)
    for chart in charts:
        for columns in _cuts(chart, lane, scale):
            strips.add(chart, columns)
    for number, strip in enumerate(strips.strips):
        for piece in strip:
            piece.left = (number % lanes) * (lane + LANE_GAP)
    starts = range(0, len(strips.strips), lanes)
    return tuple(tuple(piece for strip in strips.strips[at : at + lanes] for piece in strip) for at in starts)


class _Strips:
    """Lanes as they fill, from the top down.

    Args:
        lane: Width of a lane, points.
        room: Height of a lane, points.
        scale: How large everything is.
        wrap: Breaks text into lines.
    """

    def __init__(self, lane: float, room: float, scale: float, wrap: Wrap) -> None:
        self.strips: list[list[Piece]] = [[]]
        self._lane, self._room, self._scale, self._wrap = lane, room, scale, wrap
        self._used = 0.0

    def add(self, chart: WallChart, columns: range) -> None:
        """Add some columns of a chart, on as many lanes as its rows need."""
        header = header_height(chart, columns, self._scale, self._wrap)
        whole = Piece(chart, columns, 0.0, 0.0, header, False)
        for row in range(len(chart.rows)):
            whole.notes = whole.notes_with(row)
            whole.rows.append(row)
        if self._used > 0 and self._used + self._bottom(whole) > self._room and len(chart.rows) <= _KEPT_WHOLE:
            self.strips.append([])
            self._used = 0.0
        piece = Piece(chart, columns, self._used, 0.0, header, columns.start > 0)
        for row in range(len(chart.rows)):
            if self._bottom(piece, row) > self._room and (piece.rows or self._used > 0):
                self._put(piece)
                self.strips.append([])
                self._used = 0.0
                piece = Piece(chart, columns, 0.0, 0.0, header, columns.start > 0 or row > 0)
            piece.notes = piece.notes_with(row)
            piece.rows.append(row)
        self._put(piece)

    def _put(self, piece: Piece) -> None:
        if piece.rows:
            self.strips[-1].append(piece)
            self._used = self._bottom(piece) + GAP * self._scale

    def _bottom(self, piece: Piece, row: int | None = None) -> float:
        """Where a piece ends, with one more row if one is given."""
        notes = piece.notes if row is None else piece.notes_with(row)
        rows = len(piece.rows) + (row is not None)
        head = (TITLE + ERA + rows * ROW) * self._scale + piece.header
        return piece.top + head + notes_height(notes, self._lane, self._scale, self._wrap)


def _cuts(chart: WallChart, lane: float, scale: float) -> Iterator[range]:
    """Share the columns among as few pieces as they need, about equally many in each."""
    most = max(1, int((lane - LABEL * scale) // (COLUMN * scale)))
    count = len(chart.columns)
    pieces = -(-count // most)
    for number in range(pieces):
        yield range(count * number // pieces, count * (number + 1) // pieces)
