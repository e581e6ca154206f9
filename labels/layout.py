r"""Where the symbol, the code and the words stand on one label.

All lengths are millimetres from the label's top left corner, downwards. A layout depends on the stock alone, never on
what a label says, so that every label of a sheet looks alike.

    side by side         stacked        round          narrow, no symbol
    +------+---------+   +--------+       ____         +---------+-----------+
    | QR   | 7K3 QX9 |   |   QR   |      / QR \        | 7K3 QX9 | words     |
    |      | words   |   | 7K3 QX9|     | 7K3  |       +---------+-----------+
    | (QR) |         |   | words  |      \ QX9/
    +------+---------+   +--------+
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from labels.errors import LabelError
from labels.qr import QUIET_MODULES

PT_MM = 25.4 / 72

CLOSE_UP_MODULE_MM = 0.6
"""Smallest module a phone reads from a hand's breadth. Source: project decision, from simulated photos."""

SHELF_MODULE_MM = 0.75
"""Smallest module that reads on a photo of a whole shelf. Source: as above."""

SMALLEST_MODULES = 21
"""Modules a side of version 1. Source: ISO/IEC 18004, 6.1."""

CAP_EM = 0.73
"""Height of capitals and digits in the bundled faces, in ems."""

CODE_EM, CODE_AND_MARK_EM = 4.6, 5.6
"""Width a code such as ``7K3 QX9`` is planned with, in ems of the bold face, alone and with a mark behind it; a wider
one is set smaller."""

HOLE_RIM_MM = 4.0
"""Clear stock on either side of a hole. Source: project decision; tags tear below that."""

_CODE_PT_RANGE, _WORDS_PT_RANGE = (7.0, 64.0), (6.0, 20.0)
_LEAST_COLUMN_MM, _LEAST_WORDS_MM = 15.0, 5.0
_NARROW_MM = 18.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the label."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float


@dataclass(frozen=True, slots=True)
class Place:
    """What a layout needs to know of a stock."""

    label_w_mm: float
    label_h_mm: float
    qr_mm: float
    round: bool
    hole_mm: float


@dataclass(frozen=True, slots=True)
class Layout:
    """Boxes for everything on a label.

    Attributes:
        symbols: A square for each printing of the QR symbol: none, one, or two where a second one fits.
        code: The big code.
        code_pt: Its type size, unless it turns out too wide.
        words: Everything else, or None where only the code fits.
        words_pt: Type size of the words.
        centred: Code and words are centred in their boxes.
        hole: Centre of the hole, or None.
    """

    symbols: tuple[Box, ...]
    code: Box
    code_pt: float
    words: Box | None
    words_pt: float
    centred: bool
    hole: tuple[float, float] | None = None


def module_dots(modules: int, qr_mm: float, dpi: int) -> int:
    """Whole printer dots for one module, the most that keep the symbol and its quiet zone within ``qr_mm``.

    Raises:
        LabelError: The module would be smaller than a phone reads; names the smallest side that does.
    """
    dot_mm = 25.4 / dpi
    dots = math.floor(qr_mm / ((modules + 2 * QUIET_MODULES) * dot_mm) + 1e-9)
    if dots * dot_mm < CLOSE_UP_MODULE_MM - 1e-9:
        least_mm = smallest_side_mm(modules, dpi)
        raise LabelError(
            f"a QR square of {qr_mm:g} mm cannot be read: this address needs at least {least_mm:.1f} mm"
            f" at {dpi} dots an inch.",
            "Use a larger stock or a shorter address.",
        )
    return dots


def smallest_side_mm(modules: int, dpi: int) -> float:
    """Side of the smallest square, quiet zone included, from which a phone reads a symbol close up; 0.1 mm up."""
    dot_mm = 25.4 / dpi
    dots = math.ceil(CLOSE_UP_MODULE_MM / dot_mm - 1e-9)
    return math.ceil((modules + 2 * QUIET_MODULES) * dots * dot_mm * 10 - 1e-6) / 10


