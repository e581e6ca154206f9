"""The shelf list as it was kept comes in by itself, beside the tables somebody made of it by hand."""

import csv
import io
import shutil
from pathlib import Path

import pytest

from stash.db.store import open_store
from stash.services.demo import load_demo
from stash.services.flat_sheet import Choices, accept, propose, rejects
from stash.services.verify import verify

HERE = Path(__file__).parent / "shelf_list"
DATA = (HERE / "as_kept.csv").read_bytes()
DOUBTFUL = {
    5: "number has an O or a zero",
    7: "only the year",
    8: "about ten",
    10: "a bag of clips, of one kind or another",
    15: "20/20",
    16: "22/20",
    23: "misspelt",
    32: "no word we know",
    33: "which of the cylinder's measures",
    43: "half a cover",
    44: "no kind of ours",
    47: "a gasket, not an exhaust",
    48: "the end, not the silencer",
    50: "sets of springs",
    54: "links are no millimetres",
    56: "a cable, but not the throttle's",
    58: "a metre of hose",
    61: "about forty, and a thread",
    62: "a mystery",
    63: "a formula",
    64: "no kind of ours",
    65: "no kind of ours",
}
"""``{row: why a person would look at it twice}``, written down by hand."""


def table(name):
    with (HERE / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def by_hand():
    return table("lots")


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory):
    file = tmp_path_factory.mktemp("shelf") / "demo.sqlite"
    store = open_store(str(file))
    load_demo(store)
    store.close()
    return file


@pytest.fixture
def demo(demo_file, tmp_path):
    file = tmp_path / "demo.sqlite"
    shutil.copy(demo_file, file)
    store = open_store(str(file))
    yield store
    store.close()


@pytest.fixture
def proposal(demo):
    return propose(demo, "as_kept.csv", DATA)


def value(row, column):
    return next((each.text for each in row.values if each.column == column), "")


def test_every_column_is_understood_and_every_row_is_there(proposal):
    fields = [guess.field for guess in proposal.columns]
    assert fields == ["place", "what", "number", "quantity", "condition", "machine", "size", "paid", "date", "note"]
    assert len(proposal.rows) == 63
    assert proposal.counts["wrong"] == 0


def test_no_design_is_set_that_the_hand_made_tables_do_not_have(proposal):
    wrong = [
        (row.number, value(row, "design"), hand["design"])
        for row, hand in zip(proposal.rows, by_hand(), strict=True)
        if value(row, "design") not in {"", hand["design"]}
    ]
    assert wrong == []


def test_the_plainly_named_parts_are_matched_and_the_rest_is_offered(proposal):
    pairs = [(row, hand["design"]) for row, hand in zip(proposal.rows, by_hand(), strict=True) if hand["design"]]
    matched = [row.number for row, design in pairs if value(row, "design") == design]
    offered = [row.number for row, design in pairs if f"design:{design}" in {offer.answer for offer in row.offers}]
    assert matched == [2, 3, 4, 8, 9, 13, 20, 21, 29, 30, 31, 37]
    assert set(offered) >= {5, 7, 12, 17, 25, 27, 32, 38, 41, 42, 45}
    assert len(pairs) == 33


def test_kinds_agree_with_the_hand_made_tables_wherever_one_is_set(proposal):
    own = {row["key"] for row in table("kinds")}
    for row, hand in zip(proposal.rows, by_hand(), strict=True):
        assert value(row, "kind") in {hand["kind"], "unknown_thing"}, row.number
        if hand["kind"] not in own and row.number not in {10, 32}:
            assert value(row, "kind") == hand["kind"], row.number


def test_quantities_amounts_days_and_measures_agree_with_the_hand_made_tables(proposal):
    measures = table("lot_measures")
    for row, hand in zip(proposal.rows, by_hand(), strict=True):
        if row.number != 50:  # three sets of three, which only the person knows
            assert value(row, "quantity") == hand["quantity"], row.number
        assert value(row, "paid") == hand["paid"], row.number
        if row.number != 12:  # 12/05/2021 was left out by hand; here it is taken one way and asked about
            assert value(row, "acquired_on") == hand["acquired_on"], row.number
        assert value(row, "number_seen") == hand["number_seen"], row.number
        for each in measures:
            if each["lot"] == hand["code"]:
                assert value(row, f"measure:{each['measure']}") == each["value"], row.number


