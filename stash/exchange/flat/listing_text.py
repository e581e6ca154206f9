"""Lists as CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
from decimal import Decimal
from typing import Any

from stash.exchange.csv_text import guard
from stash.exchange.flat.listing import Heading, Listing, Value, shown
from stash.kernel.exact import decimal_text, money_text


def render_csv(listing: Listing) -> bytes:
    """Return a list as RFC 4180 CSV in UTF-8 with a mark of its encoding; texts that look like formulas are inert.

    The mark is there because spreadsheet programs otherwise take the bytes for the system's own encoding.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    kept = [at for at, heading in enumerate(listing.headings) if heading.type != "picture"]
    writer.writerow([guard(listing.headings[at].name) for at in kept])
    writer.writerows([guard(shown(listing.headings[at], row[at])) for at in kept] for row in listing.rows)
    return out.getvalue().encode("utf-8-sig")


def render_json(listing: Listing) -> bytes:
    """Return a list as one JSON array of objects by the headings' keys; amounts and decimals are exact texts."""
    kept = [(at, heading) for at, heading in enumerate(listing.headings) if heading.type != "picture"]
    lines = (
        json.dumps({heading.key: _plain(heading, row[at]) for at, heading in kept}, ensure_ascii=False)
        for row in listing.rows
    )
    return ("[\n" + ",\n".join(lines) + "\n]\n").encode()


def _plain(heading: Heading, value: Value) -> Any:
    if value is None or isinstance(value, bytes):
        return None
    if isinstance(value, tuple):
        return list(value)
    if heading.type == "money" and isinstance(value, int):
        return money_text(value)
    if isinstance(value, Decimal):
        return decimal_text(value)
    return value if isinstance(value, (str, int)) else value.isoformat()
