"""What the documents and the help say to type works as it stands there, typed at the demo."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner, Result

from stash.cli import main
from stash.cli.edge import Command
from stash.services.demo import ensure_demo
from stash.services.open import open_stash

ROOT = Path(__file__).resolve().parents[2]
HELP = {
    name: command.example.splitlines()
    for name, command in sorted(main.commands.items())
    if isinstance(command, Command)
}
ASKED = "four plain words do\n"
"""What is typed where a password is asked for."""
NEVER_ENDS = re.compile(r"stash (serve|demo)(?!.*--no-serve)")
ANSWERED_NO = re.compile(r"--changed")
"""Nothing has changed since the labels were printed a line before."""


DOCUMENTS = ["README.md", *sorted(f"docs/{path.name}" for path in (ROOT / "docs").glob("*.md"))]


def lines_of(document: str) -> list[str]:
    text = (ROOT / document).read_text(encoding="utf-8")
    blocks = re.findall(r"^```sh\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    lines = (re.split(r"\s+# ", line)[0] for block in blocks for line in block.splitlines())
    return [line for line in lines if line.startswith("stash ")]


@pytest.fixture(scope="module")
def prepared(tmp_path_factory) -> Path:
    """A folder with the demo as one's own stash, and the files the examples name."""
    folder = tmp_path_factory.mktemp("typed")
    store = open_stash(str(folder / "own.sqlite"))
    ensure_demo(store)
    store.close()
    for line in (
        "export my-parts.xlsx",
        "archive stash-backup.zip",
        "share for-me.zip --kind piston",
        "labels 52BVMY XKTVZC --preview --to shelf.pdf",
    ):
        result = CliRunner().invoke(main, [*at(line, folder), "--db", str(folder / "own.sqlite")])
        assert result.exit_code == 0, result.output
    shutil.copy(ROOT / "tests" / "services" / "shelf_list" / "as_kept.csv", folder / "my-shelf.csv")
    document = pypdfium2.PdfDocument(str(folder / "shelf.pdf"))
    document[0].render(scale=300 / 72).to_pil().save(folder / "shelf.jpg")
    document.close()
    return folder


def at(line: str, folder: Path) -> list[str]:
    """The words of a line, with files in a folder."""
    return [str(folder / word) if re.search(r"\.(xlsx|zip|pdf)$", word) else word for word in shlex.split(line)]


@pytest.fixture
def bench(prepared, tmp_path, monkeypatch) -> Path:
    """A copy of the folder to type in."""
    folder = tmp_path / "bench"
    shutil.copytree(prepared, folder)
    monkeypatch.chdir(folder)
    monkeypatch.setenv("STASH_DB", str(folder / "own.sqlite"))
    monkeypatch.setenv("HOME", str(folder))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    return folder


def typed(line: str) -> Result:
    words = shlex.split(line)
    assert words[0] == "stash"
    return CliRunner().invoke(main, words[1:], input=ASKED)


@pytest.mark.parametrize("command", HELP)
def test_the_examples_of_a_help_work_one_after_the_other(bench, command):
    for line in HELP[command]:
        if not NEVER_ENDS.search(line):
            result = typed(line)
            assert result.exit_code in ({0, 1} if command == "check" else {0}), f"{line}\n{result.output}"


@pytest.mark.parametrize("document", DOCUMENTS)
def test_a_document_works_from_top_to_bottom(bench, document):
    (bench / "stash-backup.zip").unlink()
    lines = [line for line in lines_of(document) if not NEVER_ENDS.search(line) and "postgresql:" not in line]
    assert lines
    for line in lines:
        result = typed(line)
        assert result.exit_code == (1 if ANSWERED_NO.search(line) else 0), f"{line}\n{result.output}"
