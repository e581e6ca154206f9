"""Laws of loading and exporting, for random tables in which everything agrees, on both engines."""

from collections.abc import Callable
from contextlib import closing

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from stash.db.models import Movement
from stash.db.store import Store, open_store
from stash.exchange import read_bytes, render_bytes
from stash.kernel.ends import parse_end
from stash.services.tables import Counts, export, load
from tests.services.random_tables import Tables, raw, valid_tables

ENGINES = [("sqlite", 30), pytest.param(("postgresql", 6), marks=pytest.mark.postgres)]


@pytest.fixture(params=ENGINES, ids=["sqlite", "postgresql"])
def engine(request):
    return request.param


def examples(engine: tuple[str, int]) -> Callable:
    """Settings for a law: fewer examples where every empty database costs more."""
    health = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large]
    return settings(max_examples=engine[1], deadline=None, suppress_health_check=health)


def loaded(make_url_of, engine, *parts) -> closing[Store]:
    store = open_store(make_url_of(engine[0]))
    for part in parts:
        report = load(store, part, "ann")
        assert report.ok, report.errors
    return closing(store)


def law(engine, function, *strategies):
    examples(engine)(given(*strategies)(function))()


def test_export_then_load_then_export_is_identical_in_every_format(engine, make_url_of):
    def holds(tables: Tables, suffix: str):
        with loaded(make_url_of, engine, raw(tables)) as store:
            first = export(store)
        data = render_bytes(suffix, first)
        with loaded(make_url_of, engine, read_bytes("tables" + suffix, data)) as store:
            second = export(store)
        assert second == first
        assert render_bytes(".zip", second) == render_bytes(".zip", first)

    law(engine, holds, valid_tables(), st.sampled_from((".zip", ".xlsx", ".ods")))


def test_an_export_holds_every_cell_that_was_loaded(engine, make_url_of):
    def holds(tables: Tables):
        with loaded(make_url_of, engine, raw(tables)) as store:
            exported = export(store)
        for name, rows in tables.items():
            assert sorted(exported[name]) == sorted(list(row.values()) for row in rows), name

    law(engine, holds, valid_tables())


def test_loading_the_same_again_changes_nothing(engine, make_url_of):
    def holds(tables: Tables):
        with loaded(make_url_of, engine, raw(tables)) as store:
            before = export(store)
            report = load(store, raw(tables), "ann")
            assert report.batch is None
            assert report.tables == {name: Counts(same=len(rows)) for name, rows in tables.items()}
            assert export(store) == before

    law(engine, holds, valid_tables())


def test_the_order_of_rows_never_matters(engine, make_url_of):
    def holds(tables: Tables, random):
        with loaded(make_url_of, engine, raw(tables)) as store:
            straight = export(store)
        shuffled = raw(tables)
        for table in shuffled.values():
            random.shuffle(table.rows)
        with loaded(make_url_of, engine, shuffled) as store:
            assert export(store) == straight

    law(engine, holds, valid_tables(), st.randoms(use_true_random=False))


def test_tables_loaded_one_after_the_other_are_the_same_as_all_at_once(engine, make_url_of):
    def holds(tables: Tables):
        whole = raw(tables)
        with loaded(make_url_of, engine, whole) as store:
            at_once = export(store)
        with loaded(make_url_of, engine, *({name: table} for name, table in whole.items())) as store:
            assert export(store) == at_once

    law(engine, holds, valid_tables())


def test_a_lots_quantity_is_what_its_movements_add_up_to_after_any_two_loads(engine, make_url_of):
    def holds(tables: Tables, data):
        changed = raw(tables)
        places = [row["code"] for row in tables["places"]]
        header = changed["lots"].header
        for _, cells in changed["lots"].rows:
            cells[header.index("quantity")] = str(data.draw(st.integers(0, 9)))
            cells[header.index("place")] = data.draw(st.sampled_from(["", *places]))
        with loaded(make_url_of, engine, raw(tables), changed) as store:
            lots = store.stock().lots
            with store.reading() as session:
                entries = session.scalars(select(Movement)).all()
        sums: dict[str, dict[str, int]] = {code: {} for code in lots}
        for entry in entries:
            for end, sign in ((parse_end(entry.target), 1), (parse_end(entry.source), -1)):
                if end.type == "place":
                    sums[entry.lot][end.name] = sums[entry.lot].get(end.name, 0) + sign * entry.quantity
        for code, lot in lots.items():
            left = {place: count for place, count in sums[code].items() if count}
            assert left == ({lot.place: lot.quantity} if lot.quantity else {})

    law(engine, holds, valid_tables(), st.data())


def test_a_dry_run_reports_the_same_and_writes_nothing(engine, make_url_of):
    def holds(tables: Tables):
        with closing(open_store(make_url_of(engine[0]))) as store:
            dry = load(store, raw(tables), "ann", dry_run=True)
            assert not any(export(store).values())
            assert load(store, raw(tables), "ann").tables == dry.tables

    law(engine, holds, valid_tables())
