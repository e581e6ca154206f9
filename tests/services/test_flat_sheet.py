"""A sheet that comes again, with the workshop at work in between."""

import io

import pytest
import xlsxwriter

from stash.errors import InvalidInput
from stash.services import history, lots
from stash.services.archive import archive, restore
from stash.services.flat_sheet import Choices, accept, propose, rejects
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BOOTS, CARBS, CLIPS, MYSTERY, RUNNER

HEADER = "Box;What;Number;Qty;Condition;Note\n"
FIRST = HEADER + "Bin A;carb;FN-11.120-A;2;good;first\nCrate;boot;;3;new;\nCrate;gizmo;;1;ok;what is it\n"
WHO = "owner"


def take(store, text, **choices):
    return accept(store, "list.csv", text.encode(), Choices(**choices), WHO)


def look(store, text, **choices):
    return propose(store, "list.csv", text.encode(), Choices(**choices))


def quantities(store, codes):
    return [store.stock().lots[code].quantity for code in codes]


def does(proposal):
    return [row.does for row in proposal.rows]


def test_nothing_is_written_until_it_is_accepted(workshop):
    before = workshop.stock()
    look(workshop, FIRST)
    assert workshop.stock() == before


def test_rows_become_lots_with_movements_and_new_places(workshop):
    done = take(workshop, FIRST)
    stock = workshop.stock()
    carb, boot, gizmo = (stock.lots[code] for code in done.codes)
    assert (carb.design, carb.quantity, carb.place, carb.condition) == ("carb-0", 2, BIN_A, "good")
    assert (boot.kind, boot.design, stock.places[boot.place].name) == ("boot", "", "Crate")
    assert (gizmo.kind, gizmo.note) == ("unknown_thing", "gizmo; ok; what is it")
    assert history.history(workshop, lot=carb.code)[0].why == "took in list.csv"
    assert verify(workshop).ok


def test_a_sheet_that_changed_a_count_enters_only_the_difference(workshop):
    codes = take(workshop, FIRST).codes
    second = FIRST.replace(";2;good", ";5;good").replace(";3;new", ";1;new")
    proposal = look(workshop, second)
    assert does(proposal) == ["changed", "changed", "same"]
    changed = next(value for value in proposal.rows[0].values if value.column == "quantity")
    assert (changed.before, changed.text) == ("2", "5")
    assert take(workshop, second).codes == ()
    assert quantities(workshop, codes) == [5, 1, 1]
    entries = history.history(workshop)[0].entries
    assert {(entry.quantity, entry.source.type, entry.target.type) for entry in entries} == {
        (3, "outside", "place"),
        (2, "place", "outside"),
    }


def test_what_the_workshop_did_since_is_not_undone_by_the_same_sheet(workshop):
    codes = take(workshop, FIRST).codes
    lots.let_go(workshop, codes[0], 1, "sold", who=WHO)
    assert does(look(workshop, FIRST)) == ["same", "same", "same"]
    take(workshop, FIRST)
    assert quantities(workshop, codes) == [1, 3, 1]


def test_what_both_changed_is_asked_and_kept_until_it_is_answered(workshop):
    codes = take(workshop, FIRST).codes
    lots.let_go(workshop, codes[0], 1, "sold", who=WHO)
    second = FIRST.replace(";2;good", ";5;good")
    proposal = look(workshop, second)
    assert proposal.rows[0].state == "unclear"
    question = next(each for each in proposal.questions if each.key == f"both:{codes[0]}:quantity")
    assert question.open
    assert take(workshop, second).batch is None
    assert quantities(workshop, codes)[0] == 1
    take(workshop, FIRST)
    take(workshop, second, answers={question.key: "sheet"})
    assert quantities(workshop, codes)[0] == 5


def test_undo_takes_the_whole_sheet_back_and_the_sheet_brings_the_same_lots_again(workshop):
    done = take(workshop, FIRST)
    undone = history.undo(workshop, done.batch, who=WHO)
    assert quantities(workshop, done.codes) == [0, 0, 0]
    assert verify(workshop).ok
    assert does(look(workshop, FIRST)) == ["changed"] * 3
    history.undo(workshop, undone.batch, who=WHO)
    assert quantities(workshop, done.codes) == [2, 3, 1]
    assert does(look(workshop, FIRST)) == ["same"] * 3
    assert verify(workshop).ok


