"""A page of a PDF as a picture, to look at before paper is spent."""

from __future__ import annotations

from io import BytesIO

import pypdfium2 as pdfium

from labels.errors import LabelError

MOST_PIXELS = 40_000_000
"""A preview is for a screen. Source: project decision."""


def page_count(pdf: bytes) -> int:
    """How many pages a PDF has.

    Raises:
        LabelError: These bytes are no PDF.
    """
    document = _opened(pdf)
    try:
        return len(document)
    finally:
        document.close()


def png(pdf: bytes, page: int = 1, *, dpi: int = 100) -> bytes:
    """One page as a PNG in grey.

    Args:
        pdf: A PDF, such as ``sheet.draw`` gives.
        page: Which page, counted from 1.
        dpi: Pixels an inch.

    Raises:
        LabelError: These bytes are no PDF, it has no such page, or the picture would be too large.
    """
    document = _opened(pdf)
    try:
        if not 1 <= page <= len(document):
            raise LabelError(f"There is no page {page}; the file has pages 1 to {len(document)}.")
        sheet = document[page - 1]
        scale = dpi / 72
        if not 0 < sheet.get_width() * sheet.get_height() * scale**2 <= MOST_PIXELS:
            raise LabelError(f"A preview at {dpi} pixels an inch is too large or empty.", "Ask for 100.")
        out = BytesIO()
        sheet.render(scale=scale, grayscale=True).to_pil().save(out, "PNG")
        return out.getvalue()
    finally:
        document.close()


def _opened(pdf: bytes) -> pdfium.PdfDocument:
    try:
        return pdfium.PdfDocument(pdf)
    except pdfium.PdfiumError:
        raise LabelError("This is not a PDF that can be shown.") from None
