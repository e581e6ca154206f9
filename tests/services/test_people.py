"""Lists for people: what stands in them, in every form, opened by other programs too."""

import csv
import datetime as dt
import io
import json
import os
import shutil
import subprocess
from decimal import Decimal

import openpyxl
import pypdf
import pytest
from PIL import Image

from stash.errors import InvalidInput
from stash.exchange.flat.listing import Heading, Listing, render, shown
from stash.services.demo import load_demo
from stash.services.flat_sheet import propose
from stash.services.gaps import gaps
from stash.services.machines import mark
from stash.services.people_buying import wanted
from stash.services.people_lists import ENDINGS, LISTS, Wish, make, write
from stash.services.people_lists import render as render_any
from stash.services.photos import add_photo, put
from stash.services.tables import load_bytes
from stash.services.uses import uses
from tests.services.workshop import BIN_A, BOOTS, CARBS, CLIPS, PROJECT, RUNNER

DANGEROUS = ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", '=HYPERLINK("http://x")', "'=1", "<r><t>x</r>", "normal"]


def as_dicts(listing):
    return json.loads(render_any(listing, ".json"))


def from_csv(data):
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))


def cells_of(data):
    sheet = openpyxl.load_workbook(io.BytesIO(data)).active
    return [list(row) for row in sheet.iter_rows()]


def test_the_parts_say_what_each_fits_as_the_uses_of_a_lot_do(workshop):
    rows = {row["code"]: row for row in as_dicts(make(workshop, "parts"))}
    catalogue = workshop.catalogue()
    for use in uses(workshop, workshop.stock().lots.values()):
        row = rows[use.lot.code]
        for verdict in ("bolts_on", "with_companions", "with_work", "likely", "disputed"):
            models = [catalogue.model[key].name for key in use.models.get(verdict, ())]
            assert [name.rpartition(" ")[2] for name in row[verdict]] == models
        assert len(row["fills"]) == len(use.gaps)
        stopped = [catalogue.model[key].name for key in use.stopped]
        assert [name.rpartition(" ")[2] for name in row["too_fast"]] == stopped


def test_the_parts_name_their_place_numbers_and_amounts(workshop):
    load_bytes(
        workshop,
        "lots.csv",
        f"code,paid,acquired_on,note\n{CARBS},12.50,2020-02-29,old\n".encode(),
        "owner",
    )
    listing = make(workshop, "parts", Wish(tuple(h.key for h in make(workshop, "parts").choice)))
    row = next(row for row in as_dicts(listing) if row["code"] == CARBS)
    assert (row["place"], row["paid"], row["bought"]) == ("Shelf \u203a Bin A", "12.50", "2020-02-29")
    assert row["numbers"] == ["Fennaby FN-11.120-A"]


def test_columns_are_chosen_and_rows_filtered(workshop):
    listing = make(workshop, "parts", Wish(("code", "quantity"), {"kind": "CARB", "what": "straight"}))
    assert as_dicts(listing) == [{"code": CARBS, "quantity": 3}]
    empty = make(workshop, "parts", Wish(("code",), {"note": ""}))
    assert {row["code"] for row in as_dicts(empty)} >= {CARBS, BOOTS, CLIPS}
    with pytest.raises(InvalidInput, match="no column 'quantety'") as error:
        make(workshop, "parts", Wish(("quantety",)))
    assert "quantity" in error.value.hint
    with pytest.raises(InvalidInput, match="no list"):
        make(workshop, "everything")


def test_lots_with_nothing_left_are_left_out_unless_asked_for(workshop):
    from stash.services.lots import let_go

    let_go(workshop, CARBS, 3, "sold", who="owner", anyway=True)
    assert CARBS not in {row["code"] for row in as_dicts(make(workshop, "parts"))}
    assert CARBS in {row["code"] for row in as_dicts(make(workshop, "parts", Wish(all=True)))}


def test_the_machines_say_what_is_not_as_it_left_the_factory(workshop):
    load_bytes(
        workshop,
        "fitted.csv",
        f"machine,position,state,design\n{RUNNER},carburettor,present,carb-90\n{RUNNER},boot,faulty,\n".encode(),
        "owner",
    )
    rows = {row["code"]: row for row in as_dicts(make(workshop, "machines"))}
    assert rows[RUNNER]["changed"] == ["carburettor: turned carburettor, where straight carburettor came"]
    assert rows[RUNNER]["missing"] == ["boot: faulty"]
    assert rows[PROJECT]["missing"] == ["carburettor: missing", "clip: missing"]


