"""The application for a WSGI server of one's own, such as gunicorn behind a web server that speaks HTTPS.

    STASH_DB=postgresql://club@db.local/stash
    STASH_ADDRESS=https://stash.club.local
    gunicorn --workers 1 --threads 8 --bind 127.0.0.1:8470 'stash.web.wsgi:application()'

One process with several threads: plans that are being worked out live in it.
"""

from __future__ import annotations

import os

from flask import Flask

from stash.errors import InvalidInput
from stash.services.accounts import any_owner
from stash.services.labels import web_address
from stash.services.open import open_stash
from stash.services.own_files import seal
from stash.web.app import create_app


def application() -> Flask:
    """Open the database that ``STASH_DB`` names and build the application over it.

    ``STASH_ADDRESS`` is the address people and labels use.

    Raises:
        InvalidInput: ``STASH_ADDRESS`` is missing, or no owner has an account: a server may be reached from anywhere.
        StorageError: The database can't be opened.
    """
    address = os.environ.get("STASH_ADDRESS", "")
    if not address:
        raise InvalidInput(
            "STASH_ADDRESS does not say where people find this stash", "Set it, such as https://stash.club.local."
        )
    address = web_address(address)
    store = open_stash(os.environ.get("STASH_DB") or None, make=False)
    if not any_owner(store):
        store.close()
        raise InvalidInput(
            "No owner has an account, and a server can be reached by others",
            "Make one with `stash accounts --add NAME`.",
        )
    return create_app(store, secret_key=seal(), base_url=address, secure=address.startswith("https://"))
