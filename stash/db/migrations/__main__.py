"""Draft the next migration from the difference between the last one and the mapped classes."""

from __future__ import annotations

import sys
import tempfile
import warnings
from pathlib import Path

from alembic import command
from alembic.config import Config

from stash.db.engines import database_url, make_engine, writing_engine
from stash.db.upgrade import HEAD, MIGRATIONS


def main(message: str, folder: Path = MIGRATIONS) -> Path:
    """Write the next ``versions/NNNN.py``; read and mend it, and raise ``HEAD``, before committing.

    Args:
        message: What changes, for its docstring.
        folder: The folder of the migrations.

    Returns:
        The draft. Indexes on expressions are not in it: SQLite can't tell what they are.
    """
    following = f"{int(HEAD) + 1:04}"
    config = Config()
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.set_main_option("file_template", "%%(rev)s")
    with tempfile.TemporaryDirectory() as scratch, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*expression-based index.*")
        engine = make_engine(database_url(str(Path(scratch) / "scratch.sqlite")))
        with writing_engine(engine).begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            command.revision(config, message, autogenerate=True, rev_id=following)
        engine.dispose()
    return folder / "versions" / f"{following}.py"


if __name__ == "__main__":
    main(sys.argv[1])
