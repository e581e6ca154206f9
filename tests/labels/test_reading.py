from __future__ import annotations

import contextlib
import io
import math
import random
import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import pillow_heif
import pytest
from PIL import Image, ImageDraw, ImageFilter

from labels import photo, reading
from labels.errors import LabelError
from labels.reading import code_of, drawn, read_photo
from labels.sheet import draw
from labels.stocks import bundled
from labels.text import LabelText

Many = Callable[..., list[LabelText]]
Render = Callable[..., Image.Image]


def saved(picture: Image.Image, kind: str = "JPEG", **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


@pytest.fixture
def prints(many: Many, render: Render) -> Callable[..., list[tuple[str, Image.Image]]]:
    """Printed labels as pictures, with what they say."""

    def make(count: int, dpi: float = 130) -> list[tuple[str, Image.Image]]:
        labels = many(count)
        pdf = draw(labels, bundled()["roll-62x29"])
        return [(label.address, render(pdf, dpi, page)) for page, label in enumerate(labels)]

    return make


@pytest.fixture
def close_up(prints: Callable[..., list[tuple[str, Image.Image]]]) -> tuple[str, Image.Image]:
    """One label on a dark bench."""
    address, label = prints(1)[0]
    bench = Image.new("RGB", (700, 500), (70, 60, 50))
    bench.paste(label, (150, 120))
    return address, bench


def shelf(labels: list[tuple[str, Image.Image]], seed: int = 7) -> Image.Image:
    """A shelf: clutter, labels hung a little askew, blur, grain."""
    chance = random.Random(seed)
    scene = Image.new("L", (3000, 2200), 95)
    pen = ImageDraw.Draw(scene)
    for _ in range(600):
        x, y, w, h = (chance.uniform(0, 3000), chance.uniform(0, 2200), chance.uniform(4, 260), chance.uniform(4, 260))
        shape = pen.ellipse if chance.random() < 0.4 else pen.rectangle
        shape((x, y, x + w, y + h), fill=chance.randrange(20, 210), outline=chance.randrange(256))
    for index, (_, label) in enumerate(labels):
        turn = chance.uniform(-8, 8)
        turned = label.rotate(turn, Image.Resampling.BICUBIC, expand=True)
        mask = Image.new("L", label.size, 255).rotate(turn, expand=True)
        spot = (90 + index % 6 * 480 + chance.randrange(40), 60 + index // 6 * 420 + chance.randrange(60))
        scene.paste(turned, spot, mask)
    grain = Image.effect_noise(scene.size, 24)
    return Image.blend(scene.filter(ImageFilter.GaussianBlur(0.6)), grain, 0.12)


def test_all_labels_of_a_shelf_are_read_and_none_wrongly(
    prints: Callable[..., list[tuple[str, Image.Image]]],
) -> None:
    labels = prints(30, 100)
    found = read_photo(saved(shelf(labels), quality=80))
    assert sorted(one.payload for one in found.readings) == sorted(address for address, _ in labels)
    assert (found.width, found.height, found.unread) == (3000, 2200, [])


def test_corners_stand_on_the_symbol(close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    (one,) = read_photo(saved(bench)).readings
    assert one.payload == address
    dot = 130 / 25.4
    quiet, side = 4 * 9 * 25.4 / 300, 25 * 9 * 25.4 / 300
    left = 150 + ((29 - 33 * 9 * 25.4 / 300) / 2 + quiet) * dot
    for (x, y), (right, down) in zip(one.corners, ((0, 0), (1, 0), (1, 1), (0, 1)), strict=True):
        assert x == pytest.approx(left + right * side * dot, abs=5)
        assert y == pytest.approx(120 + (29 / 2 - side / 2 + down * side) * dot, abs=5)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_turned_as_its_note_asks(orientation: int, close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    stored = bench.transpose(undo[orientation]) if orientation > 1 else bench
    exif = Image.Exif()
    exif[0x0112] = orientation
    found = read_photo(saved(stored, exif=exif))
    assert (found.width, found.height) == (700, 500)
    (one,) = found.readings
    assert one.payload == address
    assert one.corners[0] == pytest.approx((172.5, 141.5), abs=20)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_kinds_of_photo_are_told_by_their_bytes(kind: str, close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    assert [one.payload for one in read_photo(saved(bench, kind)).readings] == [address]


def test_a_heic_photo_is_turned_once(close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    exif = Image.Exif()
    exif[0x0112] = 6
    heif = pillow_heif.from_pillow(bench.transpose(Image.Transpose.ROTATE_90))
    out = io.BytesIO()
    heif.save(out, exif=exif.tobytes(), quality=90)
    found = read_photo(out.getvalue())
    assert [one.payload for one in found.readings] == [address]


@pytest.mark.parametrize("mode", ["L", "1", "P", "CMYK", "RGBA", "LA", "I;16"])
def test_any_colour_mode_is_read(mode: str, close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    if mode == "I;16":
        grey = bench.convert("L")
        wide = Image.frombytes("I;16", grey.size, b"".join(struct.pack("<H", level * 257) for level in grey.tobytes()))
        data = saved(wide, "PNG")
    else:
        data = saved(bench.convert(mode), "JPEG" if mode == "CMYK" else "PNG")
    assert [one.payload for one in read_photo(data).readings] == [address]


def test_a_transparent_picture_is_read_on_white(many: Many) -> None:
    from labels.qr import symbol

    code = symbol(many(1)[0].address)
    picture = Image.new("RGBA", (code.modules + 8, code.modules + 8), (0, 0, 0, 0))
    for y, row in enumerate(code.rows()):
        for x, module in enumerate(row):
            if module == "1":
                picture.putpixel((x + 4, y + 4), (0, 0, 0, 255))
    data = saved(picture.resize((264, 264), Image.Resampling.NEAREST), "PNG")
    assert [one.payload for one in read_photo(data).readings] == [many(1)[0].address]


def test_the_first_picture_of_an_animation_is_read(close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    data = saved(bench, "WEBP", save_all=True, append_images=[Image.new("RGB", bench.size)], lossless=True)
    assert [one.payload for one in read_photo(data).readings] == [address]


def test_a_label_that_stands_twice_is_read_twice(many: Many, render: Render) -> None:
    picture = render(draw(many(1), bundled()["roll-62x100"]), 150)
    first, second = read_photo(saved(picture)).readings
    assert first.payload == second.payload
    assert first.corners[0][1] < second.corners[0][1]


def test_a_blurred_label_is_read_on_a_later_look(close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    blurred = bench.filter(ImageFilter.GaussianBlur(1.9))
    assert [one.payload for one in read_photo(saved(blurred)).readings] == [address]


def test_grain_is_smoothed_away(close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    grainy = Image.blend(bench.convert("L"), Image.effect_noise(bench.size, 120), 0.5)
    assert [one.payload for one in read_photo(saved(grainy, quality=95)).readings] == [address]


def test_a_spoiled_symbol_is_reported_as_unread(close_up: tuple[str, Image.Image]) -> None:
    _, bench = close_up
    (one,) = read_photo(saved(bench)).readings
    centre = (sum(x for x, _ in one.corners) / 4, sum(y for _, y in one.corners) / 4)
    reach = math.dist(one.corners[0], one.corners[1]) * 0.21
    pen = ImageDraw.Draw(bench)
    pen.ellipse((centre[0] - reach, centre[1] - reach, centre[0] + reach, centre[1] + reach), fill=(120, 90, 60))
    found = read_photo(saved(bench))
    assert found.readings == []
    (frame,) = found.unread
    assert (sum(x for x, _ in frame) / 4, sum(y for _, y in frame) / 4) == pytest.approx(centre, abs=12)


def test_a_frame_across_several_labels_is_no_symbol() -> None:
    def square(x: float, y: float, side: float) -> reading.Corners:
        return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))

    read = [reading.Reading("A", square(100, 100, 80)), reading.Reading("B", square(600, 100, 80))]
    assert reading._chimera(square(120, 120, 500), read)
    assert reading._chimera(square(1000, 1000, 300), read)
    assert reading._chimera(square(0, 0, 0), [])
    assert not reading._chimera(square(1000, 1000, 100), read)
    assert not reading._chimera(square(1000, 1000, 300), [])


def test_other_kinds_of_code_are_left_alone() -> None:
    import segno

    out = io.BytesIO()
    segno.make_micro("12345").save(out, kind="png", scale=10, border=4)
    assert read_photo(out.getvalue()).readings == []


def test_a_very_large_photo_is_read_without_enlarging_it(close_up: tuple[str, Image.Image]) -> None:
    address, bench = close_up
    large = Image.new("L", (5600, 4000), 80)
    large.paste(bench.convert("L").resize((1400, 1000)), (2000, 1500))
    found = read_photo(saved(large))
    assert ([one.payload for one in found.readings], found.width) == ([address], 5600)


@pytest.mark.parametrize("mode", ["RGB", "L", "P", "RGBA"])
def test_a_photo_is_made_no_larger_than_asked_for_and_never_larger_than_it_is(mode: str) -> None:
    data = saved(Image.new("RGB", (900, 600), "red").convert(mode), "PNG" if mode in {"P", "RGBA"} else "JPEG")
    assert photo.upright(data, 300).size == (300, 200)
    assert photo.upright(data, 1000).size == photo.upright(data).size == (900, 600)


def test_an_empty_file_is_refused() -> None:
    with pytest.raises(LabelError, match="photo is empty"):
        read_photo(b"")


@pytest.mark.parametrize("data", [b"GIF89a" + bytes(40), b"%PDF-1.4 not a photo", b"<svg/>", b"\x00" * 100])
def test_other_files_are_refused_with_the_kinds_that_are_read(data: bytes) -> None:
    with pytest.raises(LabelError, match="not a photo") as caught:
        read_photo(data)
    assert "JPEG, PNG, WebP or HEIC" in caught.value.hint


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_cut_off_file_is_refused(kind: str, share: float, close_up: tuple[str, Image.Image]) -> None:
    data = saved(close_up[1], kind)
    with pytest.raises(LabelError, match=r"damaged|not a photo") as caught:
        read_photo(data[: int(len(data) * share)])
    assert caught.value.hint


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_a_spoiled_file_is_read_or_refused_but_never_crashes(
    kind: str, seed: int, close_up: tuple[str, Image.Image]
) -> None:
    chance = random.Random(seed)
    data = bytearray(saved(close_up[1].resize((140, 100)), kind))
    for _ in range(chance.randrange(1, 8)):
        data[chance.randrange(len(data) if seed % 2 else 60)] = chance.randrange(256)
    with contextlib.suppress(LabelError):  # any other error, or a warning, fails
        read_photo(bytes(data))


def png_header(width: int, height: int) -> bytes:
    """A tiny file that claims a huge picture."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(9000, 9000), (11000, 11000), (60000, 60000), (2_000_000, 40)])
def test_a_picture_bomb_is_refused_by_its_size(size: tuple[int, int]) -> None:
    with pytest.raises(LabelError, match="at most 64 megapixels"):
        read_photo(png_header(*size))


def test_a_text_bomb_in_a_png_is_refused() -> None:
    body = b"Comment\0\0" + zlib.compress(b"a" * 50_000_000)
    chunk = struct.pack(">I", len(body)) + b"zTXt" + body + struct.pack(">I", zlib.crc32(b"zTXt" + body))
    data = png_header(40, 40)
    with pytest.raises(LabelError, match="damaged"):
        read_photo(data[:33] + chunk + data[33:])


def test_a_bomb_found_while_unpacking_is_refused(
    monkeypatch: pytest.MonkeyPatch, close_up: tuple[str, Image.Image]
) -> None:
    def burst(_: Image.Image) -> None:
        raise Image.DecompressionBombError

    picture = close_up[1]
    monkeypatch.setattr(type(picture), "load", burst)
    monkeypatch.setattr(photo, "_opened", lambda _: picture)
    with pytest.raises(LabelError, match="far too many pixels"):
        photo.upright(b"x")


def test_a_broken_turning_note_is_ignored(monkeypatch: pytest.MonkeyPatch, close_up: tuple[str, Image.Image]) -> None:
    def broken(_: Image.Image) -> None:
        raise SyntaxError

    monkeypatch.setattr(photo.ImageOps, "exif_transpose", broken)
    assert len(read_photo(saved(close_up[1])).readings) == 1


def test_a_file_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photo, "MAX_BYTES", 1024 * 1024)
    with pytest.raises(LabelError, match="has 2 MB; at most 1 MB"):
        read_photo(b"x" * 2 * 1024 * 1024)


@pytest.mark.parametrize(
    ("payload", "code"),
    [
        ("HTTP://STASH.LOCAL/Q/7K3QX9", "7K3QX9"),
        ("https://192.168.178.40:8300/q/7k3qx9", "7K3QX9"),
        (" HTTP://A/Q/7K3QX9\n", "7K3QX9"),
        ("HTTP://STASH.LOCAL/Q/7K3QX", None),
        ("HTTP://STASH.LOCAL/Q/7K3QX99", None),
        ("HTTP://STASH.LOCAL/Q/7K3QIL", None),
        ("HTTP://STASH.LOCAL/P/7K3QX9", None),
        ("HTTP://STASH.LOCAL/X/Q/7K3QX9", None),
        ("FTP://STASH.LOCAL/Q/7K3QX9", None),
        ("7K3QX9", None),
        ("", None),
    ],
)
def test_a_code_is_found_only_in_a_label_address(payload: str, code: str | None) -> None:
    assert code_of(payload) == code


def test_what_was_found_is_drawn_without_the_files_notes(close_up: tuple[str, Image.Image]) -> None:
    _, bench = close_up
    exif = Image.Exif()
    exif[0x010E] = "a shed, and where it stands"
    data = saved(bench, exif=exif)
    found = read_photo(data)
    frame: reading.Corners = ((500.0, 300.0), (580.0, 300.0), (580.0, 380.0), (500.0, 380.0))
    stranger = reading.Reading("WIFI:elsewhere", ((40.0, 300.0), (120.0, 300.0), (120.0, 380.0), (40.0, 380.0)))
    picture = Image.open(io.BytesIO(drawn(data, [*found.readings, stranger], [frame])))
    assert (picture.format, picture.size) == ("JPEG", (700, 500))
    assert b"a shed" not in drawn(data, found.readings, [])
    red, _, blue = picture.getpixel((540, 340))
    assert red > blue + 60
    x, y = found.readings[0].corners[0]
    red, _, blue = (
        picture.crop((round(x) - 1, round(y) - 1, round(x) + 2, round(y) + 2)).resize((1, 1)).getpixel((0, 0))
    )
    assert blue > red + 40


def test_a_large_photo_is_drawn_at_screen_size(close_up: tuple[str, Image.Image]) -> None:
    large = saved(close_up[1].resize((2800, 2000)))
    found = read_photo(large)
    assert Image.open(io.BytesIO(drawn(large, found.readings, found.unread))).size == (2000, 1429)


def test_the_room_imports_nothing_of_the_program() -> None:
    for path in (Path(reading.__file__).parent).glob("*.py"):
        assert not re.search(r"^\s*(from|import) stash\b", path.read_text("utf-8"), re.MULTILINE), path
