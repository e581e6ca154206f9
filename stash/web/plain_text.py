"""Texts that no field, search or address may hold, refused before anything looks at them."""

from __future__ import annotations

from flask import Flask, abort, request

_NUL = "\0"


def watch(app: Flask) -> None:
    """Refuse the character that databases, files and spreadsheets can't hold, wherever it was typed."""
    app.before_request(_look)


def _look() -> None:
    texts = [
        request.path,
        *(text for part in (request.args, request.form) for pair in part.items(multi=True) for text in pair),
    ]
    if any(_NUL in text for text in texts):
        abort(400, "Something typed holds a character that can't be kept")
