"""``serve``: the screens in a browser, on this computer or, where people have accounts, on the network."""

from __future__ import annotations

import datetime as dt
import errno
import ipaddress
import os
import socket
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from stash.cli.accounts import first_owner
from stash.cli.edge import command, opened, with_store
from stash.cli.lan import lan_address, own_names, qr_text, say_labels
from stash.errors import Conflict, InvalidInput

if TYPE_CHECKING:
    from stash.services.certificate import Certificate
    from stash.services.open import Store

LOOPBACK = "127.0.0.1"
PORT = 8470
"""Source: project decision."""

_NEXT_PORTS = 20


@dataclass(frozen=True, slots=True)
class Serving:
    """How to serve: the sockets that listen, the address labels carry, whether with TLS, and whether for phones."""

    sockets: tuple[socket.socket, ...]
    address: str = ""
    tls: bool = False
    lan: bool = False


@command(
    "serve",
    "stash serve\nstash serve --lan\nstash serve --lan --tls\n"
    "stash serve --host 0.0.0.0 --address http://stash.local:8470",
)
@click.option("--lan", is_flag=True, help="For phones on the same network: picks this computer's address there.")
@click.option("--tls", is_flag=True, help="Encrypted, with a certificate of its own.")
@click.option("--host", default=LOOPBACK, show_default=True, help="The address to listen at.")
@click.option("--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="0 takes any free one.")
@click.option(
    "--address",
    default="",
    metavar="URL",
    help="The address that printed labels carry, if it is not the one visited; it is answered under that name too.",
)
@with_store
def serve(host: str, port: int, *, lan: bool, tls: bool, address: str, db: str | None) -> None:
    """Open your stash in a browser; Ctrl-C stops it.

    On this computer alone it opens without a password until somebody has an account. On the network it starts only
    where an owner has one: `stash accounts --add NAME` makes it.
    """
    if lan and host != LOOPBACK:
        raise click.UsageError("--lan picks the address itself; leave out --host.")
    if address:
        from stash.services.labels import web_address

        address = web_address(address)
    hosts = (LOOPBACK, lan_address()) if lan else (host,)
    store = opened(db, make=is_loopback(hosts[-1]) or sys.stdin.isatty())
    if not is_loopback(hosts[-1]):
        first_owner(store, hosts[-1])
    run(store, Serving(_listening(hosts, port), address, tls, lan))


def is_loopback(host: str) -> bool:
    """Tell whether only this computer can reach an address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


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


def run(store: Store, how: Serving) -> None:
    """Serve until Ctrl-C or a polite kill, then finish what is being answered."""
    from stash.services.own_files import seal
    from stash.web import create_app
    from stash.web.front import Front

    hosts = [each.getsockname()[0] for each in how.sockets]
    port = how.sockets[0].getsockname()[1]
    names = [*hosts, *own_names()]
    own = _certificate(names, how.address) if how.tls else None
    app = create_app(
        store,
        secret_key=seal(),
        base_url=how.address,
        served_as=names,
        secure=how.tls or how.address.startswith("https://"),
        authority=own.authority if own else b"",
    )
    front = Front(app, how.sockets, certificate=own.chain if own else None, key=own.key if own else None)
    front.heed_signals()
    scheme = "https" if how.tls else "http"
    _say(store, how, [f"{scheme}://{_bracketed(host)}:{port}/" for host in hosts], own.authority if own else b"")
    front.run()
    click.echo("\nStopped; everything is saved.")


def _listening(hosts: tuple[str, ...], port: int) -> tuple[socket.socket, ...]:
    first = bound(hosts[0], port)
    return (first, *(bound(host, first.getsockname()[1]) for host in hosts[1:]))


def _certificate(names: list[str], address: str) -> Certificate:
    from stash.services.certificate import certificate
    from stash.web.hosts import host_of

    wanted = [*names, "localhost", LOOPBACK, host_of(address)]
    return certificate([each for each in wanted if each not in {"0.0.0.0", "::"}], now=dt.datetime.now(dt.UTC))  # noqa: S104 - left out, not listened at


def _say(store: Store, how: Serving, addresses: list[str], authority: bytes) -> None:
    """Say where it is, for people and for phones."""
    click.echo(f"Open {addresses[0]} in a browser. Ctrl-C stops it.")
    if how.lan:
        click.echo(f"\nOn a phone in the same network: {addresses[1]}\n{qr_text(addresses[1])}")
        if not how.address:  # labels carry that one, and whoever named it knows that it leads here
            say_labels(store, addresses)
        if not how.tls:
            click.echo("Passwords travel as the network carries them: use it at home, or add --tls.")
    if authority:
        from stash.web.trust import fingerprint

        click.echo(
            f"A browser warns until it knows this stash: {addresses[-1]}trust/ says how."
            f" The authority's fingerprint:\n{fingerprint(authority)}"
        )
    sys.stdout.flush()


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host
