"""The one box: a code, a part number, a word or a scan."""

from __future__ import annotations

from itertools import groupby

from flask import Blueprint, jsonify, redirect, render_template, request
from werkzeug.wrappers import Response

from stash.kernel.tables import TABLE_BY_NAME
from stash.services import find as finding
from stash.services import page_rows
from stash.web.links import address_of
from stash.web.shop import store

bp = Blueprint("find", __name__)

_LONGEST = 300
_SUGGESTED = 20
_HEADINGS = {
    "lot": "Loose parts",
    "machine": "Machines",
    "place": "Bins",
    "design": "Designs",
    "model": "Models",
    "build": "Builds",
    "kind": "Kinds of part",
}


@bp.get("/find")
def index() -> Response | str:
    """Look for what was typed; a sure hit goes straight to its page."""
    asked = request.args.get("q", "").strip()[:_LONGEST]
    hits = finding.find(store(), asked) if asked else ()
    sure = [hit for hit in hits if hit.sure]
    if len(sure) == 1:
        return redirect(address_of(sure[0].type, sure[0].code), 303)
    order = list(_HEADINGS)
    ranked = sorted(hits, key=lambda hit: (not hit.sure, order.index(hit.type)))
    groups = [
        ("One of these" if key[0] else _HEADINGS[key[1]], list(found))
        for key, found in groupby(ranked, key=lambda hit: (hit.sure, "" if hit.sure else hit.type))
    ]
    code = finding.scanned_code(asked) if asked else None
    return render_template("find/index.html", asked=asked, groups=groups, total=len(hits), most=finding.MOST, code=code)


@bp.get("/find/rows/<table>")
def suggest(table: str) -> Response:
    """Offer rows of a table for a field, as ``[[key, text], ...]``."""
    asked = request.args.get("q", "").strip()[:_LONGEST]
    found = page_rows.options(store(), table, words=asked, most=_SUGGESTED) if table in TABLE_BY_NAME else []
    return jsonify(found[:_SUGGESTED])
