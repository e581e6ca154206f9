"""``serve``: the screens in a browser, on this computer or, with passwords, on the network."""

from __future__ import annotations

import errno
import gc
import ipaddress
import os
import secrets
import signal
import socket
import sys
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, NoReturn

import click

from stash.cli.edge import command, opened, with_store
from stash.errors import Conflict, InvalidInput

if TYPE_CHECKING:
    from stash.services.open import Store

LOOPBACK = "127.0.0.1"
PORT = 8470
"""Source: project decision."""

ROLES = ("owner", "helper", "guest")
_NEXT_PORTS = 20
_SHORTEST_PASSWORD = 8
_THREADS = 4
_SEAL_BYTES = 32


@command(
    "serve", "stash serve\nSTASH_OWNER_PASSWORD='...' stash serve --host 0.0.0.0 --address http://stash.local:8470"
)
@click.option("--host", default=LOOPBACK, show_default=True, help="The address to listen at.")
@click.option("--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="0 takes any free one.")
@click.option(
    "--address", default="", metavar="URL", help="The address that printed labels carry. Default: as visited."
)
@with_store
def serve(host: str, port: int, *, address: str, db: str | None) -> None:
    """Open your stash in a browser; Ctrl-C stops it.

    On this computer alone it opens without a password. On the network it refuses to start without one: put it into
    STASH_OWNER_PASSWORD, and where others help, STASH_HELPER_PASSWORD (changes stock) and STASH_GUEST_PASSWORD (reads).
    """
    hashes = password_hashes()
    if not hashes.get("owner") and not is_loopback(host):
        raise InvalidInput(
            f"{host} can be reached from the network, and no password is set",
            "Set the environment variable STASH_OWNER_PASSWORD and start again, or leave out --host to open it on this"
            " computer alone.",
        )
    listening = bound(host, port)
    run(opened(db, make=True), listening, hashes=hashes, address=address)


def is_loopback(host: str) -> bool:
    """Tell whether only this computer can reach an address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def password_hashes() -> dict[str, str]:
    """Return ``{role: hash}`` for the passwords in the environment.

    Raises:
        InvalidInput: One is too short to be one.
    """
    from werkzeug.security import generate_password_hash

    given = {role: os.environ.get(f"STASH_{role.upper()}_PASSWORD", "") for role in ROLES}
    for role, password in given.items():
        if password and len(password) < _SHORTEST_PASSWORD:
            raise InvalidInput(
                f"The password in STASH_{role.upper()}_PASSWORD is too short",
                f"Take {_SHORTEST_PASSWORD} characters or more; three words do well.",
            )
    return {role: generate_password_hash(password) for role, password in given.items() if password}


def bound(host: str, port: int) -> socket.socket:
    """Take a port, so that the address said is the address served.

    Raises:
        Conflict: Somebody else has it.
        InvalidInput: The host is no address of this computer.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    if os.name == "posix":
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen()
    except (OSError, OverflowError, UnicodeError) as error:
        listening.close()
        if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
            raise Conflict(
                f"Port {port} is taken", "Another stash may be running; stop it, or choose another with --port."
            ) from error
        raise InvalidInput(
            f"Can't listen at {host} port {port}: {error}", "Give an address of this computer and a port above 1023."
        ) from error
    return listening


def bound_near(host: str, port: int) -> socket.socket:
    """Take a port or, where it is taken, one of the next.

    Raises:
        Conflict: They are all taken.
    """
    for candidate in range(port, min(port + _NEXT_PORTS, 65536)):
        try:
            return bound(host, candidate)
        except Conflict:
            continue
    raise Conflict(f"Ports {port} to {port + _NEXT_PORTS - 1} are all taken", "Choose another with --port.")


def run(store: Store, listening: socket.socket, *, hashes: dict[str, str], address: str) -> None:
    """Serve until Ctrl-C or a polite kill, then finish what is being answered."""
    from waitress.server import create_server

    from stash.web import create_app

    app = create_app(store, secret_key=_seal(), passwords=hashes, base_url=address)
    host, port = listening.getsockname()[:2]
    server = create_server(app, sockets=[listening], threads=_THREADS, ident=None)
    signal.signal(signal.SIGTERM, _interrupt)
    click.echo(f"Open http://{f'[{host}]' if ':' in host else host}:{port}/ in a browser. Ctrl-C stops it.")
    sys.stdout.flush()
    gc.collect()
    gc.freeze()  # what is loaded by now stays; searching it again only delays answers
    try:
        server.run()
    finally:
        server.close()
    click.echo("\nStopped; everything is saved.")


def _interrupt(_signal: int, _frame: FrameType | None) -> NoReturn:
    raise KeyboardInterrupt


def _seal() -> bytes:
    """The key that seals sessions, made once for this user and kept, so that open forms survive a restart."""
    from platformdirs import user_data_path

    file: Path = user_data_path("stash", appauthor=False) / "session.key"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.touch(mode=0o600)
    if file.stat().st_size != _SEAL_BYTES:
        file.write_bytes(secrets.token_bytes(_SEAL_BYTES))
    return file.read_bytes()