def test_after_an_undo_the_sheet_fills_its_old_lots_rather_than_new_ones(workshop):
    done = take(workshop, FIRST)
    history.undo(workshop, done.batch, who=WHO)
    assert take(workshop, FIRST).codes == ()
    assert quantities(workshop, done.codes) == [2, 3, 1]
    assert verify(workshop).ok


def test_undo_takes_back_nested_places_and_changes_of_lots_that_were_there(workshop):
    sheet = f"code;Box;Qty\n{CARBS};Attic / Trunk / Left;7\n"
    done = take(workshop, sheet, answers={"nesting": "/"})
    lot = workshop.stock().lots[CARBS]
    assert lot.quantity == 7
    assert workshop.stock().places[lot.place].name == "Left"
    history.undo(workshop, done.batch, who=WHO)
    assert (workshop.stock().lots[CARBS].quantity, workshop.stock().lots[CARBS].place) == (3, BIN_A)


def test_our_code_column_updates_the_lot_it_names(workshop):
    sheet = f"stash code,qty,condition,note\n{BOOTS},1,good,dusty\n"
    proposal = look(workshop, sheet)
    assert [row.lot for row in proposal.rows] == [BOOTS]
    take(workshop, sheet)
    lot = workshop.stock().lots[BOOTS]
    assert (lot.quantity, lot.condition, lot.note, lot.design) == (1, "good", "dusty", "boot-90")


def test_an_empty_cell_takes_nothing_away_from_a_lot_named_by_its_code(workshop):
    take(workshop, f"code,qty,condition,number\n{BOOTS},2,,\n{CLIPS},5,new,X-1\n")
    assert workshop.stock().lots[BOOTS].condition == "new"
    take(workshop, f"code,qty,condition,number\n{BOOTS},2,,\n{CLIPS},5,new,\n")
    assert workshop.stock().lots[CLIPS].number_seen == ""


def test_codes_that_cannot_be_are_wrong_and_stay_out(workshop):
    sheet = f"code,what,qty\n{BIN_A},carb,1\n{RUNNER},carb,1\nAAAAAB,carb,1\n{BOOTS},boot,2\n{BOOTS},boot,3\n"
    proposal = look(workshop, sheet)
    assert [row.state for row in proposal.rows] == ["wrong", "wrong", "wrong", "same", "wrong"]
    assert "code of a place" in proposal.rows[0].reason
    assert "code of a machine" in proposal.rows[1].reason
    assert "slip" in proposal.rows[2].reason
    assert "another row above" in proposal.rows[4].reason
    assert take(workshop, sheet).batch is None


def test_a_new_code_on_a_label_already_is_kept(workshop):
    from stash.kernel.codes import code_from_payload

    code = str(code_from_payload("AAAA2") or code_from_payload("AAAA3"))
    assert take(workshop, f"code,what,qty\n{code},carb,1\n").codes == (code,)


def test_one_number_of_two_makers_stays_a_question_until_it_is_answered(workshop):
    sheet = "what,number,qty\n,77.100,1\n"
    proposal = look(workshop, sheet)
    assert proposal.rows[0].state == "unclear"
    question = next(each for each in proposal.questions if each.key.startswith("number:"))
    assert {offer.answer for offer in question.offers} == {"design:boot-0", "design:clip-10", "none"}
    assert dict(question.offers[0].fits)
    answered = look(workshop, sheet, answers={question.key: "design:clip-10"})
    assert answered.rows[0].state == "new"
    assert any(value.text == "clip-10" for value in answered.rows[0].values)
    named = look(workshop, "what,number,maker,qty\n,77.100,Ruddlow,1\n")
    assert any(value.text == "clip-10" for value in named.rows[0].values)


