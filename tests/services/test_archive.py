import datetime as dt
import hashlib
import json
import zipfile

import pytest

from stash.db.store import open_store
from stash.errors import Conflict, InvalidInput, NotFound, StorageError
from stash.services import archive, history, machines, rows
from stash.services.tables import export
from stash.services.verify import verify
from tests.services.workshop import CARB_TURNED, PROJECT

NOW = dt.datetime(1980, 1, 1, tzinfo=dt.UTC)


@pytest.fixture
def worked_in(workshop):
    machines.fit(workshop, PROJECT, "carburettor", CARB_TURNED, who="Ann")
    return workshop


def test_an_archive_restores_tables_ledger_and_the_power_to_undo(worked_in, tmp_path):
    made = archive.archive(worked_in, tmp_path / "all.zip", now=NOW)
    other = open_store(str(tmp_path / "other.sqlite"))
    assert archive.restore(other, tmp_path / "all.zip") == made
    assert export(other) == export(worked_in)
    assert [line.entries for line in history.history(other)] == [line.entries for line in history.history(worked_in)]
    assert verify(other).ok
    history.undo(other, history.history(other)[0].batch, who="Bea")
    assert CARB_TURNED in {lot.code for lot in other.stock().lots.values() if lot.quantity}
    other.close()


@pytest.mark.parametrize("engine", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_an_archive_made_on_one_engine_restores_on_the_other(worked_in, tmp_path, make_url_of, engine):
    archive.archive(worked_in, tmp_path / "all.zip", now=NOW)
    other = open_store(make_url_of(engine))
    archive.restore(other, tmp_path / "all.zip")
    assert export(other) == export(worked_in)
    machines.mark(other, PROJECT, "boot", "faulty", who="Bea")
    assert verify(other).ok
    other.close()


def test_an_archive_is_not_restored_over_a_collection(worked_in, tmp_path):
    archive.archive(worked_in, tmp_path / "all.zip", now=NOW)
    with pytest.raises(Conflict, match="not empty"):
        archive.restore(worked_in, tmp_path / "all.zip")
    assert verify(worked_in).ok


def test_an_archive_makes_its_folder_and_says_where_it_cannot_be_written(worked_in, tmp_path):
    archive.archive(worked_in, tmp_path / "new" / "all.zip", now=NOW)
    assert (tmp_path / "new" / "all.zip").exists()
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StorageError, match=r"file/all\.zip can't be written"):
        archive.archive(worked_in, tmp_path / "file" / "all.zip", now=NOW)
    with pytest.raises(StorageError, match=r"file/all\.zip can't be read"):
        archive.restore(worked_in, tmp_path / "file" / "all.zip")


def test_a_database_in_place_of_an_archive_is_told_from_a_damaged_one(worked_in, tmp_path):
    other = open_store(str(tmp_path / "other.sqlite"))
    with pytest.raises(InvalidInput, match="is a database, not an archive"):
        archive.restore(worked_in, tmp_path / "other.sqlite")
    other.close()


def damaged(source, target, name):
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for member in old.namelist():
            content = old.read(member)
            new.writestr(member, content + b"x" if member == name else content)


def test_a_damaged_archive_is_refused_by_the_name_of_the_damaged_member(worked_in, tmp_path):
    archive.archive(worked_in, tmp_path / "all.zip", now=NOW)
    other = open_store(str(tmp_path / "other.sqlite"))
    damaged(tmp_path / "all.zip", tmp_path / "bad.zip", "tables/lots.csv")
    with pytest.raises(InvalidInput, match=r"tables/lots\.csv"):
        archive.restore(other, tmp_path / "bad.zip")
    assert export(other)["lots"] == []
    (tmp_path / "cut.zip").write_bytes((tmp_path / "all.zip").read_bytes()[:-40])
    with pytest.raises(InvalidInput):
        archive.restore(other, tmp_path / "cut.zip")
    with pytest.raises(NotFound):
        archive.restore(other, tmp_path / "none.zip")
    other.close()


