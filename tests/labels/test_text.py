from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labels import marks
from labels.errors import LabelError
from labels.text import ELLIPSIS, LEADING, SMALLEST_PT, LabelText, check, fill, grouped, wrap
from labels.type import BOLD, REGULAR, clean, width_em

WORDS = st.lists(st.text(alphabet="abcdefgWMil0123456789äöü-/.,()", min_size=1, max_size=24), min_size=1, max_size=14)
FACES = st.sampled_from([REGULAR, BOLD])
WIDTHS = st.floats(3, 40)
LINES = st.integers(1, 6)
SENTENCE = WORDS.map(" ".join)


@settings(deadline=None)
@given(SENTENCE, WIDTHS, FACES, LINES)
def test_no_line_is_wider_than_its_box(text: str, width: float, face: str, lines: int) -> None:
    broken, _ = wrap(text, width, face, lines)
    assert 1 <= len(broken) <= lines
    assert all(width_em(line, face) <= width + 1e-9 for line in broken)


@settings(deadline=None)
@given(SENTENCE, WIDTHS, FACES, LINES)
def test_text_that_fits_is_printed_word_for_word(text: str, width: float, face: str, lines: int) -> None:
    broken, whole = wrap(text, width, face, lines)
    assert (" ".join(broken) == text) == whole


@settings(deadline=None)
@given(SENTENCE, WIDTHS, FACES, LINES)
def test_shortened_text_says_so_and_keeps_its_beginning(text: str, width: float, face: str, lines: int) -> None:
    broken, whole = wrap(text, width, face, lines)
    if whole:
        return
    shown = " ".join(broken)
    assert shown.endswith(ELLIPSIS)
    assert text.startswith(shown.removesuffix(ELLIPSIS).rstrip())


@settings(deadline=None)
@given(SENTENCE, WIDTHS, FACES, LINES)
def test_a_word_is_cut_only_where_it_has_a_line_for_itself(text: str, width: float, face: str, lines: int) -> None:
    broken, whole = wrap(text, width, face, lines)
    words = text.split(" ")
    printed = " ".join(broken).split(" ")
    for shown, word in zip(printed, words, strict=False):
        if shown not in (word, ELLIPSIS):
            assert not whole
            assert shown == broken[-1].split(" ")[-1]
            assert len(broken[-1].split(" ")) == 1
            assert width_em(word + (ELLIPSIS if shown == word + ELLIPSIS else " " + ELLIPSIS), face) > width


@settings(deadline=None)
@given(SENTENCE, WIDTHS, FACES, LINES)
def test_more_lines_never_show_less(text: str, width: float, face: str, lines: int) -> None:
    few, few_whole = wrap(text, width, face, lines)
    more, more_whole = wrap(text, width, face, lines + 1)
    assert len(" ".join(more)) >= len(" ".join(few).removesuffix(ELLIPSIS).rstrip())
    assert more_whole or not few_whole


def test_a_box_too_narrow_for_any_character_shows_the_sign() -> None:
    assert wrap("Wanne", 1.0, BOLD, 3) == ((ELLIPSIS,), False)


LABELS = st.builds(
    LabelText,
    code=st.just("7K3QX9"),
    address=st.just("HTTP://STASH.LOCAL/Q/7K3QX9"),
    title=st.one_of(st.just(""), SENTENCE),
    discriminator=st.one_of(st.just(""), SENTENCE),
    fits=st.one_of(st.just(""), SENTENCE),
    fits_not=st.one_of(st.just(""), SENTENCE),
    quantity=st.sampled_from(["", "2 pcs"]),
    counted=st.sampled_from(["", "2026-11-25"]),
)


@settings(deadline=None)
@given(LABELS, st.floats(42, 300), st.floats(5, 300), st.floats(0, 1))
def test_lines_never_leave_their_box(label: LabelText, width: float, height: float, share: float) -> None:
    size = 6 + share * max(0.0, width / 14 - 6)  # no layout sets larger type than a 14th of the width
    lines = fill(label, width, height, size)
    assert sum(line.size_pt * LEADING for line in lines) <= height + 1e-6
    assert all(line.indent_pt + width_em(line.text, line.face) * line.size_pt <= width + 1e-6 for line in lines)
    assert all(line.size_pt >= SMALLEST_PT for line in lines)


COUNTS = st.integers(0, 12)


@settings(deadline=None)
@given(st.tuples(COUNTS, COUNTS, COUNTS, COUNTS), st.booleans(), st.floats(60, 300), st.floats(5, 200))
def test_items_keep_their_order_and_none_is_skipped_for_a_later_one(
    counts: tuple[int, int, int, int], counted: bool, width: float, height: float
) -> None:
    title, discriminator, fits, fits_not = (
        " ".join([letter * 3] * count) for letter, count in zip("tdfn", counts, strict=True)
    )
    label = LabelText(
        "7K3QX9", "HTTP://A/Q/7K3QX9", title, discriminator, fits, fits_not, quantity="qqq" if counted else ""
    )
    lines = fill(label, width, height, max(6.0, width / 14))
    shown = [line.text[0] for line in lines]
    assert shown == sorted(shown, key="tdfnq".index)
    assert [line.tag for line in lines if line.tag] == [
        tag for tag, letter in (("FITS", "f"), ("NOT", "n")) if letter in shown
    ]
    alike = [
        letter for letter, text in zip("dfnq", (discriminator, fits, fits_not, label.quantity), strict=True) if text
    ]
    assert [letter for letter in alike if letter in shown] == alike[: len(set(shown) & set(alike))]