@lru_cache(maxsize=128)
def layout(place: Place) -> Layout:
    """The layout of a label.

    Raises:
        LabelError: Symbol, hole and printed code do not fit on it together.
    """
    if place.round:
        return _round(place)
    pad = _pad(place)
    tall = place.label_h_mm > place.label_w_mm
    band = place.hole_mm + 2 * HOLE_RIM_MM if place.hole_mm else 0.0
    left, top = (0.0, band) if tall else (band, 0.0)
    free = Box(left, top, place.label_w_mm - left, place.label_h_mm - top)
    if place.qr_mm > min(free.w_mm, free.h_mm) + 1e-9:
        most = max(0.0, min(free.w_mm, free.h_mm))
        raise LabelError(f"the QR square of {place.qr_mm:g} mm does not fit; at most {most:g} mm are free.")
    column_mm = free.w_mm - place.qr_mm - 2 * pad
    if not place.qr_mm and free.h_mm < _NARROW_MM:
        found = _narrow(free, pad)
    elif not tall and column_mm >= _LEAST_COLUMN_MM:
        found = _side_by_side(free, place.qr_mm, pad)
    else:
        found = _stacked(free, place.qr_mm, pad)
    if not band:
        return found
    across = (place.label_w_mm if tall else place.label_h_mm) / 2
    return replace(found, hole=(across, band / 2) if tall else (band / 2, across))


def _side_by_side(free: Box, qr_mm: float, pad: float) -> Layout:
    """Symbol on the left, twice where two fit one above the other; code and words in a column."""
    edge = min(pad, (free.h_mm - qr_mm) / 2)
    x = free.x_mm + edge
    if qr_mm and free.h_mm >= 2 * qr_mm + 2 * pad:
        tops = [free.y_mm + edge, free.y_mm + free.h_mm - edge - qr_mm]
    else:
        tops = [free.y_mm + (free.h_mm - qr_mm) / 2] if qr_mm else []
    column_x = x + qr_mm + (pad / 2 if qr_mm else pad)
    column = Box(column_x, free.y_mm + pad, free.x_mm + free.w_mm - pad - column_x, free.h_mm - 2 * pad)
    return _column(tuple(Box(x, y, qr_mm, qr_mm) for y in tops), column, share=0.27, centred=False)


def _stacked(free: Box, qr_mm: float, pad: float) -> Layout:
    """Symbol on top, twice where two fit side by side; code and words below."""
    slack = free.h_mm - qr_mm
    top = free.y_mm + min(pad, slack / 8)
    if qr_mm and free.w_mm >= 2 * qr_mm + 2 * pad:
        lefts = [free.x_mm + pad, free.x_mm + free.w_mm - pad - qr_mm]
    else:
        lefts = [free.x_mm + (free.w_mm - qr_mm) / 2] if qr_mm else []
    y = top + qr_mm if qr_mm else free.y_mm + pad
    column = Box(free.x_mm + pad, y, free.w_mm - 2 * pad, free.y_mm + free.h_mm - pad - y)
    return _column(tuple(Box(x, top, qr_mm, qr_mm) for x in lefts), column, share=0.35, centred=True)


def _narrow(free: Box, pad: float) -> Layout:
    """No symbol on a narrow strip: the code on the left, words on the right."""
    code = Box(free.x_mm + pad, free.y_mm + pad, free.w_mm * 0.42 - pad, free.h_mm - 2 * pad)
    x = free.x_mm + free.w_mm * 0.42 + pad
    words = replace(code, x_mm=x, w_mm=free.x_mm + free.w_mm - pad - x)
    if words.w_mm < _LEAST_COLUMN_MM:
        code = replace(code, w_mm=free.w_mm - 2 * pad)
        return Layout((), code, _code_pt(code), None, 0.0, centred=True)
    code_pt = _code_pt(code)
    code_mm = code_pt * CAP_EM * PT_MM
    code = replace(code, y_mm=free.y_mm + (free.h_mm - code_mm) / 2, h_mm=code_mm)
    return Layout((), code, code_pt, words, _words_pt(words), centred=False)


