"""Under which names this stash answers.

Another site can make a name of its own lead to this computer and would then share our origin; it can't choose a name
that is ours, nor a bare address.
"""

from __future__ import annotations

from collections.abc import Iterable
from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import Flask, current_app, request

from stash.services import accounts, labels
from stash.web.shop import store


def watch(app: Flask, names: Iterable[str]) -> None:
    """Refuse what is asked for under another name.

    Args:
        app: The application.
        names: The names it is served under, beside those of this very computer and the one on its labels.
    """
    app.extensions["stash_names"] = frozenset(filter(None, (host_of(name) for name in names)))
    app.before_request(_is_ours)


def host_of(address: str) -> str:
    """Return the host in an address or in what stands for one, in lower case; "" where there is none."""
    try:
        host = urlsplit(address if "//" in address else f"//{address}").hostname or ""
    except ValueError:
        return ""
    return host.casefold().rstrip(".")


def is_here(host: str) -> bool:
    """Tell whether only this computer has a name."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")


def _is_ours() -> tuple[str, int, dict[str, str]] | None:
    host = host_of(request.headers.get("Host", ""))
    near = is_here(host)
    if not near and not _known(host):
        return _refused("This stash is not served under that name.")
    if not (near and is_here(request.remote_addr or "")) and not accounts.any_account(store()):
        return _refused("Without an account this stash only answers this very computer.")
    return None


def _refused(said: str) -> tuple[str, int, dict[str, str]]:
    """A bare answer: whoever asks is not in yet."""
    return said, 403, {"Content-Type": "text/plain; charset=utf-8"}


def _known(host: str) -> bool:
    """Ours is what the server was told, the very address a request came in at, and what labels say."""
    if host in current_app.extensions["stash_names"] or host == str(request.environ.get("SERVER_NAME", "")).casefold():
        return bool(host)
    return bool(host) and host == host_of(labels.label_address(store()))
