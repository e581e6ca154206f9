"""What is published works: the built wheel, installed into a clean environment, run from another folder."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from pathlib import Path
from zipfile import ZipFile

import pytest

ROOT = Path(__file__).resolve().parents[2]

pytestmark = [pytest.mark.wheel, pytest.mark.timeout(600), pytest.mark.xdist_group("wheel")]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    """The wheel, built from the source distribution, so that neither forgets a file."""
    out = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--outdir", str(out), str(ROOT), cwd=out)
    (built,) = out.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def bin_folder(wheel, tmp_path_factory) -> Path:
    """Where the programs of a clean environment with the wheel are."""
    folder = tmp_path_factory.mktemp("clean")
    venv.create(folder, with_pip=True)
    programs = folder / ("Scripts" if os.name == "nt" else "bin")
    run(str(programs / "python"), "-m", "pip", "install", "--quiet", str(wheel), cwd=folder)
    return programs


@pytest.fixture
def elsewhere(tmp_path) -> Path:
    """A folder with a stray ``templates`` of somebody else's in it."""
    for page in ("base.html", "home/index.html", "layout.html"):
        stray = tmp_path / "templates" / page
        stray.parent.mkdir(parents=True, exist_ok=True)
        stray.write_text("the wrong templates")
    return tmp_path


def run(*words: str, cwd: Path, **more: str) -> str:
    """Run a program to its end, and show what it said where it failed."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("STASH_", "PYTHON", "COV"))}
    ran = subprocess.run(words, cwd=cwd, env={**kept, **more}, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout


def home(folder: Path) -> dict[str, str]:
    """Send everything a user owns into a folder."""
    return {"HOME": str(folder), "XDG_DATA_HOME": str(folder / "data")}


def test_the_wheel_carries_pages_fonts_and_tables_and_no_tests(wheel):
    names = ZipFile(wheel).namelist()
    for ending in (".html", ".css", ".ttf", ".csv", "/demo/lots.csv", "/starter/kinds.csv", "LICENSE"):
        assert any(name.endswith(ending) for name in names), ending
    assert not [name for name in names if name.startswith(("tests/", "benchmarks/")) or "__pycache__" in name]


def test_every_file_of_the_packages_is_in_the_wheel(wheel):
    listed = set(ZipFile(wheel).namelist())
    packages = ("stash", "labels", "seed_demo", "templates")
    here = {
        path.relative_to(ROOT).as_posix()
        for package in packages
        for path in (ROOT / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert here - listed == set()


def test_the_demo_runs_from_another_folder(bin_folder, elsewhere):
    said = run(str(bin_folder / "stash"), "demo", "--no-serve", cwd=elsewhere, **home(elsewhere))
    assert "What the shelf can finish" in said
    assert (elsewhere / "data" / "stash" / "demo.sqlite").exists()


def test_a_page_is_ours_whatever_lies_in_the_folder(bin_folder, elsewhere):
    run(str(bin_folder / "stash"), "demo", "--no-serve", cwd=elsewhere, **home(elsewhere))
    script = (
        "from stash.services.open import open_stash; from stash.web import create_app\n"
        f"app = create_app(open_stash({str(elsewhere / 'data' / 'stash' / 'demo.sqlite')!r}), secret_key=b'x' * 32)\n"
        "answer = app.test_client().get('/')\n"
        "assert answer.status_code == 200, answer.status\n"
        "print(answer.text)"
    )
    page = run(str(bin_folder / "python"), "-c", script, cwd=elsewhere, **home(elsewhere))
    assert "<html" in page
    assert "the wrong templates" not in page


def test_a_workbook_goes_out_and_comes_back_in(bin_folder, elsewhere):
    stash = str(bin_folder / "stash")
    run(stash, "load", "--starter", cwd=elsewhere, **home(elsewhere))
    run(stash, "export", "all.xlsx", cwd=elsewhere, **home(elsewhere))
    said = run(stash, "load", "all.xlsx", "--dry-run", cwd=elsewhere, **home(elsewhere))
    assert "nothing was written" in said