def _column(symbols: tuple[Box, ...], column: Box, *, share: float, centred: bool) -> Layout:
    """A column with the code on top and the words below it, or the code alone where no line of words fits."""
    code_pt = min(
        _CODE_PT_RANGE[1],
        max(_CODE_PT_RANGE[0], _fitting_pt(replace(column, h_mm=column.h_mm * share), CODE_AND_MARK_EM)),
    )
    code_mm = code_pt * CAP_EM * PT_MM
    words_y = column.y_mm + code_mm + max(1.0, code_mm * 0.25)
    words = Box(column.x_mm, words_y, column.w_mm, column.y_mm + column.h_mm - words_y)
    if words.h_mm >= _LEAST_WORDS_MM and column.w_mm >= _LEAST_COLUMN_MM:
        code = replace(column, h_mm=code_mm)
        return Layout(symbols, code, code_pt, words, _words_pt(words), centred=False)
    return Layout(symbols, column, _code_pt(column), None, 0.0, centred=centred)


def _round(place: Place) -> Layout:
    """Symbol in the middle, code under it, a line or two of words above it on a large disc."""
    centre = place.label_w_mm / 2
    radius = centre - 0.6
    half = place.qr_mm / 2
    if half * math.sqrt(2) > centre + 1e-9:
        most = centre * math.sqrt(2)
        raise LabelError(f"the QR square of {place.qr_mm:g} mm does not fit the disc; at most {most:.1f} mm do.")
    words_w = radius if half else radius * 1.5
    above = math.sqrt(radius**2 - (words_w / 2) ** 2) - half
    words = None
    if above >= _LEAST_WORDS_MM:
        words = Box(centre - words_w / 2, centre - half - above, words_w, above)
        lift = 0.0
    else:
        lift = max(0.0, math.sqrt(max(0.0, radius**2 - half**2)) - half)
    top = centre + half - lift + (0.3 if half else 1.0)
    code = _under(centre, radius, top)
    symbols = (Box(centre - half, centre - half - lift, 2 * half, 2 * half),) if half else ()
    return Layout(symbols, code, _code_pt(code), words, _words_pt(words) if words else 0.0, centred=True)


def _under(centre: float, radius: float, top: float) -> Box:
    """The box for a code below ``top`` whose lower corners touch the circle, in a code's own proportions."""
    down = top - centre
    # (a x / 2)² + (down + b x)² = radius² for a type size of x mm, a wide and b high
    wide, high = CODE_EM, CAP_EM
    a, b, c = wide**2 / 4 + high**2, 2 * high * down, down**2 - radius**2
    size = max(0.0, (math.sqrt(max(0.0, b * b - 4 * a * c)) - b) / (2 * a))
    return Box(centre - wide * size / 2, top, wide * size, high * size)


def _pad(place: Place) -> float:
    """Clear edge around words: wider on larger labels, because feeds wander."""
    return max(0.8, min(3.0, min(place.label_w_mm, place.label_h_mm) * 0.045))


def _code_pt(box: Box) -> float:
    low, high = _CODE_PT_RANGE
    size = _fitting_pt(box)
    if size < low - 1e-6:
        raise LabelError("no room for the printed code beside the QR square; make qr_mm smaller.")
    return min(size, high)


def _fitting_pt(box: Box, wide_em: float = CODE_EM) -> float:
    """The largest type size at which a code so wide fits in a box."""
    return min(box.h_mm / CAP_EM, box.w_mm / wide_em) / PT_MM


def _words_pt(box: Box) -> float:
    low, high = _WORDS_PT_RANGE
    return max(low, min(high, box.h_mm / PT_MM / 9, box.w_mm / PT_MM / 14))
