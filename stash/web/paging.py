"""Which page of a list is asked for."""

from __future__ import annotations

from flask import request

_LONGEST = 6


def page_number() -> int:
    """The page asked for, 1 where none or nonsense is."""
    text = request.args.get("page", "1")
    return int(text) if text.isdigit() and len(text) <= _LONGEST else 1
