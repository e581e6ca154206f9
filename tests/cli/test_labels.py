"""``labels`` and ``read``: what is printed is read again."""

from __future__ import annotations

from io import BytesIO

import pypdfium2
import pytest
from pypdf import PdfReader

from tests.services.workshop import BIN_A, BOOTS, CARB_TURNED, CARBS, CLIPS, DONOR, PROJECT, RUNNER, SHELF


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def words_of(file) -> str:
    return " ".join(page.extract_text() for page in PdfReader(file).pages)


def photo_of(pdf, file) -> None:
    document = pypdfium2.PdfDocument(str(pdf))
    document[0].render(scale=300 / 72).to_pil().save(file)
    document.close()


def test_labels_are_written_and_say_how_to_print_them(type_in, folder):
    result = type_in("labels", CARBS, BIN_A)
    assert result.exit_code == 0
    assert "2 labels" in result.stdout
    assert "100 %" in result.stdout
    assert f"{CARBS[:3]} {CARBS[3:]}" in words_of(folder / "labels.pdf")


def test_a_printed_sheet_is_read_back_from_a_picture(type_in, ask, folder):
    type_in("labels", CARBS, BIN_A, RUNNER, "--to", "some.pdf")
    photo_of(folder / "some.pdf", folder / "shelf.png")
    seen = ask("read", "shelf.png")
    assert {(each["code"], each["type"]) for each in seen} == {(CARBS, "lot"), (BIN_A, "place"), (RUNNER, "machine")}
    assert all(len(each["corners"]) == 4 for each in seen)
    assert {"code", "type", "title", "corners"} <= set(seen[0])


def test_what_fills_a_gap_stands_on_top_of_a_photo(type_in, folder):
    type_in("labels", RUNNER, CARBS, CARB_TURNED, "--to", "some.pdf")
    photo_of(folder / "some.pdf", folder / "shelf.png")
    first = type_in("read", "shelf.png").stdout.splitlines()[2]
    assert first.startswith(CARB_TURNED)
    assert PROJECT in first


def test_a_photo_without_labels_ends_with_no(type_in, ask, folder):
    from PIL import Image

    Image.new("RGB", (400, 300), "white").save(folder / "wall.png")
    result = type_in("read", "wall.png")
    assert result.exit_code == 1
    assert "No label of yours" in result.stdout
    assert ask("read", "wall.png", ends=1) == []


def test_what_is_no_photo_ends_with_2(type_in, folder):
    (folder / "letter.jpg").write_text("Dear Rosa")
    assert type_in("read", "letter.jpg").exit_code == 2
    assert type_in("read", "nowhere.jpg").exit_code == 2
    (folder / "folder.jpg").mkdir()
    assert type_in("read", "folder.jpg").exit_code == 2


def test_not_printed_prints_everything_once(type_in):
    assert "labels on" in type_in("labels", "--not-printed").stdout
    result = type_in("labels", "--not-printed")
    assert result.exit_code == 1
    assert "Nothing to print" in result.stdout


def test_a_preview_is_not_noted_as_printed(type_in):
    type_in("labels", "--not-printed", "--preview")
    assert type_in("labels", "--not-printed").exit_code == 0


def test_a_label_that_says_something_else_by_now_is_changed(type_in, folder):
    type_in("labels", "--not-printed")
    assert type_in("labels", "--changed").exit_code == 1
    (folder / "designs.csv").write_text("key,kind,name\nboot-90,boot,bent boot\n")
    type_in("load", "designs.csv")
    result = type_in("labels", "--changed", "--to", "changed.pdf")
    assert result.exit_code == 0
    assert BOOTS[:3] in words_of(folder / "changed.pdf")


def test_a_place_is_printed_with_everything_in_it(type_in, folder):
    type_in("labels", "--inside", SHELF)
    said = words_of(folder / "labels.pdf")
    for code in (SHELF, BIN_A, CARBS, BOOTS, CLIPS):
        assert f"{code[:3]} {code[3:]}" in said
    assert f"{RUNNER[:3]} {RUNNER[3:]}" not in said


def test_nothing_came_off_that_machine(type_in):
    assert type_in("labels", "--off", DONOR).exit_code == 1


def test_the_address_is_kept_for_the_next_time(type_in):
    assert "HTTP://STASH.LOCAL" in type_in("labels", CARBS).stdout
    assert "HTTP://BENCH:8470" in type_in("labels", CARBS, "--address", "http://bench:8470").stdout
    assert "HTTP://BENCH:8470" in type_in("labels", CARBS).stdout
    assert type_in("labels", CARBS, "--address", "bench").exit_code == 2


def test_the_stocks_are_listed(type_in):
    shown = type_in("labels", "--stocks").stdout
    assert "a4-64x34" in shown
    assert "roll-50x30" in shown


def test_a_calibration_page_needs_no_codes(type_in, folder):
    assert type_in("labels", "--calibration", "--stock", "a4-64x34", "--to", "page.pdf").exit_code == 0
    assert len(PdfReader(BytesIO((folder / "page.pdf").read_bytes())).pages) >= 1


def test_a_printer_is_kept_by_name_and_used_again(type_in, folder):
    plain, moved, again = folder / "plain.pdf", folder / "moved.pdf", folder / "again.pdf"
    type_in("labels", CARBS, "--to", str(plain))
    kept = type_in("labels", CARBS, "--printer", "laser", "--right", "1.5", "--down", "-0.5", "--to", str(moved))
    assert kept.exit_code == 0
    assert type_in("labels", CARBS, "--printer", "laser", "--to", str(again)).exit_code == 0
    assert plain.read_bytes() != moved.read_bytes() == again.read_bytes()


def test_a_printer_nobody_kept_is_told(type_in):
    assert "None is kept yet" in type_in("labels", CARBS, "--printer", "inkjet").stderr
    type_in("labels", CARBS, "--printer", "laser", "--scale", "1.003")
    result = type_in("labels", CARBS, "--printer", "inkjet")
    assert result.exit_code == 2
    assert "Kept are: laser." in result.stderr


def test_a_half_used_sheet_says_where_to_go_on(type_in):
    assert "--first 4 the next time" in type_in("labels", CARBS, BIN_A, BOOTS).stdout
    assert "--first 6 the next time" in type_in("labels", CARBS, CLIPS, "--first", "4").stdout
    assert "the next time" not in type_in("labels", CARBS, "--first", "24").stdout


@pytest.mark.parametrize(
    "words",
    [
        [],
        [CARBS, "--stock", "nobody-1"],
        [CARBS, "--first", "25"],
        [CARBS, "--right", "900"],
        ["NOCODE"],
        [CARBS, "--to", "no/such/folder.pdf"],
        ["--off", "NOCODE"],
    ],
)
def test_what_can_not_be_printed_ends_with_2(type_in, words):
    result = type_in("labels", *words)
    assert result.exit_code == 2
    assert result.stderr
