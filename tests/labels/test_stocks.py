from __future__ import annotations

import dataclasses

import pytest

from labels.errors import LabelError
from labels.layout import Place, layout, module_dots, smallest_side_mm
from labels.qr import modules_of
from labels.stocks import COLUMNS, FORMS, bundled, parse, read_table


def test_bundled_stocks_cover_sheets_rolls_and_tags() -> None:
    stocks = bundled().values()
    assert {stock.form for stock in stocks} == set(FORMS)
    assert len(stocks) >= 14
    assert any(stock.round for stock in stocks)


def test_pages_have_their_standard_sizes() -> None:
    # Source: ISO 216 (A4, 210 x 297 mm); ANSI/ASME Y14.1 (A, 8.5 x 11 in).
    for key, stock in bundled().items():
        if key.startswith("a4-"):
            assert (stock.page_w_mm, stock.page_h_mm) == (210, 297)
        if key.startswith("letter-"):
            assert (stock.page_w_mm, stock.page_h_mm) == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_rolls_are_12_to_62_mm_wide() -> None:
    widths = sorted(min(stock.page_w_mm, stock.page_h_mm) for stock in bundled().values() if stock.form == "roll")
    assert (widths[0], widths[-1]) == (12, 62)


@pytest.mark.parametrize("key", bundled())
def test_labels_of_bundled_sheets_are_centred_across_the_page(key: str) -> None:
    stock = bundled()[key]
    right = stock.page_w_mm - stock.margin_left_mm - (stock.columns - 1) * stock.pitch_x_mm - stock.label_w_mm
    assert right == pytest.approx(stock.margin_left_mm, abs=0.35)


@pytest.mark.parametrize("key", [key for key, stock in bundled().items() if stock.qr_mm])
def test_bundled_stocks_hold_a_symbol_for_an_everyday_address(key: str) -> None:
    stock = bundled()[key]
    assert module_dots(modules_of(35), stock.qr_mm, stock.dpi) * stock.dot_mm >= 0.6


def test_a_row_is_parsed_with_its_types(row: dict[str, str]) -> None:
    stock = parse({**row, "note": " kept ", "round": "NO"})
    assert (stock.key, stock.columns, stock.label_w_mm, stock.round, stock.note) == (
        "own-60x40",
        3,
        60.0,
        False,
        "kept",
    )
    assert stock.labels_a_page == 21
    assert stock.dot_mm == pytest.approx(0.0846667)


def test_what_is_left_out_has_plain_defaults(row: dict[str, str]) -> None:
    for name in ("pitch_x_mm", "pitch_y_mm", "corner_radius_mm", "round", "hole_mm", "note"):
        del row[name]
    stock = parse(row)
    assert (stock.pitch_x_mm, stock.pitch_y_mm, stock.corner_radius_mm, stock.hole_mm) == (60, 40, 0, 0)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"key": "Own Stock"}, "key is 'Own Stock'"),
        ({"key": ""}, "stock without a key: key is empty"),
        ({"name": ""}, "name is empty"),
        ({"form": "reel"}, "form is 'reel', not one of sheet, roll, tag"),
        ({"round": "maybe"}, "round is 'maybe', not yes or no"),
        ({"columns": "0"}, "columns is '0', not a whole number from 1 to 60"),
        ({"rows": "2.5"}, "rows is '2.5'"),
        ({"dpi": "9999999"}, "dpi is '9999999'"),
        ({"label_w_mm": "sixty"}, "label_w_mm is 'sixty', not millimetres"),
        ({"label_w_mm": "60,5"}, "with a decimal point"),
        ({"label_w_mm": "0"}, "label_w_mm is '0'"),
        ({"label_w_mm": "-3"}, "label_w_mm is '-3'"),
        ({"page_w_mm": "99999"}, "page_w_mm is '99999'"),
        ({"label_h_mm": "nan"}, "label_h_mm is 'nan'"),
        ({"pitch_x_mm": "55"}, "each column overlaps its neighbour by 5.00 mm"),
        ({"pitch_y_mm": "39"}, "each row overlaps its neighbour by 1.00 mm"),
        ({"margin_left_mm": "30"}, "the last column runs off the right of the page by 4.00 mm"),
        ({"rows": "8"}, "the last row runs off the bottom of the page by 31.00 mm"),
        ({"round": "yes"}, "needs label_w_mm and label_h_mm alike"),
        ({"round": "yes", "hole_mm": "4"}, "a round label with a hole"),
        ({"corner_radius_mm": "21"}, "more than half the short side"),
        ({"form": "tag"}, "a tag needs hole_mm"),
        ({"qr_mm": "41"}, "QR square of 41 mm does not fit; at most 40 mm"),
        ({"qr_mm": "40", "columns": "1", "label_w_mm": "41"}, "no room for the printed code"),
        ({"qr_mm": "15"}, "QR square of 15 mm cannot be read: this address needs at least 19.7 mm"),
        ({"hole_mm": "30"}, "QR square of 28 mm does not fit; at most 22 mm"),
        ({"hole_mm": "80"}, "at most 0 mm"),
        ({"colour": "red"}, "unknown column colour"),
    ],
)
def test_a_spoiled_row_says_what_is_wrong(row: dict[str, str], changes: dict[str, str], message: str) -> None:
    with pytest.raises(LabelError) as caught:
        parse({**row, **changes})
    assert message in str(caught.value).replace("Stock without", "stock without")
    assert caught.value.hint