def test_a_number_and_words_that_disagree_set_no_design(workshop):
    sheet = "what,number,qty\nintake boot,FN-11.120-A,1\n"
    row = look(workshop, sheet).rows[0]
    assert row.state == "unclear"
    assert not any(value.column == "design" and value.text for value in row.values)
    clash = row.doubts[0].question
    taken = look(workshop, sheet, answers={clash: "number"}).rows[0]
    assert ("design", "carb-0") in {(value.column, value.text) for value in taken.values}


def test_a_row_can_be_held_named_or_said_to_be_new(workshop):
    rows = {2: "hold", 3: MYSTERY, 4: "design:boot-0"}
    proposal = look(workshop, FIRST, rows=rows)
    assert [row.state for row in proposal.rows] == ["held", "changed", "new"]
    assert proposal.rows[1].lot == MYSTERY
    done = take(workshop, FIRST, rows=rows)
    assert "1 rows left out" in done.said
    assert workshop.stock().lots[done.codes[0]].design == "boot-0"
    assert does(look(workshop, FIRST))[0] == "new"


def test_unclear_rows_can_be_kept_out_as_a_whole(workshop):
    done = take(workshop, FIRST, answers={"unclear": "hold"})
    assert len(done.codes) == 2
    held = look(workshop, FIRST, answers={"unclear": "hold"})
    text = rejects(held).decode("utf-8-sig")
    assert "gizmo" in text
    assert "first" not in text
    mended = text.replace("gizmo", "clip")
    again = take(workshop, mended)
    assert len(again.codes) == 1
    assert workshop.stock().lots[again.codes[0]].kind == "clip"
    assert take(workshop, mended).codes == (), "the rejects do not double either"


def test_rejects_come_as_a_workbook_too(workshop):
    proposal = look(workshop, FIRST)
    again = propose(workshop, "rejects.xlsx", rejects(proposal, ".xlsx"), Choices())
    assert [row.cells[1] for row in again.rows] == ["gizmo"]
    with pytest.raises(InvalidInput):
        rejects(proposal, ".doc")


def test_the_columns_that_tell_rows_apart_are_chosen_and_remembered(workshop):
    codes = take(workshop, FIRST, answers={"keys": "what"}).codes
    moved = FIRST.replace("Crate;boot", "Chest;boot")
    proposal = look(workshop, moved)
    assert does(proposal) == ["same", "changed", "same"]
    assert proposal.new_places == ("Chest",)
    take(workshop, moved)
    assert workshop.stock().places[workshop.stock().lots[codes[1]].place].name == "Chest"


def test_rows_that_read_the_same_are_told_apart_by_their_order_and_say_so(workshop):
    sheet = HEADER + "Bin A;boot;;1;new;\nBin A;boot;;1;new;\n"
    assert len(take(workshop, sheet).codes) == 2
    proposal = look(workshop, sheet)
    assert does(proposal) == ["same", "same"]
    assert any("told apart by their order" in doubt.text for doubt in proposal.rows[1].doubts)


def test_a_lot_whose_row_is_gone_stays_and_is_named(workshop):
    codes = take(workshop, FIRST).codes
    proposal = look(workshop, HEADER + "Bin A;carb;FN-11.120-A;2;good;first\n")
    assert [gone.lot for gone in proposal.gone] == list(codes[1:])
    take(workshop, HEADER + "Bin A;carb;FN-11.120-A;2;good;first\n")
    assert quantities(workshop, codes) == [2, 3, 1]


def test_a_design_found_out_in_the_workshop_is_not_lost_to_the_sheet(workshop):
    from stash.services.arrivals import describe

    codes = take(workshop, FIRST).codes
    describe(workshop, codes[1], {"design": "boot-0"}, {}, who=WHO, version=None)
    assert does(look(workshop, FIRST)) == ["same"] * 3
    named = look(workshop, f"code,what,qty\n{codes[1]},gizmo,3\n")
    assert not any(value.changed for value in named.rows[0].values if value.column in {"kind", "design"})


def test_machines_are_named_by_code_only_and_models_are_offered(workshop):
    sheet = f"what,off of,qty\ncarb,{RUNNER},1\ncarb,Early,1\n"
    first, second = look(workshop, sheet).rows
    assert ("from_machine", RUNNER) in {(value.column, value.text) for value in first.values}
    assert [offer.answer for offer in second.offers] == ["design:carb-0"]
    assert any("kept in the note" in doubt.text for doubt in second.doubts)


