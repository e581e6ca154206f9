"""Lists for people: a title, headings and rows of typed values, rendered as .csv, .json or .xlsx.

Rows may be a generator: they are taken one at a time.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

from stash.errors import InvalidInput
from stash.kernel.exact import decimal_text, money_text

Value = str | int | Decimal | dt.date | tuple[str, ...] | bytes | None
"""A cell: text, whole number (minor units where its heading says money), decimal, day, several texts, or a JPEG."""

ENDINGS = (".csv", ".json", ".xlsx")
TYPES = ("text", "whole", "number", "money", "date", "texts", "picture")


@dataclass(frozen=True, slots=True)
class Heading:
    """One column.

    Args:
        key: What it is called in JSON and when chosen.
        name: What people call it.
        type: One of ``TYPES``.
        wide: How many characters it wants; more are wrapped.
        total: Its sum stands below the rows.
    """

    key: str
    name: str
    type: str = "text"
    wide: int = 14
    total: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """A list.

    Args:
        title: What it is.
        headings: Its columns.
        rows: As many values as headings each.
        notes: What to say above it, a line each.
        choice: Every column it could have, for choosing among them.
    """

    title: str
    headings: tuple[Heading, ...]
    rows: Iterable[tuple[Value, ...]]
    notes: tuple[str, ...] = ()
    choice: tuple[Heading, ...] = ()


def shown(heading: Heading, value: Value) -> str:
    """Return a value as text, "" for none; a picture has no text."""
    if value is None or isinstance(value, bytes):
        return ""
    if isinstance(value, tuple):
        return "; ".join(value)
    if heading.type == "money" and isinstance(value, int):
        return money_text(value)
    if isinstance(value, Decimal):
        return decimal_text(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return str(value)


def render(listing: Listing, ending: str) -> bytes:
    """Return a list's bytes.

    Args:
        listing: The list; its rows are used up where they are a generator.
        ending: One of ``ENDINGS``.

    Raises:
        InvalidInput: The ending is another one.
    """
    renderers = _renderers()
    if ending not in renderers:
        raise InvalidInput(f"{ending or 'No ending'} is no form a list comes in", f"Use one of: {', '.join(ENDINGS)}.")
    return renderers[ending](listing)


def _renderers() -> dict[str, Callable[[Listing], bytes]]:
    from stash.exchange.flat.listing_text import render_csv, render_json
    from stash.exchange.flat.listing_xlsx import render_xlsx

    return {".csv": render_csv, ".json": render_json, ".xlsx": render_xlsx}