def test_a_disc_says_how_large_a_symbol_it_holds(row: dict[str, str]) -> None:
    disc = {**row, "round": "yes", "label_w_mm": "40", "label_h_mm": "40", "columns": "1", "rows": "1"}
    with pytest.raises(LabelError, match=r"QR square of 30 mm does not fit the disc; at most 28.3 mm"):
        parse({**disc, "qr_mm": "30"})
    with pytest.raises(LabelError, match="no room for the printed code"):
        layout(Place(27, 27, 19, round=True, hole_mm=0))


def test_every_problem_of_a_row_is_told_at_once(row: dict[str, str]) -> None:
    with pytest.raises(LabelError, match=r"own.csv, row 4: stock own-60x40: form is .*; rows is .*; dpi is"):
        parse({**row, "form": "x", "rows": "x", "dpi": "x"}, "own.csv, row 4")


def table(*rows: dict[str, str]) -> str:
    return "\n".join([",".join(COLUMNS), *(",".join(row[name] for name in COLUMNS) for row in rows)])


def test_a_table_is_read_in_order(row: dict[str, str]) -> None:
    assert list(read_table(table({**row, "key": "b"}, {**row, "key": "a"}))) == ["b", "a"]


def test_a_key_that_stands_twice_is_refused_with_its_row(row: dict[str, str]) -> None:
    with pytest.raises(LabelError, match="mine, row 3: stock own-60x40 stands twice"):
        read_table(table(row, row), "mine")


def test_a_row_with_too_many_cells_is_refused(row: dict[str, str]) -> None:
    with pytest.raises(LabelError, match="row 2: more cells than"):
        read_table(table(row) + ",extra")


def test_a_short_row_has_empty_cells(row: dict[str, str]) -> None:
    with pytest.raises(LabelError, match="qr_mm is empty; dpi is empty"):
        read_table(table(row).rsplit(",", 3)[0])


@pytest.mark.parametrize("dpi", [180, 203, 300, 360, 600])
@pytest.mark.parametrize("modules", [21, 25, 29])
def test_the_smallest_side_named_is_the_smallest_that_works(modules: int, dpi: int) -> None:
    side = smallest_side_mm(modules, dpi)
    assert module_dots(modules, side, dpi) * 25.4 / dpi >= 0.6
    with pytest.raises(LabelError, match=f"at least {side:.1f} mm"):
        module_dots(modules, side - 0.11, dpi)


def test_a_second_symbol_is_printed_where_it_fits() -> None:
    twice = {key for key, stock in bundled().items() if len(layout(stock.place).symbols) == 2}
    assert twice == {"a4-99x68", "a4-200x144", "roll-62x100"}
    wide = dataclasses.replace(bundled()["tag-45x90"], label_w_mm=82, page_w_mm=82)
    assert len(layout(wide.place).symbols) == 2
