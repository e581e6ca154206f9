"""Opening a database, and the only two ways in: ``reading`` and ``writing``."""

from __future__ import annotations

import operator
import os
import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from sqlalchemy import Connection, Engine, insert, select
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from stash.db.engines import (
    database_url,
    default_file,
    make_engine,
    one_at_a_time,
    reading_engine,
    spoken,
    sqlite_file,
    writing_engine,
)
from stash.db.find_rows import has_index
from stash.db.findable import is_bare, rebuild
from stash.db.models import Revision
from stash.db.refusals import Again, first_line, translated
from stash.db.unit import Work
from stash.db.upgrade import upgrade
from stash.errors import Conflict, StorageError

if TYPE_CHECKING:
    from stash.fit.catalogue import Catalogue
    from stash.plan.facts import Stock

T = TypeVar("T")

TRIES = 6
"""How often a write is tried before two people in each other's way are told so. Source: project decision."""


class Store:
    """An open database.

    Args:
        engine: The engine, already at the newest migration.
        photos: The folder its photos lie in; it need not exist yet.
    """

    def __init__(self, engine: Engine, photos: Path) -> None:
        self.engine = engine
        self.photos = photos
        self._reading = reading_engine(engine)
        self._writing = writing_engine(engine)
        self._snapshots: dict[str, tuple[int, object]] = {}
        self._derived: dict[str, tuple[tuple[object, ...], object]] = {}
        self._lock = threading.Lock()
        self._turn = threading.RLock()  # threads of one process take turns, so that none gets in another's way
        self._indexed: bool | None = None

    @property
    def file(self) -> Path | None:
        """The database's file; None on a server."""
        return sqlite_file(self.engine.url)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One transaction that sees one moment.

        Yields:
            A session to read with.

        Raises:
            StorageError: The database would not do it.
        """
        with translated(), Session(self._reading, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def writing(self, who: str, why: str, undoes: int | None = None) -> Iterator[Work]:
        """One transaction of writing: all of it or nothing.

        Args:
            who: Who does it.
            why: Why, in a few words for the history.
            undoes: The batch this one undoes.

        Yields:
            The unit of work.

        Raises:
            Conflict: Somebody else was there first; nothing was written.
            StorageError: The database would not do it; nothing was written.
        """
        with translated(), self._turn, Session(self._writing, expire_on_commit=False) as session, session.begin():
            work = Work(session, who, why, undoes)
            yield work
            work.finish()

    def write(self, who: str, why: str, function: Callable[[Work], T], undoes: int | None = None) -> T:
        """Run a function as one transaction of writing, again when a server says two got in each other's way.

        Args:
            who: Who does it.
            why: Why.
            function: Reads, decides and writes; it may run several times, each in a fresh transaction.
            undoes: The batch this one undoes.

        Returns:
            What the function returned.

        Raises:
            Conflict: Still in each other's way after several tries.
        """
        for attempt in range(TRIES):
            try:
                with self.writing(who, why, undoes) as work:
                    return function(work)
            except Again:
                time.sleep(0.01 * 2**attempt * (0.5 + random.random()))  # noqa: S311 - only spreads the tries
        raise Conflict("Others are writing the same rows", "Nothing was written; try again.")

    def catalogue(self) -> Catalogue:
        """The catalogue as frozen facts, kept until a row of it is written."""
        from stash.db.snapshot import catalogue

        return self._snapshot("catalogue", catalogue)

    def stock(self) -> Stock:
        """The stock as frozen facts, kept until a row of it is written."""
        from stash.db.snapshot import stock

        return self._snapshot("stock", stock)

    def revision(self, session: Session, name: str) -> int:
        """How often ``catalogue`` or ``stock`` was written."""
        return session.execute(select(Revision.counter).where(Revision.name == name)).scalar_one()

    def indexed(self, session: Session) -> bool:
        """Whether the search box has an index of trigrams; looked up once."""
        if self._indexed is None:
            self._indexed = has_index(session.connection())
        return self._indexed

    def derived(self, name: str, source: object, make: Callable[[], T]) -> T:
        """Return something made from a snapshot, made once for as long as the snapshot is the same.

        Args:
            name: What it is.
            source: The snapshot it is made from, or a tuple of several.
            make: Makes it.
        """
        sources = source if isinstance(source, tuple) else (source,)
        with self._lock:
            kept = self._derived.get(name)
        if kept is not None and len(kept[0]) == len(sources) and all(map(operator.is_, kept[0], sources)):
            return kept[1]  # type: ignore[return-value]
        made = make()
        with self._lock:
            self._derived[name] = (sources, made)
        return made

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()

    def _snapshot(self, name: str, make: Callable[[Session], T]) -> T:
        with self.reading() as session:
            revision = self.revision(session, name)
            with self._lock:
                kept = self._snapshots.get(name)
            if kept is not None and kept[0] == revision:
                return kept[1]  # type: ignore[return-value]
            made = make(session)
        with self._lock:
            self._snapshots[name] = (revision, made)
        return made


def open_store(url: str | None = None, photos: Path | None = None) -> Store:
    """Open a database, making or upgrading it where needed.

    Args:
        url: A file path, ``sqlite:///FILE`` or ``postgresql://...``; None for the user's own file.
        photos: The folder for photos; None for one beside the database.

    Raises:
        InvalidInput: The address can't be read.
        StorageError: It can't be opened, belongs to another program, or to a newer version of this one.
    """
    address = database_url(url)
    file = sqlite_file(address)
    engine = make_engine(address)
    try:
        if file is not None:
            file.parent.mkdir(parents=True, exist_ok=True)
            _make_private(file)
        upgrade(engine)
        _complete(engine)
    except (SQLAlchemyError, OSError) as error:
        engine.dispose()
        raise StorageError(
            f"The database {spoken(address)} can't be opened: {first_line(error)}",
            "Check that you may write there." if file else "Check the address, that the server runs and lets you in.",
        ) from error
    except BaseException:
        engine.dispose()
        raise
    beside = file or default_file().with_name(address.database or "stash")
    return Store(engine, photos or beside.with_name(beside.name + ".photos"))


def _make_private(file: Path) -> None:
    """Make a new file readable by its owner alone: digests of passwords lie in it. One that is there stays as it is."""
    with suppress(FileExistsError):
        os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


def _complete(engine: Engine) -> None:
    """Enter what an upgrade leaves out: the counters of the snapshots, and the texts of the search box.

    Several may open a new database at once: who waited for another looks again.
    """
    with engine.connect() as connection:
        if _is_complete(connection):
            return
    with one_at_a_time(engine) as connection:
        here = set(connection.execute(select(Revision.name)).scalars())
        missing = [{"name": name} for name in _COUNTERS if name not in here]
        if missing:
            connection.execute(insert(Revision), missing)
        if is_bare(connection):
            rebuild(connection)


def _is_complete(connection: Connection) -> bool:
    return set(_COUNTERS) <= set(connection.execute(select(Revision.name)).scalars()) and not is_bare(connection)


_COUNTERS = ("catalogue", "stock")
