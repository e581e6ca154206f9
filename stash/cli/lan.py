"""Where phones on the same network find this computer, told so that a phone can read it."""

from __future__ import annotations

import io
import socket
import sys
from ipaddress import ip_address
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import click

from stash.errors import NotFound

if TYPE_CHECKING:
    from stash.services.open import Store

_ELSEWHERE = ("192.0.2.1", 9)
"""An address that belongs to nobody; asking the system which way it would go sends nothing. Source: RFC 5737."""


def lan_address() -> str:
    """Return this computer's address on the network it would reach others by.

    Raises:
        NotFound: It is on no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
            found = str(probe.getsockname()[0])
        except OSError:
            found = _by_name()
    if not found or ip_address(found).is_loopback or ip_address(found).is_unspecified:
        raise NotFound(
            "This computer is on no network that phones could share",
            "Join one, or name its address yourself with --host.",
        )
    return found


def own_names() -> list[str]:
    """The names other computers may call this one by."""
    name = socket.gethostname().casefold().removesuffix(".local")
    return [name, f"{name}.local"] if name and name != "localhost" else []


def qr_text(address: str) -> str:
    """Return a QR symbol of an address for a terminal, in half blocks; "" where they can't be shown."""
    import qrcode

    symbol = qrcode.QRCode(border=2, error_correction=qrcode.constants.ERROR_CORRECT_L)
    symbol.add_data(_upper(address))
    out = io.StringIO()
    symbol.print_ascii(out=out, invert=True)
    drawn = out.getvalue()
    try:
        drawn.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return ""
    return drawn


def say_labels(store: Store, served: list[str]) -> None:
    """Warn when printed labels lead elsewhere than to where this stash answers.

    Args:
        store: The database.
        served: The addresses it answers at, such as ``http://192.0.2.7:8470/``.
    """
    from stash.services.labels import label_address

    labels = label_address(store)
    if _where(labels) not in {_where(each) for each in served}:
        click.echo(
            f"Labels lead to {labels.lower()}, which is not where this stash answers. If that name does not lead here,"
            " set where new labels lead on the labels page, or serve there with --address and --port."
        )


def _where(address: str) -> tuple[str, int]:
    parts = urlsplit(address.casefold())
    return parts.hostname or "", parts.port or (443 if parts.scheme == "https" else 80)


def _upper(address: str) -> str:
    """An address in capitals, which make a smaller symbol; host names and our root do not mind."""
    return address.upper()


def _by_name() -> str:
    try:
        return socket.gethostbyname(socket.gethostname())
    except OSError:
        return ""
