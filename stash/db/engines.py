"""Engines: one per database, with the settings this program leans on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from platformdirs import user_data_dir
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from stash.errors import InvalidInput

BUSY_TIMEOUT_MS = 10_000
"""How long a writer waits for another before it gives up. Source: project decision."""


def default_file() -> Path:
    """Where the database lies when nobody says otherwise."""
    return Path(user_data_dir("stash", appauthor=False)) / "stash.sqlite"


def database_url(text: str | None) -> URL:
    """Read what people write for a database: a file path, ``sqlite:///...`` or ``postgresql://...``.

    Raises:
        InvalidInput: It is neither.
    """
    if not text:
        return URL.create("sqlite", database=str(default_file()))
    if "://" not in text:
        return URL.create("sqlite", database=text)
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        raise InvalidInput("The database address can't be read", _HINT) from None
    if url.get_backend_name() == "sqlite" and url.database:
        return URL.create("sqlite", database=url.database)
    if url.drivername in {"postgresql", "postgres", "postgresql+psycopg"}:
        return url.set(drivername="postgresql+psycopg")
    raise InvalidInput(f"No database of the kind {url.drivername!r} is supported", _HINT)


_HINT = "Give a file path, sqlite:///FILE or postgresql://USER@HOST/NAME."


def spoken(url: URL) -> str:
    """The address as people write it: a path, or an address without its password."""
    if url.get_backend_name() == "sqlite":
        return url.database or ""
    return url.set(drivername=url.get_backend_name()).render_as_string(hide_password=True)


def sqlite_file(url: URL) -> Path | None:
    """The database's file, or None when it is not SQLite."""
    return Path(url.database or "") if url.get_backend_name() == "sqlite" else None


def make_engine(url: URL) -> Engine:
    """Make the engine; on SQLite transactions are begun by us, so that they hold what they say."""
    if sqlite_file(url) is None:
        return create_engine(url, pool_pre_ping=True)
    engine = create_engine(url)
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _on_connect(connection: sqlite3.Connection, _record: Any) -> None:
    connection.isolation_level = None
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")  # what was acknowledged survives a power cut too
    connection.execute("PRAGMA foreign_keys = ON")


def _on_begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get("stash_writing")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def reading_engine(engine: Engine) -> Engine:
    """The engine with transactions that see one moment and write nothing."""
    if engine.dialect.name == "sqlite":
        return engine
    return engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)


def writing_engine(engine: Engine) -> Engine:
    """The engine with transactions that are as if nobody else wrote."""
    if engine.dialect.name == "sqlite":
        return engine.execution_options(stash_writing=True)
    return engine.execution_options(isolation_level="SERIALIZABLE")


@contextmanager
def one_at_a_time(engine: Engine) -> Iterator[Connection]:
    """One transaction of keeping house; whoever comes second waits, and then sees what the first one did."""
    if engine.dialect.name == "postgresql":
        with engine.execution_options(isolation_level="READ COMMITTED").begin() as connection:
            connection.exec_driver_sql("SELECT pg_advisory_xact_lock(hashtext('stash upgrade'))")
            yield connection
    else:
        with writing_engine(engine).begin() as connection:
            yield connection