def test_places_of_one_name_are_asked_about(workshop):
    take(workshop, "box,what,qty\nBin B / Left,boot,1\nBin A / Left,boot,1\n", answers={"nesting": "/"})
    sheet = "box,what,qty\nLeft,clip,4\n"
    proposal = look(workshop, sheet)
    question = next(each for each in proposal.questions if each.key == "place:left")
    assert len(question.offers) == 2
    chosen = look(workshop, sheet, answers={"place:left": question.offers[0].answer})
    assert not chosen.rows[0].doubts


def test_a_column_nobody_understands_is_kept_as_a_remark_and_one_can_be_left_out(workshop):
    sheet = "what,qty,Zorp\nboot,1,blue\n"
    kept = look(workshop, sheet).rows[0]
    assert ("note", "boot; Zorp: blue") in {(value.column, value.text) for value in kept.values}
    left = look(workshop, sheet, columns={2: "-"}).rows[0]
    assert ("note", "boot") in {(value.column, value.text) for value in left.values}


def test_the_mapping_is_remembered_by_the_headers(workshop):
    sheet = "what,qty,Zorp\nboot,1,good\n"
    take(workshop, sheet, columns={2: "condition"})
    again = look(workshop, "WHAT,Qty,zorp\nclip,4,worn\n")
    assert again.known
    assert [(guess.field, guess.why) for guess in again.columns][2] == ("condition", "remembered")


def test_a_value_no_lot_can_have_is_wrong_with_its_reason(workshop):
    row = look(workshop, f"what,qty,note\nboot,1,{'x' * 20_000}\n").rows[0]
    assert (row.state, "too long" in row.reason) == ("wrong", True)


def test_decimals_and_dates_are_asked_once_where_a_sheet_is_of_two_minds(workshop):
    sheet = "what;qty;paid;when\nboot;1;5,50;3/4/2019\nboot;1;6.50;4/5/2019\n"
    proposal = look(workshop, sheet)
    assert {"decimal", "order"} <= {each.key for each in proposal.questions if each.open}
    settled = look(workshop, sheet, answers={"decimal": ".", "order": "mdy"})
    days = [value.text for row in settled.rows for value in row.values if value.column == "acquired_on"]
    assert days == ["2019-03-04", "2019-04-05"]
    assert any("no amount" in doubt.text for doubt in settled.rows[0].doubts)


def test_a_workbook_says_the_same_as_the_csv(workshop):
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        sheet = book.add_worksheet("shelf")
        for at, line in enumerate(FIRST.splitlines()):
            for column, text in enumerate(line.split(";")):
                if text.isdigit():
                    sheet.write_number(at, column, int(text))
                else:
                    sheet.write_string(at, column, text)
    from_csv, from_book = look(workshop, FIRST), propose(workshop, "list.xlsx", out.getvalue())
    assert [row.values for row in from_book.rows] == [row.values for row in from_csv.rows]


def test_what_is_remembered_travels_in_an_archive(two_stores, tmp_path):
    import datetime as dt

    from tests.services.workshop import furnish

    store, other = two_stores
    furnish(store)
    take(store, FIRST, answers={"keys": "what"})
    archive(store, tmp_path / "whole.zip", now=dt.datetime(2026, 1, 1, tzinfo=dt.UTC))
    restore(other, tmp_path / "whole.zip")
    proposal = look(other, FIRST)
    assert proposal.known
    assert does(proposal) == ["same"] * 3


def test_a_proposal_is_plain_data_without_the_rows_that_say_nothing_new(workshop):
    import json

    take(workshop, FIRST)
    plain = look(workshop, FIRST).as_dict()
    assert [row["cells"][1] for row in plain["rows"]] == ["gizmo"]
    assert json.loads(json.dumps(plain))["counts"]["same"] == 2


