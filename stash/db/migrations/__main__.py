"""Draft the next migration from the difference between the last one and the mapped classes."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from alembic import command
from alembic.config import Config

from stash.db.engines import database_url, make_engine
from stash.db.upgrade import HEAD, MIGRATIONS


def main(message: str) -> None:
    """Write ``versions/NNNN.py`` beside this file; read and mend it before committing."""
    with tempfile.TemporaryDirectory() as folder:
        engine = make_engine(database_url(str(Path(folder) / "scratch.sqlite")))
        config = Config()
        config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
        config.set_main_option("file_template", "%%(rev)s")
        with engine.connect() as connection:
            config.attributes["connection"] = connection
            if any((MIGRATIONS / "versions").glob("0*.py")):
                command.upgrade(config, "head")
                following = f"{int(HEAD) + 1:04}"
            else:
                following = HEAD
            command.revision(config, message, autogenerate=True, rev_id=following)
        engine.dispose()


if __name__ == "__main__":
    main(sys.argv[1])
