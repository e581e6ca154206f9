import pypdfium2
import pytest
from PIL import Image

from stash.errors import InvalidInput
from stash.services import labels, reading
from tests.services.workshop import BIN_A, BOOTS, CARB_TURNED, CARBS, PROJECT


def picture_of(pdf: bytes) -> Image.Image:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return document[0].render(scale=200 / 72).to_pil()
    finally:
        document.close()


def saved(picture: Image.Image, path) -> bytes:
    picture.convert("RGB").save(path, "JPEG", quality=85)
    return path.read_bytes()


@pytest.fixture
def photo(workshop, tmp_path):
    pdf = labels.sheet(workshop, [BIN_A, CARBS, CARB_TURNED, BOOTS], labels.Printing(), who="Ann")
    return saved(picture_of(pdf), tmp_path / "shelf.jpg")


def test_every_printed_label_on_a_photo_is_read_and_what_fills_a_gap_comes_first(workshop, photo):
    found = reading.read(workshop, photo)
    assert {each.code for each in found.seen} == {BIN_A, CARBS, CARB_TURNED, BOOTS}
    assert found.foreign == 0
    assert [bool(each.uses) for each in found.seen] == sorted((bool(each.uses) for each in found.seen), reverse=True)
    data = {each.code: each.as_dict() for each in found.seen}
    assert data[CARB_TURNED]["type"] == "lot"
    assert f"machine:{PROJECT}" in {fill["gap"] for fill in data[CARB_TURNED]["fills"]}
    assert {lot.code for lot in next(each for each in found.seen if each.code == BIN_A).lots} == {CARBS, CARB_TURNED}
    assert len(data[BIN_A]["corners"]) == 4


def test_the_corners_are_drawn_on_the_photo(photo):
    assert reading.drawn(photo).startswith(b"\xff\xd8")


def test_a_label_of_something_that_is_gone_is_still_shown(workshop, photo, other_store):
    assert all(each.thing is None for each in reading.read(other_store, photo).seen)


def test_what_is_no_photo_is_refused_with_a_hint(workshop):
    with pytest.raises(InvalidInput) as caught:
        reading.read(workshop, b"not a photo")
    assert caught.value.hint
