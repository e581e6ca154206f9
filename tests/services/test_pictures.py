import hashlib
import io

import pillow_heif
import pytest
from PIL import Image, ImageCms

from stash.errors import InvalidInput
from stash.services import picture_child, pictures
from tests.services.camera import bomb, drawn, markers, notes, photo, saved


def ours(data):
    """A photo made ours here and now, not in a process of its own."""
    about, picture = picture_child.remade(data)
    return pictures.Picture(picture, hashlib.sha256(picture).hexdigest(), about["width"], about["height"], None)


def opened(picture):
    return Image.open(io.BytesIO(picture.data))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_nothing_of_where_when_and_by_what_is_left_in_the_file(other_store, kind):
    sent = photo(kind)
    assert Image.open(io.BytesIO(sent)).getexif().get_ifd(0x8825)[2] == (48.0, 12.0, 34.5)  # it was there
    picture = pictures.make_ours(sent)
    pictures.keep(other_store, picture)
    for kept in (picture.data, pictures.small(other_store, picture.sha256)):
        # only APP0 (JFIF), tables and frames: no APP1 (Exif, XMP), APP2 (colour profile), APP13 (IPTC), comment.
        # Source: ITU-T T.81, table B.1, for the markers; CIPA DC-008, 4.7.2, for APP1.
        assert set(markers(kept)) <= {0xE0, 0xDB, 0xC0, 0xC2, 0xC4, 0xDA}
        assert not any(word in kept for word in (b"Exif", b"GPS", b"xmpmeta", b"Invented", b"lane", b"http"))
        assert not Image.open(io.BytesIO(kept)).getexif()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_lies_as_it_was_taken(orientation):
    """Source: CIPA DC-008 (Exif 2.32), 4.6.4 A, Orientation: where row 0 and column 0 of the stored picture are."""
    turns = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    lying = drawn() if orientation == 1 else drawn().transpose(turns[orientation])
    shown = ours(saved(lying, exif=notes(orientation), quality=95))
    assert (shown.width, shown.height) == (640, 480)
    red, green, _ = opened(shown).getpixel((20, 20))
    assert red > 200
    assert green < 60


def test_a_heic_photo_lies_as_it_was_taken():
    """Its own note of rotation counts, and only once. Source: ISO/IEC 23008-12, 6.5.10 (from memory)."""
    lying = pillow_heif.from_pillow(drawn().transpose(Image.Transpose.ROTATE_90))
    out = io.BytesIO()
    lying.save(out, exif=notes(6).tobytes(), quality=90)
    assert b"irot" in out.getvalue()
    shown = ours(out.getvalue())
    assert (shown.width, shown.height) == (640, 480)
    assert opened(shown).getpixel((20, 20))[0] > 200


def test_a_large_photo_is_made_smaller_and_a_small_one_is_left(other_store):
    large, tiny = ours(saved(drawn(4000, 3000))), ours(saved(drawn(90, 40)))
    assert (large.width, large.height) == opened(large).size == (2048, 1536)
    pictures.keep(other_store, large)
    assert (tiny.width, tiny.height) == (90, 40)
    assert Image.open(io.BytesIO(pictures.small(other_store, large.sha256))).size == (360, 270)


def test_the_colours_a_camera_means_become_those_of_a_screen():
    """A profile whose red is blue: the tags of sRGB exchanged. Source: ICC.1:2022, 7.3 and 9.2.44."""
    screen = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    strange = screen.replace(b"rXYZ", b"swap").replace(b"bXYZ", b"rXYZ").replace(b"swap", b"bXYZ")
    red, _, blue = opened(ours(saved(drawn(), quality=95, icc_profile=strange))).getpixel((20, 20))
    assert red < 60
    assert blue > 200


def test_a_broken_colour_profile_stops_nothing():
    for profile in (b"no profile" * 20, ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()):
        assert opened(ours(saved(drawn(), icc_profile=profile))).getpixel((20, 20))[0] > 200


@pytest.mark.parametrize("said", ["2024:13:45 00:00:00", "yesterday", "    :  :     :  :  ", ""])
def test_an_impossible_day_is_no_day(said):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = said
    assert picture_child.remade(saved(drawn(), exif=exif))[0]["taken_on"] is None


def test_of_several_pictures_in_a_file_the_first_is_kept():
    frames = [drawn(colour="navy"), drawn(colour="pink")]
    moving = saved(frames[0], "WEBP", save_all=True, append_images=frames[1:], duration=100, lossless=True)
    pair = saved(frames[0], "MPO", save_all=True, append_images=frames[1:], quality=95)
    for data in (moving, pair):
        shown = ours(data)
        red, _, blue = opened(shown).getpixel((600, 20))
        assert red < 60
        assert blue > 90
        assert opened(shown).format == "JPEG"


@pytest.mark.parametrize("mode", ["L", "1", "P", "CMYK", "RGBA", "LA"])
def test_any_colour_mode_is_taken(mode):
    shown = ours(saved(drawn(3000, 2000).convert(mode), "JPEG" if mode == "CMYK" else "PNG"))
    assert opened(shown).mode == "RGB"
    assert opened(shown).size == (2048, 1365)


ATTACKS = {
    "nothing": b"",
    "words": b"not a photo",
    "a drawing with a script": b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
    "a page": b"<!doctype html><html><script>alert(1)</script></html>",
    "a GIF": saved(drawn(), "GIF"),
    "a script behind the magic of a photo": b"\xff\xd8\xff\xe0<script>alert(1)</script>",
    "a bomb": bomb(),
    "a bomb only in words": bomb(8, 8).replace(
        b"\x00\x00\x00\x08\x00\x00\x00\x08", b"\x7f\xff\xff\xff\x7f\xff\xff\xff"
    ),
    "half a JPEG's head": photo()[:300],
    **{f"half a {kind}": photo(kind)[: len(photo(kind)) // 2] for kind in ("JPEG", "PNG", "WEBP", "HEIF")},
}


@pytest.mark.parametrize("attack", ATTACKS)
def test_what_is_no_photo_is_refused_with_a_mend(attack):
    with pytest.raises(InvalidInput) as refused:
        pictures.make_ours(ATTACKS[attack])
    assert refused.value.hint


def test_a_file_too_large_is_not_even_unpacked(monkeypatch):
    monkeypatch.setattr("labels.photo.MAX_BYTES", 1000)
    monkeypatch.setattr(pictures.subprocess, "run", None)
    with pytest.raises(InvalidInput, match="MB"):
        pictures.make_ours(photo())


def test_a_script_behind_a_whole_photo_does_not_come_along():
    assert b"<script>" not in ours(photo() + b"<script>alert(1)</script>").data


def test_a_library_that_crashes_takes_only_its_own_process_along(monkeypatch):
    run = pictures.subprocess.run

    def crashing(command, **options):
        assert command[-2:] == ["-m", "stash.services.picture_child"]
        return run([*command[:-2], "-c", "import os; os.abort()"], **options)

    monkeypatch.setattr(pictures.subprocess, "run", crashing)
    with pytest.raises(InvalidInput, match="can't be unpacked"):
        pictures.make_ours(photo())


def test_a_photo_that_takes_for_ever_is_given_up(monkeypatch):
    run = pictures.subprocess.run

    def slow(command, timeout, **options):
        del timeout
        return run([*command[:-2], "-c", "import time; time.sleep(60)"], timeout=0.2, **options)

    monkeypatch.setattr(pictures.subprocess, "run", slow)
    with pytest.raises(InvalidInput, match="too long"):
        pictures.make_ours(photo())
