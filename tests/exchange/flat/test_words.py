"""Cells as people write them."""

import datetime as dt
from decimal import Decimal

import pint
import pytest

from stash.exchange.flat.sizes import read_sizes
from stash.exchange.flat.vocabulary import header_words, kind_words, part_nouns, plain, word_list
from stash.exchange.flat.words import (
    Conventions,
    guess_decimal,
    guess_order,
    read_count,
    read_day,
    read_decimal,
    read_grade,
)

COMMA, POINT = Conventions(","), Conventions(".")


@pytest.mark.parametrize(
    ("text", "number", "about", "doubted"),
    [
        ("2", 2, False, False),
        ("2x", 2, False, False),
        ("x 2", 2, False, False),
        ('"4"', 4, False, False),
        ("2.0", 2, False, False),
        ("pair", 2, False, False),
        ("3 pr", 6, False, False),
        ("1 dozen", 12, False, False),
        ("2 Paar", 4, False, False),
        ("5 Stk.", 5, False, False),
        ("~40", 40, True, False),
        ("about 40", 40, True, False),
        ("ca. 12", 12, True, False),
        ("1 bag", 1, False, True),
        ("3 sets", 3, False, True),
        ("1/2", 1, False, True),
        ("some", 1, False, True),
        ("", 1, False, True),
        ("-3", 1, False, True),
        ("99999999", 1, False, True),
        ("1,500", 1, False, True),
    ],
)
def test_counts(text, number, about, doubted):
    count = read_count(text)
    assert (count.number, count.about, bool(count.doubt)) == (number, about, doubted)


@pytest.mark.parametrize(
    ("text", "conventions", "number"),
    [
        ("37,95", COMMA, "37.95"),
        ("37.95", POINT, "37.95"),
        ("1.234,50", COMMA, "1234.50"),
        ("1,234.50", POINT, "1234.50"),
        ("€ 18,50", COMMA, "18.50"),
        ("9,-", COMMA, "9"),
        ("37.95", COMMA, None),
        ("37.95", Conventions(",", typed=True), "37.95"),
        ("abc", POINT, None),
        ("12345678901234", POINT, None),
    ],
)
def test_decimals(text, conventions, number):
    assert read_decimal(text, conventions) == (None if number is None else Decimal(number))


def test_the_decimal_mark_is_guessed_and_a_mixture_is_not_sure():
    assert guess_decimal(["37,95", "12"]) == (",", True)
    assert guess_decimal(["37.95"]) == (".", True)
    assert guess_decimal(["12", "x"]) == (".", True)
    assert guess_decimal(["37,95", "12,5", "1.5"]) == (",", False)


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["13.4.2019", "1.2.2020"], ("dmy", True)),
        (["4/13/2019", "1/2/2020"], ("mdy", True)),
        (["3.4.2019"], ("dmy", False)),
        (["13.4.2019", "4/13/2019"], ("dmy", False)),
        (["2019-04-03", "2019"], ("dmy", True)),
        (["5.5.2019"], ("dmy", True)),
    ],
)
def test_the_order_of_a_date_is_sure_only_where_the_cells_leave_no_other(texts, order):
    assert guess_order(texts) == order


@pytest.mark.parametrize(
    ("text", "order", "day", "doubted"),
    [
        ("3.4.2019", "dmy", dt.date(2019, 4, 3), False),
        ("3/4/2019", "mdy", dt.date(2019, 3, 4), False),
        ("2019-04-03", "mdy", dt.date(2019, 4, 3), False),
        ("3.4.69", "dmy", dt.date(2069, 4, 3), False),
        ("3.4.70", "dmy", dt.date(1970, 4, 3), False),
        ("43558", "dmy", dt.date(2019, 4, 3), True),
        ("2019", "dmy", None, True),
        ("31.2.2019", "dmy", None, True),
        ("last spring", "dmy", None, True),
        ("", "dmy", None, False),
    ],
)
def test_days(text, order, day, doubted):
    found = read_day(text, Conventions(order=order))
    assert (found.day, bool(found.doubt)) == (day, doubted)


@pytest.mark.parametrize(
    ("text", "sizes", "words"),
    [
        ("37,95", ["37.95"], ""),
        ("38 x 1,5", ["38", "1.5"], ""),
        ("15x35x11", ["15", "35", "11"], ""),
        ("25-35", ["25", "35"], ""),
        ("12 mm", ["12"], ""),
        ("Ø 12", ["12"], ""),
        ("3 cm", ["30"], ""),
        ("studs 40", ["40"], "studs"),
        ("110 links", ["110"], "links"),
        ("M6x20", ["20"], "M6"),
        ("68 cc", ["68"], "cc"),
        ("big", [], "big"),
        ("1/0 in", [], "1/0"),
    ],
)
def test_sizes(text, sizes, words):
    found = read_sizes(text, COMMA)
    assert (found.mm, found.words) == (tuple(Decimal(each) for each in sizes), words)


@pytest.mark.parametrize("text", ["1/2 in", '1 1/2"', "3/8 zoll", "0.5 in", "2 inches", "3 cm", "1.5 m"])
def test_units_agree_with_a_library_of_units(text):
    """Source: pint's own unit definitions (inch exactly 25.4 mm)."""
    fractions = text.replace('"', " in").replace("zoll", "in").replace("1 1/2", "1.5").replace("1/2", "0.5")
    wanted = pint.UnitRegistry()(fractions.replace("3/8", "0.375")).to("mm").magnitude
    assert float(read_sizes(text, POINT).mm[0]) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("text", "condition", "checked"),
    [
        ("used ok", "serviceable", ""),
        ("NOS", "new", ""),
        ("good, ran", "good", "ran"),
        ("needs cleaning", "needs_work", ""),
        ("good, 1 cracked", "needs_work", ""),
        ("untested", "unknown", ""),
        ("neuwertig", "excellent", ""),
        ("gebraucht", "serviceable", ""),
        ("frayed", "scrap", ""),
        ("not good", "unknown", ""),
        ("nicht gut", "unknown", ""),
        ("unused", "new", ""),
        ("", "unknown", ""),
        ("tested", "serviceable", "ran"),
    ],
)
def test_grades(text, condition, checked):
    grade = read_grade(text)
    assert (grade.condition, grade.checked) == (condition, checked)


def test_what_is_not_said_plainly_is_doubted():
    assert read_grade("not good").doubt
    assert read_grade("purple").doubt
    assert not read_grade("").doubt


def test_words_are_compared_without_case_accents_and_a_plural_s():
    assert plain("Größe (Maß)") == "grosse mass"
    assert word_list("Clips, 6203/C3") == ("clip", "6203", "c3")
    assert word_list("glass bus") == ("glass", "bus")


def test_every_word_for_a_column_means_one_column_in_each_language():
    words = header_words()
    for language in ("code", "place", "quantity"):
        assert words[language]
    assert "kolbenring" in part_nouns()
    assert kind_words()["gudgeon", "pin"] == {"wrist_pin"}
