"""Charts for the wall: what stands on them, that nothing is lost between sheets, and equal bytes for equal charts.

Read back with pypdf, a PDF library that had no part in making them.
"""

import io
from collections import Counter

import pypdf
import pytest

from stash.errors import NotFound
from stash.fit.wording import VERDICT_BRIEF
from stash.kernel.tables import RULE_VERDICTS, VERDICTS
from stash.services import rows, uses
from stash.services.wall_chart import WallCell, WallChart, WallColumn, WallRow, kinds_of, wall_charts
from stash.services.wall_layout import SHEETS_MM, lay_out
from stash.services.wall_pdf import _wrapped, wall_pdf

POINTS_A_MM = 72 / 25.4


def opened(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data))


def text(data: bytes) -> str:
    return "\n".join(page.extract_text() for page in opened(data).pages)


def made_up(designs: int, models: int, notes: int = 1) -> WallChart:
    """A chart in which every design has a name that occurs nowhere else, and every so-manieth cell a note."""
    columns = tuple(WallColumn(f"era {at // 5}", f"model{at}x", "") for at in range(models))
    verdicts = VERDICTS * (models + 1)
    made = tuple(
        WallRow(
            f"design{row}x",
            f"N {row}",
            tuple(
                WallCell(verdicts[row + at], f"note {row}.{at}x" if at % 7 == 0 and notes else "", row == 3)
                for at in range(models)
            ),
        )
        for row in range(designs)
    )
    return WallChart("Thing in family", columns, made)


def test_the_wall_says_what_the_screen_says(workshop):
    for verdict in RULE_VERDICTS:
        rule = {"key": verdict, "verdict": verdict, "kind": "clip", "model": "late", "evidence": "word", "work": "file"}
        rows.save_row(workshop, "rules", rule, None, None, "owner")
    for kind in kinds_of(workshop.catalogue(), "a"):
        [wall] = wall_charts(workshop, "a", [kind])
        screen = uses.chart(workshop, "a", kind)
        assert [[cell.verdict for cell in row.cells] for row in wall.rows] == [
            [cell.worst for cell in cells] for _, cells in screen.rows
        ]
        assert [[cell.stop for cell in row.cells] for row in wall.rows] == [
            [bool(cell.danger) for cell in cells] for _, cells in screen.rows
        ]
        assert [(column.era, column.name) for column in wall.columns] == [
            (column.generation.name, column.model.name) for column in screen.columns
        ]


def test_companions_work_and_danger_stand_as_notes(workshop):
    rule = {"verdict": "with_work", "model": "early", "evidence": "bench"}
    work = {"key": "w", "kind": "clip", "work": "file the ends", "minutes": "20", **rule}
    other = {"key": "c", "design": "module-55", "model": "late", "verdict": "with_companions", "evidence": "bench"}
    rows.save_row(workshop, "rules", work, None, None, "owner")
    rows.save_row(workshop, "rules", {**other, "companions": "boot-0|clip"}, None, None, "owner")
    charts = wall_charts(workshop, "a")
    notes = {cell.note for chart in charts for row in chart.rows for cell in row.cells}
    assert any("with turned boot (boot)" in note for note in notes)
    assert any("straight boot or pin clip" in note for note in notes)
    assert any("file the ends, about 20 min" in note for note in notes)
    assert any(cell.stop and cell.note for chart in charts for row in chart.rows for cell in row.cells)
    read = " ".join(text(wall_pdf(charts, "a3", "engine A")).split())
    assert "turned boot (boot)" in read
    assert "on, stop" in read or "?, stop" in read


def test_years_that_differ_are_told_below(workshop):
    rule = {"key": "y", "verdict": "bolts_on", "design": "module-55", "model": "late", "evidence": "bench"}
    rows.save_row(workshop, "rules", {**rule, "from_year": "1972"}, None, None, "owner")
    [chart] = wall_charts(workshop, "a", ["module"])
    [row] = [row for row in chart.rows if row.name == "slow module"]
    assert row.cells[1].verdict == "unknown"
    assert "1971: unknown; 1972" in row.cells[1].note
    assert "bolts on" in row.cells[1].note


