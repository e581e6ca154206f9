"""Every code on a photo of a shelf.

A reader that knows nothing of this program finds the symbols. It is given QR model 2 only: the smaller kinds of symbol
are what clutter is mistaken for. Where one look is not enough, the picture is looked at again: twice as large,
sharpened, smoothed. Each look costs more than the last, so the ladder ends as soon as a look adds nothing, something
was read, and nothing is left that was found but not read.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib import resources
from io import BytesIO

import zxingcpp
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from labels.photo import upright

ENLARGE_PIXELS = 20_000_000
"""Photos up to this size are also looked at twice as large. Source: project decision, for a phone's 12 megapixels."""

DRAWN_SIDE_PX = 2000
_FEWEST_LOOKS = 2
_SMALLEST_PX = 15.0
_LARGER = 3.0
_READ_INK, _UNREAD_INK = (0, 90, 181), (200, 60, 0)  # told apart by every common kind of colour blindness
_KINDS = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCodeModel2)
_ADDRESS = re.compile(r"https?://[^/\s]+/q/([0-9A-HJKMNP-TV-Z]{6})", re.IGNORECASE | re.ASCII)

Point = tuple[float, float]
Corners = tuple[Point, Point, Point, Point]
"""A symbol's corners in pixels of the upright photo: its own top left, top right, bottom right, bottom left."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One symbol that was read.

    Attributes:
        payload: What it says.
        corners: Where it stands.
    """

    payload: str
    corners: Corners


@dataclass(frozen=True, slots=True)
class Photo:
    """What was found on a photo.

    Attributes:
        width: Pixels across, upright.
        height: Pixels down, upright.
        readings: Symbols read, from top to bottom; the same payload stands twice if it was printed twice.
        unread: Places of symbols that were found and could not be read.
    """

    width: int
    height: int
    readings: list[Reading]
    unread: list[Corners]


def read_photo(data: bytes) -> Photo:
    """All QR symbols on a photo.

    Args:
        data: A JPEG, PNG, WebP or HEIC file.

    Raises:
        LabelError: The file cannot be read as a photo, or is too large.
    """
    picture = upright(data).convert("L")
    found = _Found()
    for count, (look, factor) in enumerate(_looks(picture), start=1):
        fresh = found.take(look, factor)
        if count >= _FEWEST_LOOKS and not fresh and found.readings and not found.unread:
            break
    found.readings.sort(key=lambda reading: _centre(reading.corners)[::-1])
    return Photo(picture.width, picture.height, found.readings, found.unread)


def code_of(payload: str) -> str | None:
    """The code in a label's address, upper case; None for what is no label of this program.

    Args:
        payload: Such as ``HTTP://STASH.LOCAL/Q/7K3QX9``, in any case.
    """
    match = _ADDRESS.fullmatch(payload.strip())
    return match[1].upper() if match else None


def drawn(data: bytes, readings: list[Reading], unread: list[Corners]) -> bytes:
    """The photo as a JPEG with what was found drawn on it, without any of the file's notes.

    A symbol that was read has a frame and its code; one that was not has a frame with a cross.

    Args:
        data: The photo.
        readings: From ``read_photo`` of the same photo.
        unread: From the same.

    Raises:
        LabelError: The file cannot be read as a photo, or is too large.
    """
    picture = upright(data)
    scale = min(1.0, DRAWN_SIDE_PX / max(picture.size))
    if scale < 1:
        picture = picture.resize((round(picture.width * scale), round(picture.height * scale)))
    pen = ImageDraw.Draw(picture)
    wide = max(2, round(max(picture.size) / 400))
    font = _font(max(12, wide * 6))
    for corners in unread:
        a, b, c, d = _scaled(corners, scale)
        for line in ((a, b, c, d, a, b), (a, c), (b, d)):
            _stroke(pen, line, wide, _UNREAD_INK)
    for reading in readings:
        a, b, c, d = _scaled(reading.corners, scale)
        _stroke(pen, (a, b, c, d, a, b), wide, _READ_INK)
        code = code_of(reading.payload)
        lowest = max((a, b, c, d), key=lambda point: point[1])
        middle = (sum(x for x, _ in (a, b, c, d)) / 4, lowest[1] + wide)
        text = f"{code[:3]} {code[3:]}" if code else "not a label"
        pen.text(middle, text, fill=_READ_INK, font=font, anchor="mt", stroke_width=wide, stroke_fill="white")
    out = BytesIO()
    picture.save(out, "JPEG", quality=85)
    return out.getvalue()


