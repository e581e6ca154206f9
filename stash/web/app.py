"""The application factory."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable
from functools import lru_cache
from importlib import import_module, resources

from flask import Flask, url_for
from flask_wtf.csrf import CSRFProtect
from jinja2 import PackageLoader, StrictUndefined

from stash.services.open import Store
from stash.web import access, faults, headers, hosts, links, names, plain_text, row_names, trust, words

UPLOAD_BYTES = 64 * 1024 * 1024
"""Largest upload. Source: project decision; a workbook of 100,000 rows has about 10 MB."""


NOUNS = (
    "home",
    "find",
    "scan",
    "machines",
    "machine_acts",
    "trying",
    "lots",
    "lot_acts",
    "places",
    "counts",
    "shelf",
    "identify",
    "catalogue",
    "designs",
    "models",
    "rules",
    "mates",
    "making",
    "wallcharts",
    "muster",
    "photos",
    "charts",
    "gaps",
    "builds",
    "plans",
    "sums",
    "labels",
    "ledger",
    "tables",
    "accounts",
    "audit",
    "shares",
    "shared",
    "trust",
    "shelf_lists",
    "sharing",
    "listing",
)
"""The modules with a blueprint ``bp``, in the order of their addresses."""


def create_app(
    store: Store,
    *,
    secret_key: str | bytes,
    base_url: str = "",
    served_as: Iterable[str] = (),
    secure: bool = False,
    authority: bytes = b"",
) -> Flask:
    """Build the application over an open store.

    Args:
        store: The database.
        secret_key: Seals sessions and forms; keep it from one start to the next, or open forms are refused.
        base_url: The address that labels carry, such as ``http://stash.local``; "" takes the one a page is asked at.
        served_as: More names it is served under, beside those of this computer, of the labels and of ``base_url``.
        secure: Browsers reach it by HTTPS: they send the cookie no other way.
        authority: The DER certificate of the authority phones are to trust, where it speaks TLS by itself.

    Returns:
        The application; a WSGI server runs it.
    """
    app = Flask(__name__, static_folder="static", template_folder=None)
    app.jinja_options = {"loader": PackageLoader("templates", ""), "undefined": StrictUndefined}
    app.config.update(
        SECRET_KEY=secret_key,
        STASH_BASE_URL=base_url.rstrip("/"),
        STASH_AUTHORITY=authority,
        SESSION_COOKIE_NAME="__Host-stash" if secure else "stash",
        SESSION_COOKIE_SECURE=secure,
        **_SETTINGS,
    )
    app.extensions["stash_store"] = store
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(asset=_asset, authority=trust.authority)
    hosts.watch(app, [base_url, *served_as])
    access.guard(app)
    CSRFProtect(app)  # after the guard: nothing is read from whoever may not come in
    plain_text.watch(app)
    for room in (words, links, names, row_names):
        room.teach(app)
    headers.harden(app)
    faults.explain(app)
    _register(app)
    return app


_SETTINGS = {
    "MAX_CONTENT_LENGTH": UPLOAD_BYTES,
    "MAX_FORM_MEMORY_SIZE": 4 * 1024 * 1024,
    "PERMANENT_SESSION_LIFETIME": dt.timedelta(days=90),
    "SESSION_COOKIE_HTTPONLY": True,
    "SESSION_COOKIE_SAMESITE": "Lax",
    "TEMPLATES_AUTO_RELOAD": False,
    "WTF_CSRF_TIME_LIMIT": None,
    "WTF_CSRF_SSL_STRICT": True,
}
"""What is the same however it is served."""


def _register(app: Flask) -> None:
    for noun in NOUNS:
        app.register_blueprint(import_module(f"stash.web.{noun}").bp)


def _asset(name: str) -> str:
    """The address of a static file, which changes with its contents, so that browsers may keep it for good."""
    return url_for("static", filename=name, v=_print(name))


@lru_cache
def _print(name: str) -> str:
    data = resources.files("stash.web").joinpath("static", name).read_bytes()
    return hashlib.sha256(data).hexdigest()[:10]
