"""A photo from anywhere, opened safely and turned upright.

What a file is, its bytes decide, never its name. Only a picture's size is looked at before the limits are checked, so a
small file that unpacks into a huge picture costs nothing.
"""

from __future__ import annotations

import struct
from io import BytesIO

import pillow_heif
from PIL import Image, ImageOps, UnidentifiedImageError

from labels.errors import LabelError

pillow_heif.register_heif_opener()

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
MAX_BYTES = 40 * 1024 * 1024
MAX_PIXELS = 64_000_000
"""Larger than any single exposure of a phone kept at a sensible size. Source: project decision."""

_BOMBS = (Image.DecompressionBombError, Image.DecompressionBombWarning)
_DAMAGE = (OSError, SyntaxError, ValueError, EOFError, RuntimeError, struct.error, IndexError, TypeError)
_SEND_AGAIN = "Send the photo again, or take a new one."


_SMOOTH = ("L", "LA", "RGB", "RGBA", "CMYK", "YCbCr")
"""Modes that are made smaller by averaging; others are turned into one of them first."""


def upright(data: bytes, longest_px: int | None = None) -> Image.Image:
    """A photo as a colour picture, turned as its EXIF note asks, on white where it is transparent.

    Args:
        data: A JPEG, PNG, WebP or HEIC file. Of an animation the first picture is taken.
        longest_px: Its longer side afterwards, at most; a JPEG is then not even unpacked whole. None for as it is.

    Raises:
        LabelError: The file is empty, too large, of another kind, damaged, or its picture is too large.
    """
    if not data:
        raise LabelError("The photo is empty.", _SEND_AGAIN)
    if len(data) > MAX_BYTES:
        raise LabelError(
            f"The photo has {len(data) / 1024**2:.0f} MB; at most {MAX_BYTES / 1024**2:.0f} MB are read.",
            "Send it smaller; 12 megapixels are plenty.",
        )
    picture = _opened(data)
    _limit(picture.width, picture.height)
    try:
        _shrink(picture, longest_px)
        picture.load()
    except _BOMBS:
        raise _too_large() from None
    except _DAMAGE as error:
        raise LabelError(f"The photo is damaged: {error}.", _SEND_AGAIN) from None
    plain = _plain(_turned(picture))
    _shrink(plain, longest_px)
    return plain


def _opened(data: bytes) -> Image.Image:
    try:
        return Image.open(BytesIO(data), formats=FORMATS)
    except _BOMBS:
        raise _too_large() from None
    except UnidentifiedImageError:
        raise LabelError("This is not a photo that can be read.", "Send a JPEG, PNG, WebP or HEIC file.") from None
    except _DAMAGE as error:
        raise LabelError(f"The photo is damaged: {error}.", _SEND_AGAIN) from None


def _limit(width: int, height: int) -> None:
    if width * height > MAX_PIXELS:
        raise _too_large(f"{width} x {height} pixels")


def _too_large(size: str = "far too many pixels") -> LabelError:
    return LabelError(
        f"The photo has {size}; at most {MAX_PIXELS // 1_000_000} megapixels are read.",
        "Send it smaller; 12 megapixels are plenty.",
    )


def _shrink(picture: Image.Image, longest_px: int | None) -> None:
    if longest_px is not None and picture.mode in _SMOOTH:
        picture.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)


def _turned(picture: Image.Image) -> Image.Image:
    """The picture as its EXIF orientation asks; as it lies where the note is broken."""
    try:
        return ImageOps.exif_transpose(picture)
    except _DAMAGE:
        return picture


def _plain(picture: Image.Image) -> Image.Image:
    """Eight-bit colour without transparency."""
    if picture.mode.startswith("I"):
        return picture.convert("I").point(lambda value: value / 257).convert("RGB")
    if picture.has_transparency_data:
        with_alpha = picture.convert("RGBA")
        white = Image.new("RGBA", with_alpha.size, "white")
        return Image.alpha_composite(white, with_alpha).convert("RGB")
    return picture.convert("RGB")
