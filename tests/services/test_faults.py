"""What breaks under the program is told in plain words, leaves nothing half done, and mends by trying again."""

import os
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing

import pytest
from sqlalchemy import create_engine, event, text

from stash.db import engines
from stash.db.models import Lot
from stash.db.store import open_store
from stash.errors import StorageError
from stash.services import lots
from stash.services.tables import export
from stash.services.verify import verify
from stash.web import create_app
from tests.services.workshop import BIN_B, CARBS, CLIPS, furnish
from tests.web.conftest import Visitor

ONLY_FILES = pytest.mark.parametrize("store", ["sqlite"], indirect=True)


def refused(store, act, match):
    """Do something that must fail in the storage, and leave everything as it was."""
    before = export(store)
    with pytest.raises(StorageError, match=match) as caught:
        act()
    assert export(store) == before
    assert verify(store).ok
    return caught.value


@ONLY_FILES
def test_a_full_disk_loses_nothing_and_the_next_try_works(workshop):
    store = workshop

    def no_room(connection, _record):
        connection.execute("PRAGMA max_page_count = 1")  # SQLite takes that for "not one page more"

    event.listen(store.engine, "connect", no_room)
    store.engine.dispose()

    def fill():
        for _ in range(2000):
            lots.add_more(store, CLIPS, 1, "found", who="Ann")

    with pytest.raises(StorageError, match="disk is full") as caught:
        fill()
    assert "Make room" in caught.value.hint
    before = store.stock().lots[CLIPS].quantity
    assert verify(store).ok
    page = Visitor(create_app(store, secret_key="for tests").test_client()).send(
        f"/lots/{CLIPS}/let-go", quantity="1", how="sold", to="x" * 60
    )
    assert page.status in {200, 503}  # the last page may still have room for this one
    event.remove(store.engine, "connect", no_room)
    store.engine.dispose()
    lots.move(store, CARBS, BIN_B, who="Ann")
    lots.add_more(store, CLIPS, 1, "found", who="Ann")
    assert store.stock().lots[CLIPS].quantity in {before, before + 1}
    assert verify(store).ok


@ONLY_FILES
def test_a_locked_file_is_told_on_the_page_and_the_next_try_works(workshop, monkeypatch):
    monkeypatch.setattr(engines, "BUSY_TIMEOUT_MS", 50)
    workshop.engine.dispose()
    visitor = Visitor(create_app(workshop, secret_key="for tests").test_client())
    with closing(sqlite3.connect(workshop.file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        refused(workshop, lambda: lots.move(workshop, CARBS, BIN_B, who="Ann"), "busy")
        page = visitor.send(f"/lots/{CARBS}/move", place=BIN_B)
        assert page.status == 503
        assert "try again in a moment" in page.text
        other.execute("ROLLBACK")
    assert visitor.send(f"/lots/{CARBS}/move", place=BIN_B).status == 200
    assert workshop.stock().lots[CARBS].place == BIN_B


READ_ONLY = """
import os, sys
from pathlib import Path
from stash.cli.edge import told
from stash.db.store import open_store
from stash.errors import StashError
from stash.services import lots
from stash.services.verify import verify

file, lot, folder_too = Path(sys.argv[1]), sys.argv[2], sys.argv[3] == "folder"
store = open_store(str(file))
lots.add_more(store, lot, 1, "found", who="Ann")  # by now everything is imported
verify(store)
store.close()
file.chmod(0o444)
if folder_too:
    file.parent.chmod(0o555)
if os.getuid() == 0:
    os.seteuid(65534)  # nothing is forbidden to the superuser
try:
    store = open_store(str(file))
    print("opened", verify(store).ok)
    lots.add_more(store, lot, 1, "found", who="Ann")
except StashError as error:
    told(error, as_json=False)
os.seteuid(os.getuid())  # what measures coverage writes when the process ends
"""


@pytest.mark.skipif(os.name != "posix", reason="permissions as on Unix")
@pytest.mark.parametrize("what", ["file", "folder"])
def test_a_file_or_folder_that_may_only_be_read_is_told_and_stays_whole(tmp_path_factory, what):
    folder = tmp_path_factory.mktemp("closed")
    for each in (folder, folder.parent, folder.parent.parent):
        each.chmod(stat.S_IMODE(each.stat().st_mode) | 0o055)
    folder.chmod(0o777)
    store = open_store(str(folder / "my.sqlite"))
    furnish(store)
    store.close()
    run = [sys.executable, "-c", READ_ONLY, str(folder / "my.sqlite"), CLIPS, what]
    ran = subprocess.run(run, capture_output=True, text=True, timeout=120, check=False)
    assert "stash: " in ran.stderr, ran.stderr
    assert "Traceback" not in ran.stderr
    assert "may only be read" in ran.stderr or "can't be opened" in ran.stderr
    folder.chmod(0o777)
    (folder / "my.sqlite").chmod(0o666)
    store = open_store(str(folder / "my.sqlite"))
    assert store.stock().lots[CLIPS].quantity == 6
    lots.add_more(store, CLIPS, 1, "found", who="Ann")
    assert verify(store).ok
    store.close()


@pytest.mark.postgres
@pytest.mark.parametrize("store", ["postgresql"], indirect=True)
def test_a_connection_cut_in_mid_transaction_loses_nothing_and_the_next_try_works(workshop):
    store, cutter = workshop, create_engine(workshop.engine.url, isolation_level="AUTOCOMMIT")

    def cut(work):
        own = work.session.execute(text("SELECT pg_backend_pid()")).scalar_one()
        with cutter.connect() as connection:
            connection.execute(text("SELECT pg_terminate_backend(:pid, 5000)"), {"pid": own})

    def act():
        with store.writing("Ann", "moved") as work:
            work.session.get(Lot, CLIPS).quantity += 1
            work.session.flush()
            cut(work)

    refused(store, act, "connection")
    visitor = Visitor(create_app(store, secret_key="for tests").test_client())
    with cutter.connect() as connection:  # every idle connection of the pool goes too
        connection.execute(
            text(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        )
    assert visitor.send(f"/lots/{CARBS}/move", place=BIN_B).status == 200
    assert store.stock().lots[CARBS].place == BIN_B
    assert verify(store).ok
    cutter.dispose()
