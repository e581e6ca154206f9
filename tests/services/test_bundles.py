"""Knowledge handed from one stash to another, and whose word it is."""

import csv
import datetime as dt
import io
import zipfile

import pytest

from stash.errors import InvalidInput
from stash.exchange.raw import raw_table
from stash.services import history
from stash.services.bundle_merge import catalogue_rows
from stash.services.bundles import Pick, Picked, bundle, compare, take
from stash.services.tables import export, load
from tests.services.workshop import CARBS, furnish

NOW = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
ODILE = Picked("Odile")
RULES = (
    "key,verdict,design,model,position,evidence,source,said_on,machine\n"
    "slow-late,{verdict},module-55,late,module,{evidence},{source},2025-05-01,{machine}\n"
)


@pytest.fixture
def friend(two_stores):
    """Two stores with the same catalogue; the friend's has a rule of its own."""
    mine, theirs = two_stores
    furnish(mine)
    furnish(theirs)
    return mine, theirs


def say(store, verdict="bolts_on", evidence="bench", source="", machine=""):
    text = RULES.format(verdict=verdict, evidence=evidence, source=source, machine=machine)
    report = load(store, {"rules": raw_table(list(csv.reader(io.StringIO(text))))}, "somebody")
    assert report.ok, report.errors


def rules(store):
    return {row["key"]: row for row in catalogue_rows(store)["rules"]}


def shared(store, **pick):
    return bundle(store, Pick(**pick), by="Odile", now=NOW)


def tables_of(data):
    with zipfile.ZipFile(io.BytesIO(data)) as zipped:
        return {name.removesuffix(".csv"): zipped.read(name).decode() for name in zipped.namelist()}


def test_a_rule_brings_everything_it_leans_on_and_nothing_of_what_is_owned(friend):
    _, theirs = friend
    say(theirs)
    tables = tables_of(shared(theirs, rules=("slow-late",)))
    assert set(tables) >= {"about.json", "rules", "designs", "design_measures", "kinds", "measures", "makers", "models"}
    assert not set(tables) & {"lots", "machines", "places", "builds", "wanted", "fitted"}
    assert "boot-90" not in tables["designs"]


def test_what_is_picked_can_be_loaded_into_an_empty_stash(friend, make_url_of):
    from stash.db.store import open_store

    _, theirs = friend
    say(theirs)
    for pick in ({"rules": ("slow-late",)}, {"families": ("a",)}, {"kinds": ("boot",)}, {"mates": ("turn",)}, {}):
        empty = open_store(make_url_of("sqlite"))
        try:
            assert take(empty, "b.zip", shared(theirs, **pick), ODILE, "me").batch is not None, pick
        finally:
            empty.close()


def test_the_whole_catalogue_comes_out_as_it_went_in(friend, other_store):
    _, theirs = friend
    say(theirs, source="Odile")
    take(other_store, "b.zip", shared(theirs), ODILE, "me")
    whole, copy = export(theirs), export(other_store)
    for table in ("makers", "models", "designs", "design_measures", "numbers", "positions", "came_on", "mates"):
        if table == "mates":
            continue
        assert copy[table] == whole[table]
    assert rules(other_store) == rules(theirs)


def test_a_claim_without_a_source_becomes_the_word_of_who_shared_it(friend):
    mine, theirs = friend
    say(theirs)
    take(mine, "b.zip", shared(theirs), Picked("somebody else"), "me")
    assert rules(mine)["slow-late"]["source"] == "Odile"


def test_a_claim_with_a_source_keeps_it(friend):
    mine, theirs = friend
    say(theirs, source="workshop book page 12")
    take(mine, "b.zip", shared(theirs), ODILE, "me")
    assert rules(mine)["slow-late"]["source"] == "workshop book page 12"


def test_a_rule_about_somebodys_machine_does_not_name_it(friend):
    from tests.services.workshop import PROJECT

    mine, theirs = friend
    say(theirs, machine=PROJECT)
    data = shared(theirs)
    assert PROJECT not in tables_of(data)["rules"]
    take(mine, "b.zip", data, ODILE, "me")


def test_what_would_change_is_shown_before_anything_is_written(friend):
    mine, theirs = friend
    say(theirs)
    before = export(mine)
    found = compare(mine, "b.zip", shared(theirs), ODILE)
    assert found.adds == {"rules": 1}
    assert (found.by, found.made) == ("Odile", "2026-01-01")
    change = next(each for each in found.verdicts if (each.design, each.model) == ("module-55", "late"))
    assert change.position == "module"
    assert change.after == "bolts_on"
    assert change.before == "unknown"
    assert export(mine) == before