def test_an_archive_that_lacks_a_member_or_is_of_another_format_is_refused(worked_in, tmp_path):
    archive.archive(worked_in, tmp_path / "all.zip", now=NOW)
    other = open_store(str(tmp_path / "other.sqlite"))
    with zipfile.ZipFile(tmp_path / "all.zip") as old:
        manifest = json.loads(old.read("manifest.json"))
    for change, said in (({"format": 99}, "format 99"), ({"members": {"tables/none.csv": "0"}}, "lacks")):
        with zipfile.ZipFile(tmp_path / "bad.zip", "w") as new:
            new.writestr("manifest.json", json.dumps({**manifest, **change}))
        with pytest.raises(InvalidInput, match=said):
            archive.restore(other, tmp_path / "bad.zip")
    other.close()


def forged(source, target, change):
    """Write an archive whose checksums are right for what was changed in it."""
    with zipfile.ZipFile(source) as old:
        manifest = json.loads(old.read("manifest.json"))
        members = {name: old.read(name) for name in manifest["members"]}
    members |= change
    members = {name: content for name, content in members.items() if content is not None}
    manifest["members"] = {name: hashlib.sha256(content).hexdigest() for name, content in members.items()}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in {"manifest.json": json.dumps(manifest).encode(), **members}.items():
            new.writestr(name, content)


def test_an_archive_that_was_tampered_with_is_refused_by_the_name_of_the_member(worked_in, tmp_path):
    archive.archive(worked_in, tmp_path / "all.zip", now=NOW)
    other = open_store(str(tmp_path / "other.sqlite"))
    with zipfile.ZipFile(tmp_path / "all.zip") as old:
        moment = old.read("ledger/batches.jsonl").replace(b'"at": "', b'"at": "not ')
    for change, said in (
        ({"ledger/movements.jsonl": None}, r"lacks ledger/movements\.jsonl"),
        ({"ledger/batches.jsonl": b"no row\n"}, r"ledger/batches\.jsonl .* line 1"),
        ({"ledger/batches.jsonl": b"[1]\n"}, r"ledger/batches\.jsonl .*not a row"),
        ({"ledger/batches.jsonl": moment}, r"ledger/batches\.jsonl .* line 1"),
        ({"ledger/batches.jsonl": b"\xff\n"}, r"ledger/batches\.jsonl .* line 1"),
        ({"photos/../../x": b"x"}, r"photos/\.\./\.\./x"),
        ({"../x": b"x"}, r"\.\./x in the archive is nothing"),
        ({"ledger/events.jsonl": b" " * 40_000_000}, r"ledger/events\.jsonl .* too much"),
    ):
        forged(tmp_path / "all.zip", tmp_path / "bad.zip", change)
        with pytest.raises(InvalidInput, match=said):
            archive.restore(other, tmp_path / "bad.zip")
    with zipfile.ZipFile(tmp_path / "all.zip", "a") as more:
        more.writestr("extra.txt", "x")
    with pytest.raises(InvalidInput, match=r"extra\.txt in the archive is not in its manifest"):
        archive.restore(other, tmp_path / "all.zip")
    assert export(other)["lots"] == []
    other.close()


def test_line_ends_of_other_scripts_in_a_text_come_back_as_they_were(worked_in, tmp_path):
    cells = {"note": "one\u2028two\x85three"}
    rows.save_row(worked_in, "makers", cells, {"key": "fen"}, None, who="Ann\u2028Bea")
    archive.archive(worked_in, tmp_path / "all.zip", now=NOW)
    other = open_store(str(tmp_path / "other.sqlite"))
    archive.restore(other, tmp_path / "all.zip")
    assert export(other) == export(worked_in)
    other.close()


def test_verify_finds_a_quantity_that_the_movements_do_not_bear_out(worked_in):
    from sqlalchemy import text

    with worked_in.writing("someone", "by hand") as work:
        work.session.execute(text("UPDATE lots SET quantity = quantity + 1 WHERE code = :code"), {"code": CARB_TURNED})
    told = verify(worked_in)
    assert not told.ok
    assert any(CARB_TURNED in problem for problem in told.as_dict()["problems"])
