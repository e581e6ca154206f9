"""Lists for people: which list, which columns, which rows, looked at and taken home in the form a friend can open."""

from __future__ import annotations

import datetime as dt
import io
from itertools import islice

from flask import Blueprint, abort, render_template, request, send_file
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.services import people_lists as lists
from stash.web.shop import store

bp = Blueprint("listing", __name__, url_prefix="/sheets/lists")

_LOOKED_AT = 25
_FILTER = "has-"
_TYPES = {
    ".csv": "text/csv",
    ".json": "application/json",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".pdf": "application/pdf",
}


@bp.get("/")
def index() -> str:
    """Offer the lists."""
    about = {what: (title, said) for what, (title, said, _) in lists.LISTS.items()}
    return render_template("listing/index.html", lists=about)


@bp.get("/<what>")
def page(what: str) -> str:
    """Choose a list's columns and rows, and look at its beginning."""
    _known(what)
    wish = _wish()
    listing = lists.make(store(), what, wish)
    shown = [at for at, heading in enumerate(listing.headings) if heading.type != "picture"]
    rows = list(islice(listing.rows, _LOOKED_AT + 1))
    texts = [[lists.shown(listing.headings[at], row[at]) for at in shown] for row in rows]
    return render_template(
        "listing/page.html",
        what=what,
        title=lists.LISTS[what][0],
        about=lists.LISTS[what][1],
        listing=listing,
        headings=[listing.headings[at] for at in shown],
        chosen={heading.key for heading in listing.headings},
        wish=wish,
        rows=texts[:_LOOKED_AT],
        more=len(rows) > _LOOKED_AT,
        endings=lists.ENDINGS,
        filter=_FILTER,
    )


@bp.get("/<what>/file")
def file(what: str) -> Response:
    """Send a list."""
    _known(what)
    ending = request.args.get("as", "")
    if ending not in _TYPES:
        raise InvalidInput(f"{ending or 'No ending'} is no form a list comes in", f"Use one of {', '.join(_TYPES)}.")
    data = io.BytesIO(lists.render(lists.make(store(), what, _wish()), ending))
    name = f"stash-{what}-{dt.datetime.now(dt.UTC):%Y-%m-%d}{ending}"
    return send_file(data, mimetype=_TYPES[ending], as_attachment=True, download_name=name)


def _known(what: str) -> None:
    if what not in lists.LISTS:
        abort(404)


def _wish() -> lists.Wish:
    where = {
        name.removeprefix(_FILTER): words.strip()
        for name, words in request.args.items()
        if name.startswith(_FILTER) and words.strip()
    }
    return lists.Wish(tuple(request.args.getlist("column")), where, request.args.get("all") == "yes")
