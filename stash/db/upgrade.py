"""Bringing a database to the tables this program knows, with a copy of the file before anything changes."""

from __future__ import annotations

import datetime as dt
import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from stash.db.copies import keep_copy
from stash.db.engines import sqlite_file, writing_engine
from stash.errors import StorageError

HEAD = "0008"
"""The newest migration; a database at it opens without Alembic being imported."""

MIGRATIONS = Path(__file__).with_name("migrations")


def upgrade(engine: Engine) -> None:
    """Upgrade the database to ``HEAD``; quick when it is there already.

    Raises:
        StorageError: It is not a database of this program, or of a newer version of it.
    """
    if current_revision(engine) == HEAD:
        return
    with writing_engine(engine).connect() as connection:
        _foreign_keys(connection, on=False)
        try:
            with connection.begin():
                _upgrade_locked(connection)
        finally:
            _foreign_keys(connection, on=True)


def _foreign_keys(connection: Connection, *, on: bool) -> None:
    """Batch migrations rebuild tables, which SQLite allows only while it does not watch the references."""
    raw: Any = connection.connection.dbapi_connection
    if connection.dialect.name == "sqlite":
        raw.execute(f"PRAGMA foreign_keys = {'ON' if on else 'OFF'}")


def current_revision(engine: Engine) -> str | None:
    """The migration a database is at, None when it has none of our tables."""
    try:
        with engine.connect() as connection:
            return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    except DBAPIError as error:
        if isinstance(error.orig, sqlite3.DatabaseError) and "not a database" in str(error.orig):
            raise StorageError(
                "The file is not a database", "Give the path of a database made by this program."
            ) from None
        return None


def _upgrade_locked(connection: Connection) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(hashtext('stash upgrade'))"))
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    tables = set(inspect(connection).get_table_names())
    if tables and "alembic_version" not in tables:
        raise StorageError(
            "The database holds tables of another program", "Give a new file or an empty database; nothing was changed."
        )
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    here = connection.execute(text("SELECT version_num FROM alembic_version")).scalar() if tables else None
    if here is not None and here not in known:
        raise StorageError(
            "The database was made by a newer version of this program", "Update the program; nothing was changed."
        )
    if here == HEAD:
        return
    if here is not None:
        file = sqlite_file(connection.engine.url)
        if file is not None:
            keep_copy(file, f"version-{HEAD}", now=dt.datetime.now(dt.UTC))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
