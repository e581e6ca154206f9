"""What the documents promise is there, and what is there is in the documents."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import stash
from stash.cli import main
from stash.cli.edge import Command

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
DOCS = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "docs").glob("*.md"))]
COMMANDS = sorted(main.commands)
LINK = re.compile(r"\[[^\]]*\]\((?!\w+:)([^)#\s]+)(?:#([^)\s]+))?")


def typed(document: str) -> list[str]:
    """Every command line of stash in the document's shell blocks, without its comment."""
    blocks = re.findall(r"^```sh\n(.*?)^```", document, re.MULTILINE | re.DOTALL)
    lines = (line.split("  #")[0].strip() for block in blocks for line in block.splitlines())
    return [line for line in lines if re.search(r"(^|\s)stash ", line) and not line.startswith(("#", "pipx", "git"))]


def examples() -> list[str]:
    """Every example in the help of every command."""
    return [line for name in COMMANDS for line in command_of(name).example.splitlines()]


def command_of(name: str) -> Command:
    command = main.commands[name]
    assert isinstance(command, Command), f"stash {name} does not translate its errors"
    return command


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_what_it_does_and_shows_an_example(name):
    result = CliRunner().invoke(main, [name, "--help"])
    assert result.exit_code == 0
    assert len((command_of(name).help or "").split()) >= 4
    for line in command_of(name).example.splitlines():
        assert line in result.stdout
        assert f"stash {name}" in line


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_is_for(name):
    for option in command_of(name).params:
        if isinstance(option, click.Option):
            assert option.help, f"stash {name} {option.opts[0]}"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_place_in_the_readme(name):
    assert re.search(rf"`?stash {name}\b", README), f"README.md does not mention `stash {name}`"


@pytest.mark.parametrize("line", [*typed(README), *(line for each in DOCS for line in typed(each)), *examples()])
def test_every_command_line_in_the_documents_can_be_typed(line):
    words = [word for word in shlex.split(line) if not re.match(r"STASH_\w+=", word)]
    assert words[0] == "stash"
    if words[1].startswith("-"):
        return
    command = command_of(words[1])
    arguments = words[2:]
    if "--help" not in arguments:
        command.make_context(words[1], arguments, resilient_parsing=False)


@pytest.mark.parametrize(
    "document",
    ["README.md", "DEVELOPERS.md", "CHANGELOG.md", *(f"docs/{path.name}" for path in (ROOT / "docs").glob("*.md"))],
)
def test_every_link_to_a_file_leads_somewhere(document):
    for target, heading in LINK.findall((ROOT / document).read_text(encoding="utf-8")):
        file = (ROOT / document).parent / target
        assert file.exists(), f"{document} links to {target}"
        if heading:
            assert heading in headings(file.read_text(encoding="utf-8")), f"{document} links to {target}#{heading}"


def headings(document: str) -> set[str]:
    """The headings of a document as links name them."""
    found = re.findall(r"^#+ (.+)$", document, re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in found}


def test_every_document_is_in_the_readme_and_every_picture_in_a_document():
    for path in (ROOT / "docs").glob("*.md"):
        assert f"docs/{path.name}" in README
    for path in (ROOT / "docs" / "pictures").glob("*.png"):
        assert any(f"pictures/{path.name}" in each for each in DOCS), path.name


def test_every_dependency_has_its_why():
    listed = PROJECT["project"]["dependencies"] + PROJECT["project"]["optional-dependencies"]["dev"]
    names = [re.split(r"[\[><=;\s]", line)[0] for line in listed]
    missing = [name for name in names if not re.search(rf"^\| {re.escape(name)} \|", DEVELOPERS, re.MULTILINE)]
    assert missing == []


def test_every_why_has_its_dependency():
    listed = PROJECT["project"]["dependencies"] + PROJECT["project"]["optional-dependencies"]["dev"]
    names = {re.split(r"[\[><=;\s]", line)[0] for line in listed}
    table = DEVELOPERS.split("## Dependencies")[1].split("\n## ")[0]
    told = set(re.findall(r"^\| ([a-z][a-z0-9-]+) \|", table, re.MULTILINE)) - {"name"}
    assert told - names == set()


def test_every_dependency_of_a_user_is_used():
    source = "\n".join(
        file.read_text(encoding="utf-8")
        for room in ("stash", "labels", "seed_demo")
        for file in (ROOT / room).rglob("*.py")
    )
    modules = {"argon2-cffi": "argon2", "flask-wtf": "flask_wtf", "pillow": "PIL", "zxing-cpp": "zxingcpp"}
    for line in PROJECT["project"]["dependencies"]:
        name = re.split(r"[\[><=;\s]", line)[0]
        module = modules.get(name, name.replace("-", "_"))
        named = rf"postgresql\+{module}" if name == "psycopg" else rf"^\s*(import|from) {module}\b"
        assert re.search(named, source, re.MULTILINE), f"nothing uses {name}"


def test_every_make_target_in_the_documents_exists():
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    for document in (README, DEVELOPERS):
        assert set(re.findall(r"\bmake ([a-z]+)\b(?= |`|\n)", document)) <= targets


def test_the_changes_tell_of_this_version():
    assert f"## {stash.__version__}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert PROJECT["project"]["version"] == stash.__version__


def test_every_room_is_told_to_developers():
    rooms = [path.name for path in (ROOT / "stash").iterdir() if (path / "__init__.py").exists()]
    for room in rooms:
        assert f"`{room}`" in DEVELOPERS, room
