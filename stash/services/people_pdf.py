"""Lists as PDF: landscape pages with headings repeated, page numbers, pictures, and sums below."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any
from xml.sax.saxutils import escape

from stash.exchange.flat.listing import Heading, Listing, Value, shown
from stash.kernel.exact import money_text

_PICTURE_PT = 72
_FONT_PT = 8
_MARGIN_PT = 36
_LONGEST = 2_000
"""Characters of one cell that are printed; a table's cell can't run over a page. Source: project decision."""


def render_pdf(listing: Listing) -> bytes:
    """Return a list as a PDF on A4 across; the same list makes the same bytes."""
    from reportlab.lib.pagesizes import A4, landscape
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer

    from labels.type import BOLD, REGULAR, face

    plain, bold = face(REGULAR).fontName, face(BOLD).fontName
    body = ParagraphStyle("body", fontName=plain, fontSize=_FONT_PT, leading=_FONT_PT * 1.25, splitLongWords=1)
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
    from reportlab.lib import colors
    from reportlab.platypus import LongTable, Paragraph, TableStyle

    rows = list(listing.rows)
    cells: list[list[Any]] = [[Paragraph(escape(heading.name), head) for heading in listing.headings]]
    cells += [[_cell(h, v, body) for h, v in zip(listing.headings, row, strict=True)] for row in rows]
    sums = _sums(listing.headings, rows)
    if any(sums):
        cells.append([Paragraph(escape(text), head) for text in sums])
    if not rows:
        cells.append([Paragraph("nothing to list", body), *("" for _ in listing.headings[1:])])
    wants = [_PICTURE_PT / 5 if heading.type == "picture" else heading.wide for heading in listing.headings]
    widths = [width * want / sum(wants) for want in wants]
    table = LongTable(cells, colWidths=widths, repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, 0), 1, colors.HexColor("#444444")),
                ("LINEBELOW", (0, 1), (-1, -1), 0.25, colors.HexColor("#bbbbbb")),
                ("LEFTPADDING", (0, 0), (-1, -1), 3),
                ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )
    return table


def _cell(heading: Heading, value: Value, body: Any) -> Any:
    from reportlab.platypus import Image, Paragraph

    if isinstance(value, bytes):
        return Image(io.BytesIO(value), _PICTURE_PT, _PICTURE_PT, kind="proportional")
    text = shown(heading, value)
    return Paragraph(escape(text if len(text) <= _LONGEST else text[:_LONGEST] + " ..."), body)


def _sums(headings: Sequence[Heading], rows: Sequence[tuple[Value, ...]]) -> list[str]:
    sums = []
    for at, heading in enumerate(headings):
        numbers = [row[at] for row in rows if isinstance(row[at], int)]
        total = sum(number for number in numbers if isinstance(number, int))
        sums.append((money_text(total) if heading.type == "money" else str(total)) if heading.total and rows else "")
    if any(sums) and not sums[0]:
        sums[0] = "in all"
    return sums