def _looks(picture: Image.Image) -> Iterator[tuple[Image.Image, float]]:
    """The picture in the ways it is looked at, and how much larger each is.

    Sharpening undoes a lens out of focus; smoothing undoes grain; the last look does both for a pale, grainy print.
    Source of the radii: project decision, measured by ``benchmarks/labels_read.py``.
    """
    yield picture, 1.0
    factor = 2 if picture.width * picture.height <= ENLARGE_PIXELS else 1
    if factor > 1:
        picture = picture.resize((picture.width * factor, picture.height * factor), Image.Resampling.BICUBIC)
        yield picture, factor
    yield picture.filter(ImageFilter.UnsharpMask(radius=1.5 * factor, percent=200, threshold=0)), factor
    yield picture.filter(ImageFilter.GaussianBlur(0.6 * factor)), factor
    smooth = picture.filter(ImageFilter.GaussianBlur(0.75 * factor))
    yield smooth.filter(ImageFilter.UnsharpMask(radius=2.5 * factor, percent=300, threshold=0)), factor


@dataclass(slots=True)
class _Found:
    """What all looks so far have found."""

    readings: list[Reading] = field(default_factory=list)
    unread: list[Corners] = field(default_factory=list)

    def take(self, look: Image.Image, factor: float) -> bool:
        """Read one look; whether it read a symbol that no look before it did."""
        fresh = False
        failed: list[Corners] = []
        for code in zxingcpp.read_barcodes(look, formats=_KINDS, return_errors=True):
            corners = _corners(code, factor)
            if not code.valid:
                failed.append(corners)
            elif not any(_same_place(corners, one.corners) for one in self.readings):
                self.readings.append(Reading(code.text, corners))
                fresh = True
        still: list[Corners] = []
        for corners in [*self.unread, *failed]:
            if not _chimera(corners, self.readings) and not any(_same_place(corners, other) for other in still):
                still.append(corners)
        self.unread = still
        return fresh


def _corners(code: zxingcpp.Barcode, factor: float) -> Corners:
    place = code.position
    points = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
    a, b, c, d = ((point.x / factor, point.y / factor) for point in points)
    return (a, b, c, d)


def _centre(corners: Corners) -> Point:
    return (sum(x for x, _ in corners) / 4, sum(y for _, y in corners) / 4)


def _same_place(one: Corners, other: Corners) -> bool:
    """Whether two frames are of one symbol: their middles are closer than half the shorter frame's diagonal."""
    reach = min(math.dist(one[0], one[2]), math.dist(other[0], other[2])) / 2
    return math.dist(_centre(one), _centre(other)) <= reach


def _chimera(corners: Corners, readings: list[Reading]) -> bool:
    """Whether a frame that gave no text is no symbol of its own.

    A finder takes three marks for the corners of one symbol; on a full shelf they may belong to different labels.
    Such a frame has a corner on, or its middle over, a symbol that was read, or is far larger than those that were.
    """
    if math.dist(corners[0], corners[2]) < _SMALLEST_PX:
        return True
    for reading in readings:
        reach = math.dist(reading.corners[0], reading.corners[2]) * 0.6
        centre = _centre(reading.corners)
        if any(math.dist(point, centre) <= reach for point in (*corners, _centre(corners))):
            return True
    sizes = [math.dist(reading.corners[0], reading.corners[2]) for reading in readings]
    return bool(sizes) and math.dist(corners[0], corners[2]) > _LARGER * max(sizes)


def _scaled(corners: Corners, scale: float) -> Corners:
    a, b, c, d = ((x * scale, y * scale) for x, y in corners)
    return (a, b, c, d)


def _stroke(pen: ImageDraw.ImageDraw, points: tuple[Point, ...], wide: int, ink: tuple[int, int, int]) -> None:
    """A line with a white edge, to be seen on any ground."""
    pen.line(points, fill="white", width=wide * 2 + 1, joint="curve")
    pen.line(points, fill=ink, width=wide, joint="curve")


def _font(size_px: int) -> ImageFont.FreeTypeFont:
    data = resources.files("labels").joinpath("fonts", "DejaVuSansCondensed-Bold.ttf").read_bytes()
    return ImageFont.truetype(BytesIO(data), size_px)
