"""What the tests of the label room share: an independent renderer and an independent decoder."""

from __future__ import annotations

import random
from collections.abc import Callable

import pypdfium2 as pdfium
import pytest
import zxingcpp
from PIL import Image

from labels.stocks import Stock, bundled, parse
from labels.text import LabelText

CODE_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
ADDRESSES = ("HTTP://STASH.LOCAL/Q/", "HTTP://192.168.178.40:8300/Q/")

Render = Callable[..., Image.Image]
Decode = Callable[[Image.Image], list[str]]


@pytest.fixture
def render() -> Render:
    """A page of a PDF as a grey picture at so many dots an inch."""

    def draw(pdf: bytes, dpi: float, page: int = 0) -> Image.Image:
        document = pdfium.PdfDocument(pdf)
        try:
            return document[page].render(scale=dpi / 72).to_pil().convert("L")
        finally:
            document.close()

    return draw


@pytest.fixture
def pages() -> Callable[[bytes], int]:
    def count(pdf: bytes) -> int:
        document = pdfium.PdfDocument(pdf)
        try:
            return len(document)
        finally:
            document.close()

    return count


@pytest.fixture
def decode() -> Decode:
    """All payloads of QR symbols in a picture, sorted, by a reader that shares nothing with the writer."""

    def read(picture: Image.Image) -> list[str]:
        found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCodeModel2)
        return sorted(code.text for code in found)

    return read


@pytest.fixture
def label() -> LabelText:
    """A label with something in every item."""
    return LabelText(
        code="7K3QX9",
        address=ADDRESSES[0] + "7K3QX9",
        title="Carburettor 14 mm, reed type",
        discriminator="hole spacing 42 mm, turned 90° against the others",
        fits="Kittle II, Kittle S from 1974",
        fits_not="Kittle, Pip Sport (hole spacing 38 mm)",
        mark="A2",
        quantity="2 pcs",
        counted="2026-11-25",
    )


@pytest.fixture
def many() -> Callable[..., list[LabelText]]:
    """So many labels with different codes."""

    def make(count: int, front: str = ADDRESSES[0], seed: int = 5) -> list[LabelText]:
        chance = random.Random(seed)
        codes: set[str] = set()
        while len(codes) < count:
            codes.add("".join(chance.choice(CODE_LETTERS) for _ in range(6)))
        return [LabelText(code, front + code, title=f"Bin {number}") for number, code in enumerate(sorted(codes))]

    return make


@pytest.fixture
def row() -> dict[str, str]:
    """A row for a sound stock, to be spoiled."""
    return {
        "key": "own-60x40",
        "name": "Own 60 by 40 mm",
        "form": "sheet",
        "page_w_mm": "210",
        "page_h_mm": "297",
        "columns": "3",
        "rows": "7",
        "label_w_mm": "60",
        "label_h_mm": "40",
        "pitch_x_mm": "62",
        "pitch_y_mm": "40",
        "margin_left_mm": "10",
        "margin_top_mm": "8",
        "corner_radius_mm": "2",
        "round": "no",
        "hole_mm": "0",
        "qr_mm": "28",
        "dpi": "300",
        "note": "",
    }


@pytest.fixture
def stock(row: dict[str, str]) -> Stock:
    return parse(row)


@pytest.fixture
def everyday() -> Stock:
    return bundled()["a4-64x34"]