def test_a_kind_nobody_gave_and_a_design_nobody_knows_stay_in_the_note(workshop):
    sheet = "kind,design,number,qty\ncarb,carb-90,,1\ncarb,straight carburettor,,1\nboot,nonsense,,1\n,,,1\n"
    rows = look(workshop, sheet).rows
    named = [{value.column: value.text for value in row.values} for row in rows]
    assert [each["design"] for each in named] == ["carb-90", "carb-0", "", ""]
    assert named[2]["note"] == "nonsense"
    assert any("no design we know" in doubt.text for doubt in rows[2].doubts)
    assert rows[3].state == "unclear"
    assert "nothing says what it is" in rows[3].reason


def test_several_numbers_of_one_design_in_a_cell_name_it(workshop):
    rows = look(workshop, "number,qty\nFN-11.120-A / FN 11 120 A,1\nFN-11.120-A; R 11·120/1,1\nZZ-99,1\n").rows
    designs = [next((v.text for v in row.values if v.column == "design"), "") for row in rows]
    assert designs == ["carb-0", "", ""]
    assert any("no number we know" in doubt.text for doubt in rows[2].doubts)


def test_none_of_them_is_an_answer_too(workshop):
    sheet = "number,what,qty\nFN-11.12O-A,,1\n,gizmo,1\n"
    keys = [each.key for each in look(workshop, sheet).questions if each.key.partition(":")[0] in {"number", "what"}]
    answered = look(workshop, sheet, answers=dict.fromkeys(keys, "none"))
    assert [row.state for row in answered.rows] == ["unclear", "new"], "a number of none says nothing of what it is"
    assert look(workshop, sheet, answers={keys[0]: "design:gone"}).rows[0].state == "unclear"


def test_a_condition_nobody_knows_is_asked_once_for_all_rows(workshop):
    sheet = "what,qty,condition\nboot,1,purple\nboot,2,purple\n"
    proposal = look(workshop, sheet)
    question = next(each for each in proposal.questions if each.key == "condition:purple")
    assert question.rows == (2, 3)
    answered = look(workshop, sheet, answers={question.key: "scrap"})
    assert {v.text for row in answered.rows for v in row.values if v.column == "condition"} == {"scrap"}


def test_sizes_become_measures_only_in_one_way(workshop):
    sheet = "what,qty,size\nboot,1,19\nboot,1,bore 19\nboot,1,750\nboot,1,about nineteen\nclip,1,99999\n"
    values = [{v.column: v.text for v in row.values} for row in look(workshop, sheet).rows]
    assert [each.get("measure:bore_mm", "") for each in values[:4]] == ["19", "19", "", ""]
    assert "size 750" in values[2]["note"]
    assert "size 99999" in values[4]["note"]


def test_a_size_that_speaks_against_the_design_is_asked_about(workshop):
    row = look(workshop, "number,qty,size\nFN-11.120-A,1,spigot 21\n").rows[0]
    assert row.state == "unclear"
    assert "that design has" in row.reason


def test_the_place_as_lists_show_it_and_its_code_are_both_understood(workshop):
    sheet = f"what,qty,place\nboot,1,Shelf \u203a Bin A\nboot,1,{BIN_A}\n"
    places = [v.text for row in look(workshop, sheet).rows for v in row.values if v.column == "place"]
    assert places == ["Shelf \u203a Bin A"] * 2


def test_a_place_whose_name_is_too_long_is_wrong(workshop):
    row = look(workshop, f"what,qty,place\nboot,1,{'x' * 20_000}\n").rows[0]
    assert row.state == "wrong"


def test_places_lots_and_codes_on_labels_never_draw_the_same_code(workshop, monkeypatch):
    payloads = iter(["AAAA1", "AAAA1", *(f"AAAA{letter}" for letter in "123456789ABCDEF")])
    letters = (letter for payload in payloads for letter in payload)
    monkeypatch.setattr("stash.services.flat_writes.secrets.choice", lambda _alphabet: next(letters))
    done = take(workshop, HEADER + "New crate;carb;;1;good;\nNew crate;boot;;1;good;\n")
    places = [code for code, place in workshop.stock().places.items() if place.name == "New crate"]
    assert len({*done.codes, *places}) == 3
