from __future__ import annotations

import io
from collections.abc import Callable

import pypdf
import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_c
import pytest
from PIL import Image

from labels import preview
from labels.calibration import page, ruler_mm, words
from labels.errors import LabelError
from labels.sheet import Placing
from labels.stocks import Stock, bundled

MM = 25.4 / 72


def strokes_mm(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """Left, top, right, bottom of every stroke on the first page, the pen's width taken off."""
    document = pdfium.PdfDocument(pdf)
    height, pen = document[0].get_height(), 0.3
    found = []
    for item in document[0].get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH]):
        left, bottom, right, top = item.get_bounds()
        box = (left + pen, height - top + pen, right - pen, height - bottom - pen)
        found.append(tuple(edge * MM for edge in box))
    document.close()
    return found


def has_line(pdf: bytes, x0: float, y0: float, x1: float, y1: float) -> bool:
    wanted = (x0, y0, x1, y1)
    return any(all(abs(a - b) < 0.15 for a, b in zip(box, wanted, strict=True)) for box in strokes_mm(pdf))


def test_rulers_are_true_millimetres_both_ways(everyday: Stock) -> None:
    pdf = page(everyday)
    assert has_line(pdf, 10, 10, 200, 10)
    assert has_line(pdf, 10, 10, 10, 280)
    assert has_line(pdf, 110, 10, 110, 12.4)
    assert has_line(pdf, 10, 115, 11.7, 115)
    assert has_line(pdf, 10, 116, 11, 116)


def test_a_cross_stands_near_each_corner(everyday: Stock) -> None:
    pdf = page(everyday)
    for x in (10, 200):
        for y in (10, 287):
            assert has_line(pdf, x - 4, y, x + 4, y)
            assert has_line(pdf, x, y - 4, x, y + 4)


def test_the_page_shows_the_placing_in_force(everyday: Stock) -> None:
    assert has_line(page(everyday, offset_x_mm=2, offset_y_mm=-1, scale=1.01), 12.1, 9.1, 2 + 202, 9.1)


def test_following_the_words_mends_a_printer(everyday: Stock) -> None:
    # A printer that draws 1 % too small and 1.5 mm too far right: what is meant for x lands at 1.5 + 0.99 x.
    measured_ruler = 190 * 0.99
    scale = 1 * 190 / measured_ruler
    measured_cross = 1.5 + 0.99 * scale * 10
    offset = 0 + 10 - measured_cross
    steps = words(everyday)
    assert "New scale = 1 x 190 / what you measured." in steps[1]
    assert "New offset_x_mm = 0 + 10 - what you measured." in steps[2]
    for x in (10, 100, 200):
        assert 1.5 + 0.99 * (offset + scale * x) == pytest.approx(x, abs=0.02)


def test_words_carry_on_from_the_placing_in_force(everyday: Stock) -> None:
    steps = words(everyday, Placing(0.5, -1, 1.002))
    assert "1.002 x 190" in steps[1]
    assert "0.5 + 10" in steps[2]
    assert "-1 + 10" in steps[3]


def test_a_roomy_page_carries_the_words(everyday: Stock) -> None:
    text = " ".join(pypdf.PdfReader(io.BytesIO(page(everyday))).pages[0].extract_text().split())
    assert "Print at 100 %" in text
    assert "New offset_y_mm" in text


@pytest.mark.parametrize("key", bundled())
def test_every_stock_has_a_sample_that_scans(
    key: str, render: Callable[..., Image.Image], decode: Callable[[Image.Image], list[str]]
) -> None:
    stock = bundled()[key]
    pdf = page(stock)
    alone = stock.columns == 1
    assert preview.page_count(pdf) == (2 if alone else 1)
    if stock.qr_mm:
        assert set(decode(render(pdf, 300, 1 if alone else 0))) == {"HTTP://STASH.LOCAL/Q/7K3QX9"}


@pytest.mark.parametrize(("page_mm", "length"), [(210, 190), (297, 270), (25, 10), (12, 5)])
def test_rulers_are_whole_tens_between_the_crosses(page_mm: float, length: int) -> None:
    assert ruler_mm(page_mm, 10 if page_mm > 100 else 3) == length


def test_a_wild_placing_is_refused(everyday: Stock) -> None:
    with pytest.raises(LabelError, match="scale is 2"):
        page(everyday, scale=2)


def test_a_preview_is_a_picture_of_the_page_asked_for(everyday: Stock) -> None:
    picture = Image.open(io.BytesIO(preview.png(page(everyday), dpi=50)))
    assert picture.format == "PNG"
    assert picture.size == pytest.approx((210 / 25.4 * 50, 297 / 25.4 * 50), abs=1)
    two = page(bundled()["roll-50x30"])
    assert preview.png(two, 1) != preview.png(two, 2)


@pytest.mark.parametrize("number", [0, 3])
def test_a_page_that_is_not_there_is_refused(number: int) -> None:
    with pytest.raises(LabelError, match=f"no page {number}; the file has pages 1 to 2"):
        preview.png(page(bundled()["roll-50x30"]), number)


@pytest.mark.parametrize("dpi", [0, 5000])
def test_a_preview_of_absurd_size_is_refused(dpi: int, everyday: Stock) -> None:
    with pytest.raises(LabelError, match="too large or empty"):
        preview.png(page(everyday), dpi=dpi)


def test_what_is_no_pdf_is_refused() -> None:
    with pytest.raises(LabelError, match="not a PDF"):
        preview.png(b"plain words")
    with pytest.raises(LabelError, match="not a PDF"):
        preview.page_count(b"")
