"""Folders and archives: written whole or not at all, read without trusting them."""

import io
import os
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.errors import Conflict, InvalidInput, NotFound, StorageError
from stash.exchange import FORMATS, read_bytes, read_tables, render_bytes, write_atomically, write_tables
from stash.exchange.raw import LARGEST_FILE, LARGEST_UNPACKED, MOST_ENTRIES
from stash.kernel.tables import TABLES

MAKERS = {"makers": [["fen", "Fenn", "=1+1"]]}
PRISTINE = {suffix: render_bytes(suffix, MAKERS) for suffix in FORMATS}


def zipped(entries, **options):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, **options) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return out.getvalue()


def test_a_folder_has_a_file_for_every_table_with_its_header(tmp_path):
    write_tables(tmp_path / "out", MAKERS)
    assert {path.name for path in (tmp_path / "out").iterdir()} == {f"{table.name}.csv" for table in TABLES}
    assert (tmp_path / "out" / "makers.csv").read_bytes() == b"key,name,note\r\nfen,Fenn,'=1+1\r\n"
    assert (tmp_path / "out" / "families.csv").read_bytes() == b"key,name,note\r\n"


@pytest.mark.parametrize("name", ["out", "out.zip", "out.xlsx", "out.ods", "deep/er/out.zip", "deep/er/out"])
def test_every_format_is_read_back_and_replaced_whole(tmp_path, name):
    for rows in ([["fen", "Fenn", "=1+1"]], [["rud", "Rudd", ""]]):
        write_tables(tmp_path / name, {"makers": rows})
        read = read_tables(tmp_path / name)["makers"]
        assert read.header == ("key", "name", "note")
        assert [(row + [""] * 3)[:3] for _, row in read.rows] == rows
    assert [path.name for path in (tmp_path / name).parent.iterdir()] == [os.path.basename(name)]  # noqa: PTH119


def test_a_folder_with_other_things_in_it_is_left_alone(tmp_path):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("Dear Hanna")
    with pytest.raises(Conflict, match=r"dear\.txt"):
        write_tables(tmp_path / "letters", MAKERS)
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["dear.txt"]


def test_a_file_where_the_folder_should_be_is_left_alone(tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(Conflict, match="is a file"):
        write_tables(tmp_path / "out", MAKERS)
    assert (tmp_path / "out").read_text() == "mine"


def test_a_folder_with_an_ending_is_still_a_folder(tmp_path):
    write_tables(tmp_path / "2024.backup", MAKERS)
    assert (tmp_path / "2024.backup" / "makers.csv").is_file()


@pytest.mark.parametrize("name", ["out.csv", "out.xls", "out.pdf"])
def test_an_ending_of_no_known_kind_is_refused(tmp_path, name):
    with pytest.raises(InvalidInput):
        write_tables(tmp_path / name, MAKERS)
    assert list(tmp_path.iterdir()) == []


def test_what_the_disk_refuses_is_a_storage_error(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError):
        write_tables(tmp_path / "file" / "out.zip", MAKERS)


def test_a_write_that_breaks_off_leaves_the_old_file(tmp_path, monkeypatch):
    file = tmp_path / "out.zip"
    file.write_bytes(b"old")

    def full(_descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("stash.exchange.files.os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_atomically(file, b"new")
    assert file.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [file]


def test_a_folder_is_read_by_the_names_of_its_csv_files(tmp_path):
    (tmp_path / "Makers.CSV").write_bytes(b"key,name\nx,X\n")
    (tmp_path / "stamps.csv").write_bytes(b"a\n1\n")
    (tmp_path / "readme.txt").write_bytes(b"not a table")
    (tmp_path / ".hidden.csv").write_bytes(b"not looked at")
    assert set(read_tables(tmp_path)) == {"makers", "stamps"}


def test_an_empty_folder_and_no_folder_are_told_apart(tmp_path):
    with pytest.raises(InvalidInput, match="no CSV files"):
        read_tables(tmp_path)
    with pytest.raises(NotFound):
        read_tables(tmp_path / "nowhere")


def test_a_single_csv_file_is_the_table_it_is_named_after(tmp_path):
    (tmp_path / "makers.csv").write_bytes(b"key,name\nx,X\n")
    assert read_tables(tmp_path / "makers.csv")["makers"].rows == [(1, ["x", "X"])]


def test_a_file_of_another_kind_is_refused_by_its_name():
    with pytest.raises(InvalidInput, match=r"letter\.docx"):
        read_bytes("letter.docx", b"PK")


def test_the_same_tables_make_the_same_zip_and_ods():
    for suffix in (".zip", ".ods"):
        assert render_bytes(suffix, MAKERS) == render_bytes(suffix, dict(MAKERS))


def test_a_zip_may_hold_its_files_in_one_folder_beside_what_archivers_leave():
    data = zipped(
        [
            ("club/", ""),
            ("club/makers.csv", "key,name\nx,X\n"),
            ("__MACOSX/club/._makers.csv", "?"),
            ("notes.txt", "hi"),
        ]
    )
    assert set(read_bytes("t.zip", data)) == {"makers"}


def test_a_name_that_no_disk_takes_is_told():
    with pytest.raises(InvalidInput, match="can't be read"):
        read_tables("x" * 300 + ".zip")


def test_two_entries_of_one_name_are_refused():
    with pytest.warns(UserWarning, match="Duplicate name"):
        data = zipped([("makers.csv", "key\n"), ("makers.csv", "key\n")])
    with pytest.raises(InvalidInput, match="twice"):
        read_bytes("t.zip", data)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"not a zip", "damaged"),
        (zipped([("a.txt", "hi")]), "no CSV files"),
        (zipped([("../makers.csv", "key\n")]), "points outside"),
        (zipped([("/etc/makers.csv", "key\n")]), "points outside"),
        (zipped([("..\\makers.csv", "key\n")]), "points outside"),
        (zipped([("C:\\makers.csv", "key\n")]), "points outside"),
        (zipped([("a/makers.csv", "key\n"), ("b/makers.csv", "key\n")]), "twice"),
        (zipped([(f"{n}.csv", "") for n in range(MOST_ENTRIES + 1)]), "too many entries"),
        (zipped([("makers.csv", "key\n")])[:-30], "damaged"),
    ],
    ids=["no zip", "no tables", "dots", "absolute", "backslash", "drive", "twice", "entries", "cut off"],
)
def test_an_archive_that_is_not_to_be_trusted_is_refused(data, told):
    with pytest.raises(InvalidInput, match=told) as caught:
        read_bytes("t.zip", data)
    assert caught.value.hint


