"""Nothing heavy is imported before somebody asks for what needs it."""

import json
import subprocess
import sys

import pytest

HEAVY = {
    "alembic", "cryptography", "flask", "highspy", "hypercorn", "numpy", "openpyxl", "pandas", "PIL", "pillow_heif",
    "qrcode", "reportlab", "scipy", "sqlalchemy", "xlsxwriter", "zxingcpp",
}  # fmt: skip

_HELP = "from click.testing import CliRunner; from stash.cli import main; CliRunner().invoke(main, ['--help'])"
_COMMANDS = """
from click import Context
from stash.cli import main
for name in main.list_commands(Context(main)):
    main.get_command(Context(main), name)
"""
_SERVER = """
from stash.db.store import open_store
from stash.web import create_app, front
app = create_app(open_store(sys.argv[1]), secret_key="for tests only")
app.test_client().get("/")
"""


@pytest.mark.parametrize(
    ("script", "needed"),
    [
        (_HELP, set()),
        (_COMMANDS, set()),
        (_SERVER, {"alembic", "flask", "hypercorn", "sqlalchemy"}),
    ],
    ids=["the help", "every command's own help", "a server with its first page"],
)
def test_heavy_libraries_wait_until_they_are_needed(tmp_path, script, needed):
    told = "\nimport json; print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))"
    found = subprocess.run(
        [sys.executable, "-c", f"import sys\n{script}{told}", f"sqlite:///{tmp_path / 'stash.sqlite'}"],
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    loaded = HEAVY & set(json.loads(found.stdout.splitlines()[-1]))
    assert loaded == needed
