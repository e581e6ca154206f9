"""The open store of the application that answers."""

from __future__ import annotations

from flask import current_app

from stash.services.open import Store


def store() -> Store:
    """The database this application was made for."""
    found: Store = current_app.extensions["stash_store"]
    return found
