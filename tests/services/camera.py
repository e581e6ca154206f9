"""Pictures as cameras and strangers send them; all of them drawn here."""

import io
import json
import struct
import subprocess
import zlib

import pillow_heif
from PIL import Image, ImageCms, ImageDraw

from labels.errors import LabelError
from stash.services import picture_child, pictures

pillow_heif.register_heif_opener()

TAKEN_ON = "2024-05-06"


def drawn(width: int = 640, height: int = 480, colour: str = "tan") -> Image.Image:
    """A cylinder with fins, and a red mark at its top left corner."""
    picture = Image.new("RGB", (width, height), colour)
    draw = ImageDraw.Draw(picture)
    for fin in range(6):
        top = height * (fin + 2) // 9
        draw.rounded_rectangle((width // 4, top, 3 * width // 4, top + height // 14), 8, "dimgray", "black", 3)
    draw.ellipse((width * 2 // 5, height // 3, width * 3 // 5, height * 2 // 3), "black")
    draw.rectangle((0, 0, width // 8, height // 8), "red")
    return picture


def notes(orientation: int = 1) -> Image.Exif:
    """What a phone notes beside a picture: where, when and by what it was taken."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x0110] = orientation, "Invented Phones", "Model Seventeen"
    exif.get_ifd(0x8769).update({0x9003: "2024:05:06 07:08:09", 0xA430: "Ada Invented"})
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 34.5), 3: "E", 4: (11.0, 33.0, 21.0), 5: 0, 6: 512.0})
    return exif


def saved(picture: Image.Image, kind: str = "JPEG", **options: object) -> bytes:
    """A picture as a file."""
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def photo(kind: str = "JPEG", orientation: int = 1, **size: object) -> bytes:
    """A photo as a phone writes it, with every sort of note in it."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    options: dict[str, object] = {"exif": notes(orientation), "icc_profile": profile}
    if kind in {"JPEG", "WEBP"}:
        options["xmp"] = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>GPSLatitude</x:xmpmeta>"
    if kind == "JPEG":
        options["comment"] = b"taken at the invented lane 5"
    return saved(drawn(**size), kind, **options)


def bomb(width: int = 30_000, height: int = 30_000) -> bytes:
    """A PNG of few bytes that says it is huge, and is."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    packer = zlib.compressobj(9)
    rows = b"".join(packer.compress(bytes(1 + (width + 7) // 8)) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def markers(jpeg: bytes) -> list[int]:
    """The second byte of every marker segment before the picture data.

    Source: ITU-T T.81, B.1.1.2 to B.1.1.4: 0xFF, the marker, and for all but SOI a length that counts itself.
    """
    assert jpeg[:2] == b"\xff\xd8"
    found, at = [], 2
    while True:
        assert jpeg[at] == 0xFF
        found.append(jpeg[at + 1])
        if jpeg[at + 1] == 0xDA:
            return found
        at += 2 + struct.unpack(">H", jpeg[at + 2 : at + 4])[0]


def unpack_here(monkeypatch) -> None:
    """Let photos be unpacked in this process, where a test is not about their having one of their own."""

    def here(command, input, **_):  # noqa: A002 - as subprocess calls it
        try:
            about, picture = picture_child.remade(input)
        except LabelError as error:
            about, picture = {"message": error.message, "hint": error.hint}, b""
        return subprocess.CompletedProcess(command, 0, json.dumps(about).encode() + b"\n" + picture, b"")

    monkeypatch.setattr(pictures.subprocess, "run", here)
