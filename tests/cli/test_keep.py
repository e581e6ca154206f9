"""``archive``, ``restore`` and ``verify``: a backup that is tried, and a database that is proven."""

from __future__ import annotations

import json
import sqlite3
from zipfile import ZipFile

from click.testing import CliRunner

from stash.cli import main


def typed(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def test_an_archive_restores_to_the_same_tables(type_in, tmp_path):
    backup, copy = tmp_path / "backup.zip", tmp_path / "copy.sqlite"
    archived = type_in("archive", str(backup))
    assert archived.exit_code == 0
    assert "6 movements" in archived.stdout
    assert typed("restore", backup, "--db", copy).exit_code == 0
    type_in("export", str(tmp_path / "before"))
    typed("export", tmp_path / "after", "--db", copy)
    for file in (tmp_path / "before").iterdir():
        assert file.read_bytes() == (tmp_path / "after" / file.name).read_bytes()


def test_a_restore_into_a_filled_database_is_refused(type_in, tmp_path, workshop):
    type_in("archive", str(tmp_path / "backup.zip"))
    before = workshop.read_bytes()
    result = type_in("restore", str(tmp_path / "backup.zip"))
    assert result.exit_code == 2
    assert "not empty" in result.stderr
    assert type_in("verify").exit_code == 0
    assert len(before) == workshop.stat().st_size


def test_a_sound_database_is_well(type_in, ask):
    assert "All is well" in type_in("verify").stdout
    assert ask("verify")["ok"] is True


def test_a_count_that_the_history_does_not_add_up_to_is_found(type_in, ask, workshop, tmp_path):
    with sqlite3.connect(workshop) as connection:
        connection.execute("UPDATE lots SET quantity = quantity + 3")
    connection.close()
    result = type_in("verify")
    assert result.exit_code == 1
    assert "problem" in result.stdout
    assert ask("verify", ends=1)["problems"]
    type_in("archive", str(tmp_path / "backup.zip"))
    restored = typed("restore", tmp_path / "backup.zip", "--db", tmp_path / "copy.sqlite")
    assert restored.exit_code == 1
    assert "its movements add up to" in restored.stderr


def test_an_archive_is_proven_without_touching_anything(type_in, tmp_path, own_home):
    backup = tmp_path / "backup.zip"
    type_in("archive", str(backup))
    result = typed("verify", backup, "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["movements"] == 6
    assert not (own_home / "data" / "stash" / "stash.sqlite").exists()


def test_a_damaged_archive_is_told(type_in, tmp_path):
    backup, damaged = tmp_path / "backup.zip", tmp_path / "damaged.zip"
    type_in("archive", str(backup))
    with ZipFile(backup) as good, ZipFile(damaged, "w") as bad:
        for name in good.namelist():
            content = good.read(name)
            bad.writestr(name, content.replace(b"straight", b"strajght") if name == "tables/designs.csv" else content)
    result = typed("verify", damaged)
    assert result.exit_code == 2
    assert "designs.csv" in result.stderr


def test_a_file_that_is_no_archive_is_told(tmp_path):
    (tmp_path / "letter.zip").write_text("Dear Rosa")
    assert typed("restore", tmp_path / "letter.zip", "--db", tmp_path / "new.sqlite").exit_code == 2
    assert typed("verify", tmp_path / "nowhere.zip").exit_code == 2
