"""A text that another begins with, on both engines: the same rows as Python finds, through an index."""

import pytest
from sqlalchemy import select, text

from stash.db.models import Setting
from stash.db.prefixes import begins

KEYS = (
    "a:b",
    "a:b:",
    "a:b:boot",
    "a:b:\u00e9t\u00e9",
    "a:b:\U0001f527",
    "a:bc",
    "A:b:",
    "a%b",
    "a%bc",
    "a_b",
    "a:",
    "b",
)


def test_only_what_begins_with_the_text_is_found(store):
    def put(work):
        for key in KEYS:
            work.session.add(Setting(key=key, value=""))

    store.write("Ann", "settings", put)
    with store.reading() as session:
        for asked in ("a:b:", "a:b", "a%", "a_", "A", "c", ""):
            found = set(session.scalars(select(Setting.key).where(begins(Setting.key, asked))))
            assert found & set(KEYS) == {key for key in KEYS if key.startswith(asked)}, asked


@pytest.mark.parametrize("store", ["sqlite"], indirect=True)
def test_an_index_answers_on_sqlite(store):
    with store.reading() as session:
        query = select(Setting.key).where(begins(Setting.key, "a") | begins(Setting.key, "b"))
        asked = query.compile(store.engine, compile_kwargs={"literal_binds": True})
        plan = session.execute(text(f"EXPLAIN QUERY PLAN {asked}")).all()
    assert any("SEARCH" in row[3] for row in plan)
    assert not any("SCAN" in row[3] for row in plan)