def test_a_full_label_says_everything_in_order(label: LabelText) -> None:
    lines = fill(label, 200, 200, 8)
    assert [line.text for line in lines] == [
        "Carburettor 14 mm, reed type",
        "hole spacing 42 mm, turned 90° against the others",
        "Kittle II, Kittle S from 1974",
        "Kittle, Pip Sport (hole spacing 38 mm)",
        "2 pcs · counted 2026-11-25",
    ]
    assert [line.tag for line in lines] == ["", "", "FITS", "NOT", ""]


def test_what_has_no_room_is_left_out_from_the_end(label: LabelText) -> None:
    texts = [line.text for line in fill(label, 200, 24, 6)]
    assert texts == [
        "Carburettor 14 mm, reed type",
        "hole spacing 42 mm, turned 90° against the others",
        "Kittle II, Kittle S from 1974",
    ]


def test_smaller_type_is_tried_before_words_are_dropped(label: LabelText) -> None:
    roomy = fill(label, 150, 200, 10)
    tight = fill(label, 150, 75, 10)
    assert roomy[-1].size_pt == 10
    assert tight[-1].size_pt < 10
    assert not any(line.text.endswith(ELLIPSIS) for line in tight)


def test_a_label_that_says_nothing_has_no_lines() -> None:
    assert fill(LabelText("7K3QX9", "HTTP://A/Q/7K3QX9"), 100, 100, 8) == []


def test_a_code_is_printed_in_two_groups() -> None:
    assert grouped("7k3qx9") == "7K3 QX9"


@pytest.mark.parametrize("code", ["", "7K3", "7K3QX99", "7K3QX*", "7K3QXÄ"])
def test_a_bad_code_is_refused(code: str) -> None:
    with pytest.raises(LabelError, match="not six letters and digits"):
        grouped(code)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("piston 漢", r"U\+6F22, CJK UNIFIED IDEOGRAPH-6F22"),
        ("bell \U0001f514", r"U\+1F514, BELL"),
        ("tab\u200b", r"U\+200B, ZERO WIDTH SPACE"),
        ("x\x07", r"U\+0007, without a name"),
        ("שלום", r"U\+05E9, HEBREW LETTER SHIN\): writing from right to left"),
        ("سلام", r"U\+0633, ARABIC LETTER SEEN\): writing from right to left"),
        ("q\u0323\u0301", "COMBINING"),
    ],
)
def test_a_character_that_cannot_be_printed_is_named(label: LabelText, text: str, name: str) -> None:
    with pytest.raises(LabelError, match="Label 7K3QX9: .*" + name):
        check(dataclasses.replace(label, fits=text))


@pytest.mark.parametrize("text", ["Kühlrippe Größe 38,5 mm", "Поршень 40 мм", "Κύλινδρος", "Zylinder Ø 38 ± 0,1 ½″"])
def test_latin_greek_and_cyrillic_are_covered(text: str) -> None:
    assert clean(text) == text


def test_white_space_and_accents_are_brought_to_one_form() -> None:
    assert clean(" Ko\u0308lben\n\t 38 ") == "Kölben 38"


@pytest.mark.parametrize("ordinal", range(1, marks.MOST + 1))
def test_each_ordinal_has_a_shape_of_its_own_inside_its_square(ordinal: int) -> None:
    points = marks.outline(ordinal)
    assert all(abs(x) <= 1.05 and abs(y) <= 1.0001 for x, y in points)
    others = {marks.outline(other) for other in range(1, marks.MOST + 1) if other != ordinal}
    assert points not in others
    assert 0.5 < marks.letter_size(ordinal) <= 1.1
    assert 0 <= marks.letter_drop(ordinal) < 0.5


def test_a_mark_is_a_letter_and_a_number() -> None:
    assert marks.parse("b12") == marks.Mark("B", 12)


@pytest.mark.parametrize("text", ["", "A", "2", "A0", "A13", "AB2", "A2 ", "_2"])
def test_a_bad_mark_is_refused(text: str) -> None:
    with pytest.raises(LabelError, match="not one letter and a number from 1 to 12"):
        marks.parse(text)


def test_a_bad_mark_names_its_label(label: LabelText) -> None:
    with pytest.raises(LabelError, match="Label 7K3QX9: The mark 'Z99'"):
        check(dataclasses.replace(label, mark="Z99"))


def test_an_error_shows_its_message_and_its_hint() -> None:
    assert str(LabelError("Wrong.", "Mend it.")) == "Wrong. Mend it."
    assert str(LabelError("Wrong.")) == "Wrong."