def test_the_buy_list_is_what_stays_short_in_the_gaps(store):
    load_demo(store)
    found = [(each.gap.key, each.position, each.quantity) for each in wanted(store)]
    short = [(gap.key, position, quantity) for gap in gaps(store) for position, quantity in gap.still_short]
    machines = {(gap.machine, position) for gap in gaps(store) for position, _ in gap.still_short if gap.machine}
    models = [each for each in short if each[0].startswith("wanted:") and each in found]
    assert set(found) <= set(short)
    assert len(found) == len(machines) + sum(1 for gap in gaps(store) if gap.machine is None for _ in gap.still_short)
    assert models
    for each in wanted(store):
        if each.design is not None:
            assert each.design.kind == each.kind
            assert each.verdict in {"bolts_on", "with_companions", "with_work", "likely"}
    row = next(row for row in as_dicts(make(store, "buy")) if row["price"])
    assert Decimal(row["cost"]) == Decimal(row["price"]) * row["quantity"]


def test_the_insurance_list_sums_the_parts_and_shows_the_first_photo(workshop):
    for colour in ("red", "blue"):
        picture = io.BytesIO()
        Image.new("RGB", (800, 600), colour).save(picture, "PNG")
        last = add_photo(workshop, "machine", RUNNER, picture.getvalue(), who="owner").photo
    put(workshop, last.id, "first", who="owner")
    rows = as_dicts(make(workshop, "insurance"))
    assert {row["code"] for row in rows if row["code"]} == set(workshop.stock().machines)
    clips = next(row for row in rows if row["what"] == "loose parts: pin clip")
    assert (clips["quantity"], clips["price"]) == (5, "5.00")
    pdf = pypdf.PdfReader(io.BytesIO(render_any(make(workshop, "insurance"), ".pdf")))
    (shown_picture,) = [each.image.convert("RGB") for page in pdf.pages for each in page.images]
    red, _, blue = shown_picture.getpixel((10, 10))
    assert blue > 200 > red
    text = "".join(page.extract_text() for page in pdf.pages)
    assert "no appraisal" in text
    assert "in all" in text
    book = openpyxl.load_workbook(io.BytesIO(render_any(make(workshop, "insurance"), ".xlsx")))
    assert len(book.active._images) == 1


@pytest.mark.parametrize("what", LISTS)
@pytest.mark.parametrize("ending", ENDINGS)
def test_every_list_comes_in_every_form_even_from_an_empty_stash(other_store, tmp_path, what, ending):
    file = tmp_path / f"out{ending}"
    write(make(other_store, what), file)
    assert file.stat().st_size
    with pytest.raises(InvalidInput):
        write(make(other_store, what), tmp_path / "out.doc")


@pytest.mark.parametrize("what", LISTS)
def test_every_form_of_a_list_says_the_same(workshop, what):
    def texts(cell):
        return "" if cell is None else str(cell)

    headings = make(workshop, what).headings
    kept = [at for at, heading in enumerate(headings) if heading.type != "picture"]
    rows = [[shown(headings[at], row[at]) for at in kept] for row in make(workshop, what).rows]
    assert from_csv(render_any(make(workshop, what), ".csv"))[1:] == rows
    assert len(as_dicts(make(workshop, what))) == len(rows)
    book = cells_of(render_any(make(workshop, what), ".xlsx"))
    for row, line in zip(rows, book[1:], strict=True):
        for at, text in zip(kept, row, strict=True):
            cell = line[at].value
            if isinstance(cell, (int, float)) and not isinstance(cell, bool):
                assert Decimal(str(cell)) == Decimal(text)
            elif isinstance(cell, dt.datetime):
                assert cell.date().isoformat() == text
            else:
                assert texts(cell) == text


def test_texts_that_look_like_formulas_stay_texts():
    listing = Listing("x", (Heading("a", "a"),), [(text,) for text in DANGEROUS])
    for row, text in zip(cells_of(render(listing, ".xlsx"))[1:], DANGEROUS, strict=True):
        assert row[0].data_type == "s"
        assert row[0].value == text
    for row, text in zip(from_csv(render(listing, ".csv"))[1:], DANGEROUS, strict=True):
        assert row[0][0] not in "=+-@\t"
        assert row[0].lstrip("'") == text.lstrip("'")