def test_a_zip_bomb_is_refused_by_what_it_says_it_unpacks_to():
    data = zipped([(f"{n}.csv", b"\n" * (LARGEST_FILE // 2)) for n in range(2 * LARGEST_UNPACKED // LARGEST_FILE + 1)])
    assert len(data) < LARGEST_FILE // 40
    with pytest.raises(InvalidInput, match="too large"):
        read_bytes("t.zip", data)


def test_a_zip_that_lies_about_its_size_is_refused():
    data = bytearray(zipped([("makers.csv", "key,name\n" + "x,X\n" * 50_000)]))
    size = (9 + 4 * 50_000).to_bytes(4, "little")
    for position in (data.find(size), data.rfind(size)):
        data[position : position + 4] = (100).to_bytes(4, "little")
    with pytest.raises(InvalidInput, match="damaged"):
        read_bytes("t.zip", bytes(data))


def test_a_locked_zip_is_refused():
    data = bytearray(zipped([("makers.csv", "key\n")]))
    for signature, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.find(signature) + offset] |= 1
    with pytest.raises(InvalidInput, match="password"):
        read_bytes("t.zip", bytes(data))


def test_an_oversized_upload_is_refused_by_its_size(tmp_path):
    with pytest.raises(InvalidInput, match="too large"):
        read_bytes("t.zip", bytes(LARGEST_FILE + 1))


def outcome(name, data):
    """What becomes of a file: tables, or the hint of our own error; anything else is not caught."""
    try:
        return read_bytes(name, data)
    except InvalidInput as error:
        return error.hint


@given(st.binary(max_size=200), st.sampled_from(["t.zip", "t.xlsx", "t.ods", "makers.csv"]))
def test_any_bytes_are_tables_or_an_error_of_ours(data, name):
    assert outcome(name, data)


@given(st.sampled_from(list(PRISTINE)), st.lists(st.tuples(st.floats(0, 0.999), st.integers(0, 255)), min_size=1))
def test_a_damaged_file_is_tables_or_an_error_of_ours(suffix, slips):
    data = bytearray(PRISTINE[suffix])
    for place, byte in slips:
        data[int(place * len(data))] = byte
    assert outcome("t" + suffix, bytes(data)) != ""
