import datetime as dt
import sqlite3
from contextlib import closing

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.db.copies import KEPT, copies, copies_folder, keep_copy, thinned
from stash.errors import StorageError

NOON = dt.datetime(2020, 1, 31, 12, tzinfo=dt.UTC)
MOMENTS = st.datetimes(dt.datetime(2018, 1, 1), dt.datetime(2020, 1, 1))  # noqa: DTZ001 - only their names matter


@pytest.fixture
def file(tmp_path):
    """A small database that is being written."""
    path = tmp_path / "my.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE t (x)")
        connection.execute("INSERT INTO t VALUES (1)")
        connection.commit()
        yield path


def test_a_copy_holds_what_was_written_last_and_not_what_is_under_way(file):
    with closing(sqlite3.connect(file)) as writer:
        writer.execute("INSERT INTO t VALUES (2)")
        copy = keep_copy(file, "load", now=NOON)
        writer.rollback()
    assert copy.name == "20200131-120000.000000-before-load.sqlite"
    with closing(sqlite3.connect(copy)) as kept:
        assert kept.execute("SELECT x FROM t").fetchall() == [(1,)]
    assert [path.name for path in copies_folder(file).iterdir()] == [copy.name]


def test_the_last_ten_and_the_last_of_each_month_are_kept(file):
    for day in range(60):
        keep_copy(file, "load", now=NOON + dt.timedelta(days=day))
    names = [path.name[:8] for path in copies(file)]
    assert names == ["20200131", "20200229", *(f"202003{day:02}" for day in range(21, 31))]


@given(st.lists(MOMENTS, unique=True, max_size=60))
def test_thinning_never_takes_the_newest_nor_a_months_last(moments):
    names = [f"{moment:%Y%m%d-%H%M%S.%f}-before-load.sqlite" for moment in moments]
    gone = thinned([*names, "notes.txt"])
    left = sorted(set(names) - set(gone))
    assert left[-KEPT:] == sorted(names)[-KEPT:]
    assert {name[:6] for name in left} == {name[:6] for name in names}
    assert thinned(left) == ()


def test_without_room_for_a_copy_nothing_goes_on(file):
    copies_folder(file).write_text("a file is in the way")
    with pytest.raises(StorageError, match="nothing was changed"):
        keep_copy(file, "load", now=NOON)
    assert copies(file) == ()


def test_a_file_that_is_not_there_is_not_copied(tmp_path):
    with pytest.raises(StorageError):
        keep_copy(tmp_path / "none.sqlite", "load", now=NOON)
    assert list(copies_folder(tmp_path / "none.sqlite").iterdir()) == []