def test_numbers_a_spreadsheet_cannot_hold_and_early_days_are_written_as_texts():
    listing = Listing(
        "x",
        (Heading("n", "n", "number"), Heading("d", "d", "date")),
        [(Decimal("0.1234567890123456789"), dt.date(1870, 1, 1)), (10**17, dt.date(2020, 2, 29))],
    )
    cells = cells_of(render(listing, ".xlsx"))
    assert [cell.value for cell in cells[1]] == ["0.1234567890123456789", "1870-01-01"]
    assert cells[2][0].value == "100000000000000000"
    assert cells[2][1].value == dt.datetime(2020, 2, 29)  # noqa: DTZ001 - openpyxl gives moments without a zone


def test_a_list_written_for_people_can_be_taken_in_again_and_changes_nothing(workshop):
    for ending in (".csv", ".xlsx"):
        listing = make(workshop, "parts", Wish(("code", "what", "quantity", "condition", "place", "number", "note")))
        proposal = propose(workshop, f"parts{ending}", render_any(listing, ending))
        assert {row.does for row in proposal.rows} == {"same"}, ending


def test_a_long_list_runs_over_pages_with_its_headings_on_each():
    listing = Listing(
        "Long <b>list</b> & more",
        (Heading("a", "first"), Heading("b", "second", "texts", 40), Heading("c", "amount", "money", 10, total=True)),
        [(f"row {number}", ("word " * 300, "x" * 900), 150) for number in range(30)],
    )
    pdf = pypdf.PdfReader(io.BytesIO(render_any(listing, ".pdf")))
    assert len(pdf.pages) > 5
    for page in pdf.pages:
        assert "second" in page.extract_text()
    assert "45.00" in pdf.pages[-1].extract_text()
    assert "Long <b>list</b> & more" in pdf.pages[0].extract_text()


SOFFICE = shutil.which("soffice")
OFFICE = [
    pytest.param(
        ending,
        marks=pytest.mark.skipif(SOFFICE is None, reason="no LibreOffice (soffice) on this machine"),
    )
    for ending in (".xlsx", ".csv")
    if SOFFICE or os.environ.get("STASH_REQUIRE_SERVICES") != "1"
]


@pytest.mark.parametrize("ending", OFFICE)
def test_another_spreadsheet_program_reads_what_was_written(tmp_path, ending):
    texts = ["plain", "=1+1", "Größe Ø 12", 'a "quoted", text', "two\nlines"]
    listing = Listing(
        "x",
        (
            Heading("t", "text"),
            Heading("n", "number", "whole"),
            Heading("m", "money", "money"),
            Heading("d", "d", "date"),
        ),
        [(text, at, 1850 + at, dt.date(2020, 1, 1 + at)) for at, text in enumerate(texts)],
    )
    source = tmp_path / f"list{ending}"
    source.write_bytes(render(listing, ending))
    out = tmp_path / "out"
    filters = ["--infilter=CSV:44,34,76,1,,0,false,true,false"] if ending == ".csv" else []
    subprocess.run(
        [
            SOFFICE,
            f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
            "--headless",
            *filters,
            "--convert-to",
            "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false",
            "--outdir",
            out,
            source,
        ],
        check=True,
        capture_output=True,
        timeout=240,
    )
    rows = list(csv.reader(io.StringIO((out / "list.csv").read_text(encoding="utf-8-sig"))))
    assert [row[0].lstrip("'") for row in rows[1:]] == texts
    assert [float(row[2]) for row in rows[1:]] == [18.5, 18.51, 18.52, 18.53, 18.54]
    assert [row[3] for row in rows[1:]] == [f"2020-01-0{1 + at}" for at in range(5)]


def test_the_place_of_a_filter_is_said_above_the_list(workshop):
    listing = make(workshop, "parts", Wish((), {"place": "Bin A"}))
    assert listing.notes == ("place: Bin A",)
    assert {row["code"] for row in as_dicts(listing)} == {
        lot.code for lot in workshop.stock().lots.values() if lot.place == BIN_A
    }


def test_nothing_is_bought_that_would_run_too_fast(workshop):
    """The only known modules are the slow one, and one of 8500 rpm that both models are rated below."""
    mark(workshop, PROJECT, "module", "missing", who="Ann")
    bought = {each.position: each.design.key if each.design else "" for each in wanted(workshop)}
    assert bought["module"] != "module-85"
