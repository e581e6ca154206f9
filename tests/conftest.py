"""Fixtures for everybody: an empty store on each database engine.

PostgreSQL is the server of ``STASH_TEST_POSTGRES`` (an address whose user may create databases), or one started here
from installed server binaries. Without either its tests are skipped, or fail where ``STASH_REQUIRE_SERVICES`` is 1.
"""

import itertools
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from stash.db.store import Store, open_store

_NUMBERS = itertools.count(1)


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def store(fresh_url: str) -> Iterator[Store]:
    """An empty store, on each engine in turn."""
    opened = open_store(fresh_url)
    yield opened
    opened.close()


@pytest.fixture
def fresh_url(request: pytest.FixtureRequest, make_url_of: Callable[[str], str]) -> str:
    """The address of an empty database at the newest migration, on the engine that is the turn."""
    return make_url_of(getattr(request, "param", None) or request.node.callspec.params["store"])


@pytest.fixture
def make_url_of(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[str], str]]:
    """Make the address of one more empty database of an engine, ``sqlite`` or ``postgresql``."""
    made: list[str] = []

    def make(engine: str) -> str:
        if engine == "sqlite":
            file = tmp_path / f"store-{next(_NUMBERS)}.sqlite"
            shutil.copy(request.getfixturevalue("sqlite_template"), file)
            return str(file)
        server, template = request.getfixturevalue("postgres_template")
        name = f"stash_{os.getpid()}_{next(_NUMBERS)}"
        _administer(server, f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
        made.append(name)
        return str(make_url(server).set(database=name).render_as_string(hide_password=False))

    yield make
    for name in made if "STASH_TEST_POSTGRES" in os.environ else ():  # our own server goes as a whole
        _administer(request.getfixturevalue("postgres_server"), f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture
def two_stores(request: pytest.FixtureRequest, store: Store, make_url_of: Callable[[str], str]) -> Iterator[tuple]:
    """The store and a second, empty one on the same engine."""
    other = open_store(make_url_of(request.node.callspec.params["store"]))
    yield store, other
    other.close()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated, empty SQLite file to copy."""
    file = tmp_path_factory.mktemp("template") / "empty.sqlite"
    open_store(str(file)).close()
    return file


@pytest.fixture(scope="session")
def postgres_template(postgres_server: str) -> Iterator[tuple[str, str]]:
    """The server and the name of a migrated, empty database to copy."""
    name = f"stash_template_{os.getpid()}"
    _administer(postgres_server, f"CREATE DATABASE \"{name}\" ENCODING 'UTF8' TEMPLATE template0")
    open_store(make_url(postgres_server).set(database=name).render_as_string(hide_password=False)).close()
    yield postgres_server, name
    if "STASH_TEST_POSTGRES" in os.environ:
        _administer(postgres_server, f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The address of a PostgreSQL server whose user may create databases."""
    given = os.environ.get("STASH_TEST_POSTGRES")
    if given:
        yield given
        return
    binaries = _binaries()
    if binaries is None:
        reason = "no PostgreSQL server binaries and no STASH_TEST_POSTGRES"
        if os.environ.get("STASH_REQUIRE_SERVICES") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    yield from _own_server(binaries)


def _binaries() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3].split(".")[0]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


def _own_server(binaries: Path) -> Iterator[str]:
    folder = Path(tempfile.mkdtemp(prefix="stash-pg-"))
    user = "postgres" if os.getuid() == 0 else None
    if user:
        shutil.chown(folder, user, user)
    port = _spare_port()
    run = {"user": user, "group": user, "cwd": folder} if user else {"cwd": folder}
    data = folder / "data"
    setup = [binaries / "initdb", "-D", data, "-U", "stash", "-A", "trust", "-E", "UTF8", "--no-locale", "-N"]
    subprocess.run(setup, check=True, stdout=subprocess.DEVNULL, **run)
    options = {"port": port, "listen_addresses": "127.0.0.1", "unix_socket_directories": folder, "fsync": "off"}
    settings = [part for name, value in options.items() for part in ("-c", f"{name}={value}")]
    with (folder / "log").open("wb") as log:
        server = subprocess.Popen([binaries / "postgres", "-D", data, *settings], stdout=log, stderr=log, **run)
    try:
        address = f"postgresql+psycopg://stash@127.0.0.1:{port}/postgres"
        _wait_for(address, server)
        yield address
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(30)
        shutil.rmtree(folder, ignore_errors=True)


def _spare_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _wait_for(address: str, server: subprocess.Popen) -> None:
    deadline = time.monotonic() + 30
    while True:
        try:
            _administer(address, "SELECT 1")
        except Exception:
            if time.monotonic() > deadline or server.poll() is not None:
                raise
            time.sleep(0.1)
        else:
            return


def _administer(address: str, statement: str) -> None:
    engine = create_engine(address.replace("postgresql://", "postgresql+psycopg://"), isolation_level="AUTOCOMMIT")
    try:
        with engine.connect() as connection:
            connection.execute(text(statement))
    finally:
        engine.dispose()