@pytest.mark.parametrize("sheet", SHEETS_MM)
def test_every_cell_stands_on_some_sheet_once(sheet):
    charts = [made_up(24, 18), made_up(3, 4, notes=0)]
    laid = lay_out(charts, sheet, _wrapped)
    seen = Counter(
        (id(piece.chart), row, at)
        for page in laid.pages
        for piece in page
        for row in piece.rows
        for at in piece.columns
    )
    assert set(seen.values()) == {1}
    assert len(seen) == 24 * 18 + 3 * 4
    data = wall_pdf(charts, sheet, "family")
    read = text(data)
    for row in range(24):
        assert f"design{row}x" in read
        assert f"note {row}.14x" in read
    assert all(f"model{at}x" in read for at in range(18))
    counts = Counter(line.strip() for line in read.splitlines())
    plain = Counter(VERDICT_BRIEF[cell.verdict] for chart in charts for row in chart.rows for cell in row.cells)
    assert counts["+ parts"] + counts["+ parts, stop"] >= plain["+ parts"]


@pytest.mark.parametrize("sheet", SHEETS_MM)
def test_a_sheet_has_its_size_its_own_headings_and_all_faces(sheet):
    data = wall_pdf([made_up(30, 10)], sheet, "family")
    reader = opened(data)
    width, height = (side * POINTS_A_MM for side in SHEETS_MM[sheet])
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(width, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(height, abs=0.1)
        read = page.extract_text()
        assert "Thing in family" in read
        assert "model0x" in read
        assert "must not run there" in read
        for font in page["/Resources"]["/Font"].values():
            found = font.get_object()
            described = found.get("/FontDescriptor")
            assert described is None or "/FontFile2" in described.get_object()
            assert described is not None or found["/BaseFont"] in {"/Helvetica", "/ZapfDingbats"}
    assert reader.metadata["/Title"] == "family"


def test_nothing_stands_beyond_the_edge_or_on_something_else():
    for sheet in SHEETS_MM:
        laid = lay_out([made_up(33, 17), made_up(9, 8), made_up(2, 25)], sheet, _wrapped)
        for page in laid.pages:
            for piece in page:
                assert piece.left + (108 + 46 * len(piece.columns)) * laid.scale <= laid.width - 2 * 28
            by_lane: dict[float, list[float]] = {}
            for piece in page:
                by_lane.setdefault(piece.left, []).append(piece.top)
            assert all(tops == sorted(set(tops)) for tops in by_lane.values())


def test_a_larger_sheet_never_needs_more_pages_and_is_never_smaller_in_print():
    charts = [made_up(20, 8)]
    laid = {sheet: lay_out(charts, sheet, _wrapped) for sheet in ("a4", "a3", "a2")}
    pages = [len(laid[sheet].pages) for sheet in ("a4", "a3", "a2")]
    assert pages == sorted(pages, reverse=True)
    assert laid["a2"].scale > 1


def test_equal_charts_make_equal_bytes_and_strange_letters_do_no_harm():
    chart = made_up(5, 5)
    strange = WallChart("Überzug & <b>\u4e2d", chart.columns, (WallRow("x" * 300, "", chart.rows[0].cells),))
    assert wall_pdf([chart, strange], "a4", "x") == wall_pdf([chart, strange], "a4", "x")
    assert "Überzug & <b>?" in text(wall_pdf([strange], "a4", "x"))


def test_what_is_not_there_is_said(workshop):
    for asked in (("none", []), ("a", ["none"])):
        with pytest.raises(NotFound):
            wall_charts(workshop, *asked)
    with pytest.raises(NotFound, match="sheet"):
        wall_pdf([made_up(1, 1)], "a7", "x")
    rows.save_row(workshop, "families", {"key": "b", "name": "engine B"}, None, None, "owner")
    with pytest.raises(NotFound, match="Nothing is known"):
        wall_charts(workshop, "b")
