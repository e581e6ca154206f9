"""The two bundled faces: loading, coverage and the width of words.

Source: DejaVu Sans Condensed and its bold, under the licence in ``fonts/LICENSE.txt``.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from importlib import resources
from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from labels.errors import LabelError

REGULAR, BOLD = "LabelRegular", "LabelBold"
_FILES = {REGULAR: "DejaVuSansCondensed.ttf", BOLD: "DejaVuSansCondensed-Bold.ttf"}
_RIGHT_TO_LEFT = {"R", "AL", "AN"}


@lru_cache(maxsize=2)
def face(name: str) -> TTFont:
    """A bundled face, loaded and registered with the PDF library once."""
    data = resources.files("labels").joinpath("fonts", _FILES[name]).read_bytes()
    font = TTFont(name, BytesIO(data))
    pdfmetrics.registerFont(font)
    return font


@lru_cache(maxsize=50_000)
def width_em(text: str, name: str) -> float:
    """Width of a piece of text in ems of a face."""
    widths = face(name).face.charWidths
    return float(sum(widths[ord(character)] for character in text)) / 1000.0


@lru_cache(maxsize=50_000)
def clean(text: str) -> str:
    """Text as a label can print it: composed accents (Unicode NFC), any run of white space one blank.

    Raises:
        LabelError: A character that the bundled faces lack, or writing from right to left.
    """
    text = " ".join(unicodedata.normalize("NFC", text).split())
    if text.isascii() and text.isprintable():
        return text
    for character in text:
        if unicodedata.bidirectional(character) in _RIGHT_TO_LEFT:
            raise _unprintable(text, character, "writing from right to left cannot be set")
        if ord(character) not in _covered() or unicodedata.category(character) in {"Cc", "Cf", "Co", "Cn", "Mn"}:
            raise _unprintable(text, character, "the label face has no such character")
    return text


@lru_cache(maxsize=1)
def _covered() -> frozenset[int]:
    """The code points that both faces have."""
    return frozenset(face(REGULAR).face.charWidths) & frozenset(face(BOLD).face.charWidths)


def _unprintable(text: str, character: str, why: str) -> LabelError:
    name = unicodedata.name(character, "without a name")
    shown = character if character.isprintable() else "?"
    return LabelError(
        f"{text!r} cannot be printed: {shown} (U+{ord(character):04X}, {name}): {why}.",
        "Write it with other characters; the faces cover Latin, Greek and Cyrillic.",
    )
