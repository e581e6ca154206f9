"""Lists as PDF: landscape pages with headings repeated, page numbers, pictures, and sums below."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from xml.sax.saxutils import escape

from stash.exchange.flat.listing import Heading, Listing, Value, shown
from stash.kernel.exact import money_text

_PICTURE_PT = 72
_FONT_PT = 8
_SMALL_FONT_PT = 6
_MANY = 11
"""More columns than these are set small. Source: project decision."""
_MARGIN_PT = 36
_PADDING_PT = 3
_LONGEST = 2_000
"""Characters of one cell that are printed at most. Source: project decision."""
_LONGEST_WORD = 24
_LOOKED_AT = 500
"""Rows whose words decide how wide a column must be."""
_MOST_LINES = 36
"""Lines of one cell; a page has a few more."""


def render_pdf(listing: Listing) -> bytes:
    """Return a list as a PDF on A4 across; the same list makes the same bytes."""
    from reportlab.lib.pagesizes import A4, landscape
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer

    from labels.type import BOLD, REGULAR, face

    plain, bold = face(REGULAR).fontName, face(BOLD).fontName
    size = _FONT_PT if len(listing.headings) <= _MANY else _SMALL_FONT_PT
    body = ParagraphStyle("body", fontName=plain, fontSize=size, leading=size * 1.25, splitLongWords=1)
    head = ParagraphStyle("head", parent=body, fontName=bold)
    title = ParagraphStyle("title", parent=head, fontSize=14, leading=18, spaceAfter=4)
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=landscape(A4),
        leftMargin=_MARGIN_PT,
        rightMargin=_MARGIN_PT,
        topMargin=_MARGIN_PT,
        bottomMargin=_MARGIN_PT,
        title=listing.title,
        invariant=1,
    )
    above = [Paragraph(escape(listing.title), title), *(Paragraph(escape(note), body) for note in listing.notes)]
    table = _table(listing, body, head, document.width)

    def foot(canvas: Any, _document: Any) -> None:
        canvas.setFont(plain, _FONT_PT)
        canvas.drawRightString(
            landscape(A4)[0] - _MARGIN_PT, _MARGIN_PT / 2, f"{listing.title}, page {canvas.getPageNumber()}"
        )

    document.build([*above, Spacer(1, 8), table], onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


def _table(listing: Listing, body: Any, head: Any, width: float) -> Any:
    from reportlab.platypus import LongTable, Paragraph

    listing, rows = _without_empty(listing)
    sums = _sums(listing.headings, rows)
    widths = _widths(listing.headings, rows, sums, head, width)
    cells: list[list[Any]] = [[Paragraph(escape(each.name), _aligned(each, head)) for each in listing.headings]]
    columns = list(zip(listing.headings, widths, strict=True))
    cells += [
        [_cell(heading, value, body, room) for (heading, room), value in zip(columns, row, strict=True)] for row in rows
    ]
    if any(sums):
        cells.append(
            [
                Paragraph(escape(text), _aligned(heading, head))
                for heading, text in zip(listing.headings, sums, strict=True)
            ]
        )
    if not rows:
        cells.append([Paragraph("nothing to list", body), *("" for _ in listing.headings[1:])])
    table = LongTable(cells, colWidths=widths, repeatRows=1)
    table.setStyle(_style())
    return table


def _style() -> Any:
    from reportlab.lib import colors
    from reportlab.platypus import TableStyle

    return TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEBELOW", (0, 0), (-1, 0), 1, colors.HexColor("#444444")),
            ("LINEBELOW", (0, 1), (-1, -1), 0.25, colors.HexColor("#bbbbbb")),
            ("LEFTPADDING", (0, 0), (-1, -1), _PADDING_PT),
            ("RIGHTPADDING", (0, 0), (-1, -1), _PADDING_PT),
        ]
    )


def _without_empty(listing: Listing) -> tuple[Listing, list[tuple[Value, ...]]]:
    """Return a list without columns that nothing stands in, and its rows; paper is narrow."""
    rows = list(listing.rows)
    full = [at for at in range(len(listing.headings)) if not rows or any(row[at] not in (None, "", ()) for row in rows)]
    headings = tuple(listing.headings[at] for at in full)
    return replace(listing, headings=headings), [tuple(row[at] for at in full) for row in rows]


def _widths(
    headings: Sequence[Heading], rows: Sequence[tuple[Value, ...]], sums: Sequence[str], head: Any, width: float
) -> list[float]:
    """Share the page's width: each column gets room for its longest word first, the rest by what it wants."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    least = []
    for at, heading in enumerate(headings):
        texts = {heading.name, sums[at], *(shown(heading, row[at])[:_LONGEST] for row in rows[:_LOOKED_AT])}
        words = {word[:_LONGEST_WORD] for text in texts for word in text.split()}
        room = max((stringWidth(word, head.fontName, head.fontSize) for word in words), default=0)
        least.append((_PICTURE_PT if heading.type == "picture" else room) + 2 * _PADDING_PT + 1)
    if sum(least) > width:
        return [width * each / sum(least) for each in least]
    wants = [max(heading.wide * head.fontSize / 2 - room, 0) for heading, room in zip(headings, least, strict=True)]
    spare, wanted = width - sum(least), sum(wants) or 1
    return [room + spare * want / wanted for room, want in zip(least, wants, strict=True)]


def _cell(heading: Heading, value: Value, body: Any, room: float) -> Any:
    """Return a cell; a text too long for a page is cut, because a row can't run over two."""
    from reportlab.platypus import Image, Paragraph

    if isinstance(value, bytes):
        return Image(io.BytesIO(value), _PICTURE_PT, _PICTURE_PT, kind="proportional")
    text = shown(heading, value)
    most = min(_LONGEST, int(_MOST_LINES * room / (body.fontSize * 0.6)))
    said = text if len(text) <= most else text[:most] + " \u2026"
    return Paragraph(escape(said), _aligned(heading, body))


def _aligned(heading: Heading, style: Any) -> Any:
    from reportlab.lib.enums import TA_RIGHT
    from reportlab.lib.styles import ParagraphStyle

    right = heading.type in {"whole", "number", "money"}
    return ParagraphStyle(f"{style.name}-right", parent=style, alignment=TA_RIGHT) if right else style


def _sums(headings: Sequence[Heading], rows: Sequence[tuple[Value, ...]]) -> list[str]:
    sums = []
    for at, heading in enumerate(headings):
        numbers = [row[at] for row in rows if isinstance(row[at], int)]
        total = sum(number for number in numbers if isinstance(number, int))
        sums.append((money_text(total) if heading.type == "money" else str(total)) if heading.total and rows else "")
    if any(sums) and not sums[0]:
        sums[0] = "in all"
    return sums
