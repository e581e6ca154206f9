import datetime as dt

import pytest

from stash.errors import InvalidInput, NotFound
from stash.services import label_kit, labels
from stash.services.page_labels import calibration
from tests.services.workshop import BOOTS, CARBS, CLIPS

MINE = {
    "key": "mine", "name": "My drawer fronts", "form": "sheet", "page_w_mm": "210", "page_h_mm": "297",
    "columns": "2", "rows": "5", "label_w_mm": "90", "label_h_mm": "50", "pitch_x_mm": "95", "pitch_y_mm": "52",
    "margin_left_mm": "10", "margin_top_mm": "15", "corner_radius_mm": "0", "round": "no", "hole_mm": "0",
    "qr_mm": "34", "dpi": "300", "note": "",
}  # fmt: skip
NOW = dt.datetime(1980, 1, 1, tzinfo=dt.UTC)


def test_an_owner_adds_and_removes_a_stock_of_their_own(workshop):
    label_kit.save_stock(workshop, MINE, who="Ann")
    assert label_kit.stocks(workshop)["mine"].labels_a_page == 10
    assert label_kit.own_stocks(workshop)["mine"] == MINE
    assert set(MINE) == set(label_kit.stock_columns())
    pdf = labels.sheet(workshop, [CARBS], labels.Printing(stock="mine"), who="Ann")
    assert pdf.startswith(b"%PDF")
    assert calibration(labels.Printing(stock="mine"), workshop).startswith(b"%PDF")
    label_kit.remove_stock(workshop, "mine", who="Ann")
    assert "mine" not in label_kit.stocks(workshop)
    with pytest.raises(NotFound):
        label_kit.remove_stock(workshop, "mine", who="Ann")


@pytest.mark.parametrize("change", [{"label_w_mm": "190"}, {"qr_mm": "5"}, {"columns": "many"}])
def test_a_stock_that_can_not_be_is_refused_with_what_is_wrong(workshop, change):
    with pytest.raises(InvalidInput):
        label_kit.save_stock(workshop, {**MINE, **change}, who="Ann")
    assert label_kit.own_stocks(workshop) == {}


def test_a_stock_that_comes_along_is_not_replaced(workshop):
    with pytest.raises(InvalidInput, match="comes along"):
        label_kit.save_stock(workshop, {**MINE, "key": labels.DEFAULT_STOCK}, who="Ann")


def test_each_printer_keeps_its_corrections(workshop):
    label_kit.save_printer(workshop, label_kit.Printer("laser", 0.5, -1.0, 1.003), who="Ann")
    label_kit.save_printer(workshop, label_kit.Printer("laser", 0.7, -1.0, 1.003), who="Ann")
    assert label_kit.printers(workshop) == (label_kit.Printer("laser", 0.7, -1.0, 1.003),)
    for bad in (label_kit.Printer(" "), label_kit.Printer("far", 99.0), label_kit.Printer("wide", scale=3.0)):
        with pytest.raises(InvalidInput):
            label_kit.save_printer(workshop, bad, who="Ann")
    label_kit.remove_printer(workshop, "laser", who="Ann")
    assert label_kit.printers(workshop) == ()


def test_a_half_used_sheet_is_remembered(workshop):
    assert label_kit.next_free(workshop, labels.DEFAULT_STOCK) == 1
    labels.sheet(workshop, [CARBS, BOOTS, CLIPS], labels.Printing(first=22), who="Ann")
    assert label_kit.next_free(workshop, labels.DEFAULT_STOCK) == 1, "a preview uses nothing"
    labels.sheet(workshop, [CARBS, BOOTS], labels.Printing(first=3, copies=2), who="Ann", now=NOW)
    assert label_kit.next_free(workshop, labels.DEFAULT_STOCK) == 7
    labels.sheet(workshop, [CARBS, BOOTS], labels.Printing(first=23), who="Ann", now=NOW)
    assert label_kit.next_free(workshop, labels.DEFAULT_STOCK) == 1


def test_a_bins_label_says_what_it_holds_and_which_measure_keeps_look_alikes_apart(workshop):
    from stash.services.gaps import judge
    from stash.services.label_texts import label_texts
    from tests.services.workshop import BIN_A, RUNNER

    codes = [BIN_A, RUNNER, CARBS, CLIPS]
    texts = label_texts(workshop.catalogue(), workshop.stock(), codes, "HTTP://STASH.LOCAL", judge(workshop))
    bin_a, runner, carbs, clips = texts
    assert bin_a.discriminator == "Holds carburettor. Look-alikes: check rotation."
    assert (bin_a.fits, bin_a.quantity) == ("", "2 lots")
    assert (runner.title, runner.mark) == ("Fennaby Early, 1967", "A1")
    assert (carbs.discriminator, carbs.fits, carbs.quantity) == ("rotation 0", "Early", "3 pcs")
    assert (clips.fits, clips.fits_not) == ("Early, Late", "")


def test_neither_a_label_nor_a_bin_promises_a_module_to_a_machine_it_runs_too_fast_for(workshop):
    """8500 rpm against 5500 and 7000 rated: it came on one of them, and is stopped on both."""
    from stash.services.fits import fits
    from stash.services.gaps import judge
    from stash.services.label_texts import label_texts
    from stash.services.machines import mark
    from stash.services.uses import chart, uses
    from tests.services.workshop import FAST, PROJECT

    mark(workshop, PROJECT, "module", "missing", who="Ann")
    (text,) = label_texts(workshop.catalogue(), workshop.stock(), [FAST], "HTTP://STASH.LOCAL", judge(workshop))
    assert (text.fits, text.fits_not) == ("", "Early, Late")
    (use,) = uses(workshop, [workshop.stock().lots[FAST]])
    assert (dict(use.models), use.stopped, use.gaps) == ({}, ("early", "late"), ())
    assert fits(workshop, FAST).gaps == ()
    rows = {design.key: cells for design, cells in chart(workshop, "a", "module").rows}
    assert all(cell.danger for cell in rows["module-85"])
    assert not any(cell.danger for cell in rows["module-55"])