def test_conditions_agree_with_the_hand_made_tables(proposal):
    differ = {
        row.number: (value(row, "condition"), hand["condition"])
        for row, hand in zip(proposal.rows, by_hand(), strict=True)
        if value(row, "condition") != hand["condition"]
    }
    # by hand "coil, tested, spark from kick" was called good; half a cover was called a core
    assert differ == {18: ("serviceable", "good"), 43: ("unknown", "core")}


def test_each_doubtful_cell_is_shown(proposal):
    doubted = {row.number for row in proposal.rows if row.doubts}
    assert doubted >= set(DOUBTFUL), set(DOUBTFUL) - doubted


def test_an_o_for_a_zero_says_what_it_would_fit_if_it_were_that(proposal):
    question = next(each for each in proposal.questions if each.key == "number:FN2138OA")
    offer = question.offers[0]
    assert offer.answer == "design:piston-380-a"
    assert dict(offer.fits)["bolts_on"] == ("kittle", "kittle-s", "pip")
    assert question.rows == (5,)


def test_every_word_of_every_cell_is_still_there_once_it_is_in(demo):
    done = accept(demo, "as_kept.csv", DATA, None, "owner")
    assert len(done.codes) == 63
    lots = demo.stock().lots
    rows = propose(demo, "as_kept.csv", DATA).rows
    for row in rows:
        lot = lots[row.lot]
        kept = " ".join(text for value_ in row.values for text in (value_.text, row.title)) + lot.note
        for cell in (row.cells[9], row.cells[2]):
            assert cell in kept, row.number
    assert any("=SUM(A1:A9)" in lot.note for lot in lots.values())


def test_what_came_in_is_sound_and_the_same_list_again_changes_nothing(demo):
    before = len(demo.stock().lots)
    accept(demo, "as_kept.csv", DATA, None, "owner")
    assert verify(demo).ok
    again = accept(demo, "as_kept.csv", DATA, None, "owner")
    assert again.batch is None
    assert len(demo.stock().lots) == before + 63


def test_the_rejects_are_mended_and_come_back_to_the_lots_they_became(demo):
    accept(demo, "as_kept.csv", DATA, None, "owner")
    text = rejects(propose(demo, "as_kept.csv", DATA)).decode("utf-8-sig")
    assert text.count("\r\n") - 1 == 15
    rows = list(csv.DictReader(io.StringIO(text)))
    rows[0]["Number on part"] = "FN-21.380-A"
    assert "near FN-21.380-A" in rows[0]["why it needs a look"]
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    mended = propose(demo, "mended.csv", out.getvalue().encode())
    assert mended.known
    assert [row.does for row in mended.rows] == ["changed"] + ["same"] * 14
    done = accept(demo, "mended.csv", out.getvalue().encode(), None, "owner")
    assert done.codes == ()
    assert demo.stock().lots[rows[0]["stash code"]].design == "piston-380-a"


def test_answers_settle_questions_and_are_remembered(demo):
    answers = {
        "number:FN2138OA": "design:piston-380-a",
        "what:simmering": "kind:crank_seal",
        "what:side panel": "new:side panel",
        "what:clips": "kind:pin_clip",
        "quantity:3 sets": "9",
        "nesting": "/",
        "order": "dmy",
        "what:mystery spring": "none",
    }
    choices = Choices(answers=answers)
    proposal = propose(demo, "as_kept.csv", DATA, choices)
    rows = {row.number: row for row in proposal.rows}
    assert value(rows[5], "design") == "piston-380-a"
    assert value(rows[32], "measure:shaft_mm") == "17"
    assert value(rows[44], "kind") == "side_panel"
    assert value(rows[50], "quantity") == "9"
    assert ("side_panel", "side panel") in proposal.new_kinds
    assert "Shelf A \u203a A1" in proposal.new_places
    accept(demo, "as_kept.csv", DATA, choices, "owner")
    later = propose(demo, "as_kept.csv", DATA)
    assert {each.key for each in later.questions if each.open}.isdisjoint(answers)
    assert {row.does for row in later.rows} == {"same"}
    names = {place.name: place for place in demo.stock().places.values()}
    assert names["A1"].inside