def test_rules_that_disagree_both_stand_each_with_its_source(friend):
    mine, theirs = friend
    say(mine, verdict="wont_fit", source="me")
    say(theirs, verdict="bolts_on")
    data = shared(theirs)
    found = compare(mine, "b.zip", data, ODILE)
    differ = [(each.column, each.here, each.there, each.kept) for each in found.contradictions]
    assert ("verdict", "wont_fit", "bolts_on", "both") in differ
    assert any(each.after == "disputed" for each in found.verdicts)
    take(mine, "b.zip", data, ODILE, "me")
    assert {row["verdict"]: row["source"] for row in rules(mine).values()} == {"wont_fit": "me", "bolts_on": "Odile"}
    again = compare(mine, "b.zip", data, ODILE)
    assert not again.adds


def test_our_own_claim_come_back_is_no_second_one(friend):
    mine, theirs = friend
    say(mine)
    take(theirs, "b.zip", bundle(mine, Pick(), by="me", now=NOW), Picked("me"), "Odile")
    take(mine, "back.zip", shared(theirs), ODILE, "me")
    assert set(rules(mine)) == {"slow-late"}


def test_facts_that_differ_are_kept_as_here_unless_theirs_are_asked_for(friend):
    mine, theirs = friend
    load(theirs, {"designs": raw_table([["key", "price"], ["carb-0", "99"]])}, "Odile")
    data = shared(theirs)
    found = compare(mine, "b.zip", data, ODILE)
    assert [(each.table, each.key, each.here, each.there, each.kept) for each in found.contradictions] == [
        ("designs", "carb-0", "20.00", "99.00", "here")
    ]
    take(mine, "b.zip", data, ODILE, "me")
    assert mine.catalogue().design["carb-0"].price_minor == 2000
    take(mine, "b.zip", data, Picked("Odile", theirs=("designs",)), "me")
    assert mine.catalogue().design["carb-0"].price_minor == 9900


def test_what_a_friend_tried_can_count_as_heard_only(friend):
    mine, theirs = friend
    say(theirs)
    take(mine, "b.zip", shared(theirs), Picked("Odile", hearsay=True), "me")
    assert [rule.evidence for rule in mine.catalogue().rules] == ["word"]


def test_taking_a_bundle_in_is_undone_as_one(friend):
    mine, theirs = friend
    say(theirs)
    before = export(mine)
    done = take(mine, "b.zip", shared(theirs), ODILE, "me")
    history.undo(mine, done.batch, who="me")
    assert export(mine) == before
    assert mine.stock().lots[CARBS].quantity == 3


def test_the_same_bundle_is_made_of_the_same_bytes(friend):
    _, theirs = friend
    assert shared(theirs) == shared(theirs)


@pytest.mark.parametrize("data", [b"", b"key,name\n", b"PK\x03\x04rubbish"])
def test_what_is_no_bundle_is_refused(friend, data):
    with pytest.raises(InvalidInput):
        compare(friend[0], "b.zip", data, ODILE)


def test_a_bundle_with_somebodys_lots_is_refused(friend):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as zipped:
        zipped.writestr("lots.csv", "code,kind,quantity\nAAAAA1,carb,1\n")
    with pytest.raises(InvalidInput, match="no shared knowledge"):
        take(friend[0], "b.zip", out.getvalue(), ODILE, "me")


def test_a_zip_of_another_sort_is_refused_by_its_name(friend):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as zipped:
        zipped.writestr("xl/workbook.xml", "<x/>")
    with pytest.raises(InvalidInput, match=r"my-stash\.xlsx"):
        compare(friend[0], "my-stash.xlsx", out.getvalue(), ODILE)


def test_a_bundle_of_a_newer_kind_or_with_a_broken_label_is_refused(friend):
    for about in ('{"format": 99}', "{", "[]"):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as zipped:
            zipped.writestr("about.json", about)
            zipped.writestr("makers.csv", "key,name\nx,X\n")
        if about != "[]":
            with pytest.raises(InvalidInput, match="no bundle"):
                compare(friend[0], "b.zip", out.getvalue(), ODILE)


def test_rows_that_lean_on_nothing_are_named_and_nothing_is_written(friend):
    mine, _ = friend
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as zipped:
        zipped.writestr("designs.csv", "key,kind,name\nnew-one,no_such_kind,x\n")
    before = export(mine)
    for call in (
        lambda: compare(mine, "b.zip", out.getvalue(), ODILE),
        lambda: take(mine, "b.zip", out.getvalue(), ODILE, "me"),
    ):
        with pytest.raises(InvalidInput) as error:
            call()
        assert error.value.problems
    assert export(mine) == before


def test_a_key_that_is_not_there_cannot_be_shared(friend):
    with pytest.raises(InvalidInput, match="no 'nonsense'"):
        shared(friend[1], rules=("nonsense",))
