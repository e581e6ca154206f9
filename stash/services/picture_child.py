"""A photo from anywhere made into one of ours, in a process of its own.

Run as ``python -m stash.services.picture_child``: a photo comes in, a line of JSON goes out, and after it the picture.
What unpacks strangers' files is a few large libraries in C; a file made to upset them upsets this process and no other.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL import Image

LONGEST_PX = 2048
"""The longer side of a kept photo: a stamped number can be read on it. Source: project decision."""
_QUALITY = 85
_MOST_BYTES, _MOST_SECONDS = 3 * 1024**3, 60
_EXIF_IFD, _TAKEN = 0x8769, 0x9003
"""The Exif IFD and DateTimeOriginal. Source: CIPA DC-008 (Exif 2.32), 4.6.3 and 4.6.5."""


def remade(data: bytes) -> tuple[dict[str, Any], bytes]:
    """Make a photo upright, no larger than needed, in the colours of a screen, and free of every note in its file.

    Args:
        data: A JPEG, PNG, WebP or HEIC file.

    Returns:
        What is known of it (``width``, ``height`` in pixels, ``taken_on`` as an ISO date or None), and a JPEG.

    Raises:
        LabelError: It is no such file, is damaged or too large.
    """
    from labels.photo import upright

    picture = upright(data, LONGEST_PX)
    about = {"width": picture.width, "height": picture.height, "taken_on": _taken_on(picture)}
    plain = _screen_colours(picture)
    plain.info.clear()
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return about, out.getvalue()


def _taken_on(picture: Image.Image) -> str | None:
    """The day the camera says it was taken, where it says a possible one."""
    try:
        text = str(picture.getexif().get_ifd(_EXIF_IFD).get(_TAKEN, ""))
        return dt.datetime.strptime(text[:10], "%Y:%m:%d").replace(tzinfo=dt.UTC).date().isoformat()
    except (ValueError, OSError, SyntaxError, KeyError, TypeError):
        return None


def _screen_colours(picture: Image.Image) -> Image.Image:
    """The picture in sRGB, which is what a browser takes a picture without a colour profile for."""
    from PIL import ImageCms

    profile = picture.info.get("icc_profile")
    if not profile:
        return picture
    try:
        camera = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        return ImageCms.profileToProfile(picture, camera, ImageCms.createProfile("sRGB")) or picture
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return picture


def _limit_self() -> None:
    """Give back to the system what a photo can't need, so that a file made to eat memory ends this process only."""
    if sys.platform == "win32":
        return
    import resource

    for limit, most in ((resource.RLIMIT_AS, _MOST_BYTES), (resource.RLIMIT_CPU, _MOST_SECONDS)):
        try:
            resource.setrlimit(limit, (most, most))
        except (ValueError, OSError):  # a stricter limit is set already, or the system knows none
            continue


def main() -> None:
    """Answer for the one photo on standard input."""
    from labels.errors import LabelError

    _limit_self()
    try:
        about, picture = remade(sys.stdin.buffer.read())
    except LabelError as error:
        about, picture = {"message": error.message, "hint": error.hint}, b""
    sys.stdout.buffer.write(json.dumps(about).encode() + b"\n" + picture)


if __name__ == "__main__":
    main()
