"""What the search box looks through: never other than the rows, found by its index on both engines."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, insert, select, text

from stash.db.find_rows import matching, nearly, statements
from stash.db.findable import BANDS, drifted, find_id, fold
from stash.db.models import Findable
from stash.db.store import open_store
from stash.exchange import RawTable
from stash.kernel.codes import ALPHABET, code_from_payload
from stash.services import history
from stash.services.arrivals import arrive, describe
from stash.services.find import find
from stash.services.tables import load
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BOOTS, CARBS, MYSTERY, RUNNER, furnish

WHO = "owner"


@pytest.fixture
def workshop(store):
    furnish(store)
    return store


def texts(store):
    with store.reading() as session:
        return {(row.type, row.key): row.text for row in session.execute(select(Findable)).scalars()}


def drift(store):
    with store.reading() as session:
        return drifted(session.connection())


def put(store, table, header, *rows):
    report = load(store, {table: RawTable(header, list(enumerate(map(list, rows), 1)))}, WHO)
    assert report.ok, report.errors


def test_a_thing_has_one_text_with_all_a_person_may_look_for(workshop):
    found = texts(workshop)
    assert found["lot", CARBS].startswith("straight carburettor carburettor fn-11.120-a")
    assert found["design", "carb-90"] == "carb-90 turned carburettor carburettor r 11·120/1"
    assert found["model", "early"] == "early fennaby early"
    assert found["place", BIN_A] == "bin a"
    assert found["machine", RUNNER].startswith("fennaby early, 1967 runner")
    assert "not identified" in found["lot", MYSTERY]


def test_what_a_text_is_made_of_changes_and_the_text_with_it(workshop):
    put(workshop, "designs", ("key", "kind", "name"), ("carb-0", "carb", "Plain one"))
    put(workshop, "kinds", ("key", "name"), ("boot", "Rubber boot"))
    put(workshop, "makers", ("key", "name"), ("fen", "Fenwick"))
    put(workshop, "models", ("key", "name", "maker", "generation"), ("late", "Later", "rud", "a2"))
    put(workshop, "numbers", ("number", "maker", "design"), ("ZZ-9", "fen", "boot-90"))
    found = texts(workshop)
    assert "plain one" in found["lot", CARBS]
    assert "rubber boot" in found["lot", BOOTS]
    assert "zz-9" in found["lot", BOOTS]
    assert found["machine", RUNNER].startswith("fenwick early")
    assert found["model", "late"] == "late ruddlow later"
    assert drift(workshop) == []


def test_new_changed_and_undone_rows_leave_no_other_texts(workshop):
    before = texts(workshop)
    done = arrive(workshop, "lots", {"kind": "carb", "quantity": "1", "note": "Under the bench"}, who=WHO)
    code = done.codes[0]
    assert "under the bench" in texts(workshop)["lot", code]
    describe(workshop, code, {"note": "in the attic"}, {}, who=WHO, version=None)
    assert "in the attic" in texts(workshop)["lot", code]
    for line in history.history(workshop, limit=2):
        history.undo(workshop, line.batch, who=WHO)
    assert drift(workshop) == []
    assert {key: said for key, said in texts(workshop).items() if key[1] != code} == before


def test_a_renamed_key_leaves_nothing_behind(workshop):
    def rename(work):
        from stash.db.models import Design

        row = work.session.get(Design, "boot-0")
        values = {column.name: getattr(row, column.name) for column in row.__table__.columns}
        work.session.expunge(row)
        work.rename("designs", values, {"key": "boot-zero"})

    workshop.write(WHO, "renamed", rename)
    found = texts(workshop)
    assert ("design", "boot-zero") in found
    assert ("design", "boot-0") not in found
    assert drift(workshop) == []


def test_verify_finds_a_text_that_drifted(workshop):
    assert verify(workshop).ok
    with workshop.engine.begin() as connection:
        connection.execute(delete(Findable).where(Findable.key == CARBS))
        connection.execute(text("UPDATE findable SET text = 'other' WHERE key = :key"), {"key": BOOTS})
    assert drift(workshop) == sorted([("lot", BOOTS), ("lot", CARBS)])
    assert "2 texts that are not what they should be" in verify(workshop).problems[0]


def test_verify_finds_an_index_that_lost_a_text(workshop):
    if workshop.engine.dialect.name != "sqlite":
        return  # a server keeps its own indexes whole
    with workshop.engine.begin() as connection:
        connection.execute(
            text(
                "INSERT INTO findable_trigrams(findable_trigrams, rowid, text) "
                "SELECT 'delete', id, text FROM findable WHERE key = :key"
            ),
            {"key": CARBS},
        )
    assert any("index of the search box" in problem for problem in verify(workshop).problems)


def test_a_database_that_lost_all_texts_gets_them_back_when_it_is_opened(workshop):
    before = texts(workshop)
    with workshop.engine.begin() as connection:
        connection.execute(delete(Findable))
    url = workshop.engine.url.render_as_string(hide_password=False)
    again = open_store(url.removeprefix("sqlite:///"))
    assert texts(again) == before
    again.close()


def test_words_are_found_inside_words_in_any_case_and_all_must_be_there(workshop):
    assert {hit.code for hit in find(workshop, "TURNED arbur")} >= {"carb-90"}
    assert find(workshop, "turned boot carburettor") == ()
    assert {hit.type for hit in find(workshop, "ca")} >= {"design", "lot"}  # too short for trigrams
    assert {hit.code for hit in find(workshop, "ca straight")} >= {"carb-0", CARBS}


@pytest.mark.parametrize(
    "typed", ["%", "_", '"', "' OR 1", "100%", 'a"b"c', "NEAR(a b)", "x* AND", "!", "\\", "%%%", "___"]
)
def test_signs_of_a_query_language_are_looked_for_as_they_are(workshop, typed):
    assert find(workshop, typed) == ()
    put(workshop, "places", ("code", "name"), (str(next(free())), f"Box {typed} here"))
    assert [hit.title for hit in find(workshop, typed)] == [f"Box {typed} here"]


def free():
    return (code for last in ALPHABET if (code := code_from_payload("BX77" + last)))


@pytest.mark.parametrize("typed", ["carburetor", "carburrettor", "straigth", "moduel"])
def test_a_slip_of_the_finger_still_finds_it_and_says_so(workshop, typed):
    hits = find(workshop, typed)
    assert hits
    assert all(hit.detail.startswith("nearly that") for hit in hits)
    assert not any(hit.sure for hit in hits)


def test_what_is_like_nothing_finds_nothing(workshop):
    assert find(workshop, "unobtainium") == ()
    assert find(workshop, "zz") == ()


def test_without_an_index_the_texts_are_scanned_and_say_the_same(workshop):
    with workshop.reading() as session:
        for words in (["carb"], ["turned", "carb"], ["ca"], ["fennaby"]):
            indexed = matching(session, words, 200, indexed=True)
            assert matching(session, words, 200, indexed=False) == indexed
            assert indexed
        assert nearly(session, ["abc"], 10) == []


def test_no_more_than_asked_for_and_lots_come_last(workshop):
    with workshop.reading() as session:
        everything = matching(session, ["a"], 500, indexed=True)
        assert [BANDS.index(type_) for type_, _ in everything] == sorted(BANDS.index(type_) for type_, _ in everything)
        assert matching(session, ["a"], 3, indexed=True) == everything[:3]


def plan_of(store, words):
    said = []
    with store.reading() as session:
        for statement, values in statements(store.engine.dialect.name, words, indexed=True):
            explain = "EXPLAIN QUERY PLAN " if store.engine.dialect.name == "sqlite" else "EXPLAIN "
            rows = session.execute(text(explain + statement), {**values, "most": 200})
            said.append("\n".join(str(row[-1]) for row in rows))
    return said


def test_the_plan_uses_the_index_and_never_scans_the_lots(store):
    rows = [
        {"id": find_id("lot", f"{at:05d}"), "type": "lot", "key": f"{at:05d}", "text": f"part {at} of box {at % 997}"}
        for at in range(20_000)
    ]
    with store.engine.begin() as connection:
        connection.execute(insert(Findable), rows)
        if store.engine.dialect.name != "sqlite":
            connection.execute(text("ANALYZE findable"))
    with store.reading() as session:
        assert matching(session, ["part 19999"], 10, indexed=True) == [("lot", "19999")]
        assert store.indexed(session)
    plans = plan_of(store, ["19999"])
    if store.engine.dialect.name == "sqlite":
        (plan,) = plans
        assert "findable_trigrams VIRTUAL TABLE INDEX" in plan
        assert "SEARCH findable USING INTEGER PRIMARY KEY" in plan
        assert "SCAN findable\n" not in plan + "\n"
        assert "TEMP B-TREE" not in plan
    else:
        others, lots = plans
        assert "Bitmap Index Scan on ix_findable_trigrams" in lots
        assert "Seq Scan" not in lots
        assert "Seq Scan" not in others


@given(st.text(max_size=12))
@settings(max_examples=60)
def test_an_id_fits_its_band(key):
    for type_ in BANDS:
        assert find_id(type_, key) >> 56 == BANDS.index(type_) + 1
        assert find_id(type_, key) < 2**63


def test_folding_forgets_case_and_blanks():
    assert fold("  Straße\tÄ ") == "strasse ä"
