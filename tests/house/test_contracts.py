"""The arrows of the house are held by a tool: rooms import only what they may."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LINT = Path(sys.executable).with_name("lint-imports")


@pytest.mark.skipif(not LINT.exists(), reason="import-linter is not installed beside this Python")
def test_every_room_imports_only_what_it_may():
    ran = subprocess.run([LINT, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "0 broken" in ran.stdout


def test_starting_the_command_line_loads_no_heavy_library():
    heavy = ("pandas", "sqlalchemy", "flask", "reportlab", "PIL", "alembic", "rich", "numpy", "psycopg", "hypercorn")
    script = (
        "import sys, stash.cli\n"
        "from click.testing import CliRunner\n"
        "assert CliRunner().invoke(stash.cli.main, ['--help']).exit_code == 0\n"
        f"print(*[name for name in {heavy!r} if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout.split() == []
