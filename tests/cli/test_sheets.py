"""``sheet``, ``list``, ``share`` and ``receive``."""

import csv
import json
import shutil

import openpyxl
import pytest
from click.testing import CliRunner

from stash.cli import main
from stash.services.demo import load_demo
from stash.services.open import open_stash

SHEET = "Box;What;Number;Qty\nBin A;piston;FN-21.380-A;2\nBin A;gizmo;;1\n"


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory):
    file = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    store = open_stash(str(file))
    load_demo(store)
    store.close()
    return file


@pytest.fixture
def demo(demo_file, tmp_path):
    """The demo in a file of its own."""
    return shutil.copy(demo_file, tmp_path / "demo.sqlite")


@pytest.fixture
def stash():
    """Type a command at a database."""

    def run(*words, db):
        return CliRunner().invoke(main, [*words, "--db", str(db)])

    return run


@pytest.fixture
def sheet(tmp_path):
    file = tmp_path / "shelf.csv"
    file.write_text(SHEET, encoding="utf-8")
    return file


def test_a_sheet_is_shown_first_and_nothing_is_written(stash, demo, sheet):
    before = stash("find", "gizmo", db=demo)
    result = stash("sheet", str(sheet), db=demo)
    assert result.exit_code == 0
    for words in ("piston 38, pin 10", "'gizmo' is no kind of part we know", "what:gizmo", "--accept takes it in"):
        assert words in result.stdout
    assert stash("find", "gizmo", db=demo).stdout == before.stdout


def test_a_sheet_is_taken_in_answered_and_known_the_second_time(stash, demo, sheet, tmp_path):
    look = tmp_path / "look.csv"
    result = stash(
        "sheet", str(sheet), "--accept", "--answer", "what:gizmo=new:gizmo", "--needs-a-look", str(look), db=demo
    )
    assert result.exit_code == 0, result.stderr
    assert "2 lots new" in result.stdout
    assert len(look.read_text(encoding="utf-8-sig").splitlines()) == 1
    again = json.loads(stash("sheet", str(sheet), "--json", db=demo).stdout)
    assert again["counts"]["same"] == 2
    assert again["known"]


def test_rows_columns_and_what_is_unclear_are_chosen_by_options(stash, demo, sheet):
    options = ("--column", "box=-", "--row", "2=hold", "--hold", "--json")
    found = json.loads(stash("sheet", str(sheet), *options, db=demo).stdout)
    assert found["counts"]["held"] == 2
    assert found["columns"][0]["field"] == "-"


@pytest.mark.parametrize(
    "options",
    [
        ("--answer", "no equals sign"),
        ("--row", "two=hold"),
        ("--column", "Nowhere=place"),
        ("--column", "Box=nonsense"),
        ("--of", "no such sheet"),
    ],
)
def test_options_that_cannot_be_are_said_and_end_with_2(stash, demo, sheet, tmp_path, options):
    if options[0] == "--of":
        book = openpyxl.Workbook()
        book.active.append(["What"])
        book.active.append(["piston"])
        sheet = tmp_path / "shelf.xlsx"
        book.save(sheet)
    result = stash("sheet", str(sheet), *options, db=demo)
    assert result.exit_code == 2
    assert result.stderr


def test_a_sheet_that_is_not_there_or_no_sheet_ends_with_2(stash, demo, tmp_path):
    (tmp_path / "x.csv").write_bytes(b"%PDF-1.7")
    assert stash("sheet", str(tmp_path / "none.csv"), db=demo).exit_code == 2
    assert stash("sheet", str(tmp_path / "x.csv"), db=demo).exit_code == 2
    assert stash("sheet", str(tmp_path), db=demo).exit_code == 2


def test_a_list_is_shown_or_written_as_its_ending_says(stash, demo, tmp_path):
    shown = stash("list", "parts", "--where", "kind=piston", "--columns", "code,what", db=demo)
    assert "stash code" in shown.stdout
    plain = json.loads(stash("list", "parts", "--json", "--columns", "all", db=demo).stdout)
    assert {"unknown", "paid", "design"} <= set(plain[0])
    for ending in (".csv", ".json", ".xlsx", ".pdf"):
        file = tmp_path / f"machines{ending}"
        assert stash("list", "machines", "--out", str(file), db=demo).exit_code == 0
        assert file.stat().st_size
    with (tmp_path / "machines.csv").open(encoding="utf-8-sig", newline="") as file:
        assert len(list(csv.reader(file))) > 10
    assert stash("list", "machines", "--out", str(tmp_path / "x.doc"), db=demo).exit_code == 2
    assert stash("list", "parts", "--columns", "nonsense", db=demo).exit_code == 2


def test_what_is_shared_is_received_by_another(stash, demo, tmp_path):
    bundle, other = tmp_path / "for-you.zip", tmp_path / "other.sqlite"
    assert stash("share", str(bundle), "--kind", "piston", "--by", "Odile", db=demo).exit_code == 0
    looked = stash("receive", str(bundle), "--from", "Odile", db=str(other))
    assert "Made by Odile" in looked.stdout
    assert "Nothing was written" in looked.stdout
    taken = json.loads(stash("receive", str(bundle), "--from", "Odile", "--accept", "--json", db=str(other)).stdout)
    assert taken["accepted"]
    assert taken["adds"]["designs"]
    assert stash("fits", "FN-21.380-A", "--json", db=str(other)).exit_code in {0, 1}
    assert stash("receive", str(tmp_path / "none.zip"), "--from", "Odile", db=str(other)).exit_code == 2
    assert stash("share", str(bundle), "--rule", "nonsense", db=demo).exit_code == 2


def test_contradictions_and_changed_verdicts_are_told(stash, demo, tmp_path):
    bundle, other = tmp_path / "for-you.zip", tmp_path / "other.sqlite"
    shutil.copy(demo, other)
    (tmp_path / "designs.csv").write_text("key,price\npiston-380-a,77\n", encoding="utf-8")
    (tmp_path / "rules.csv").write_text(
        "key,verdict,design,model,position,evidence\nnew-rule,wont_fit,piston-380-a,kittle,piston,bench\n",
        encoding="utf-8",
    )
    for name in ("designs.csv", "rules.csv"):
        assert stash("load", str(tmp_path / name), db=str(other)).exit_code == 0
    assert stash("share", str(bundle), "--design", "piston-380-a", "--rule", "new-rule", db=str(other)).exit_code == 0
    result = stash("receive", str(bundle), "--from", "Odile", db=demo)
    assert "Contradicts you" in result.stdout
    assert "77.00" in result.stdout
    assert "Verdicts that would change" in result.stdout
    assert "won't" in result.stdout or "wont_fit" in result.stdout
