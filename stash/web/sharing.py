"""Knowledge handed from one stash to another: chosen and downloaded, or sent, looked at and taken in."""

from __future__ import annotations

import datetime as dt
import io
import re
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.kernel.tables import TABLE_BY_NAME
from stash.services import bundles, page_rows
from stash.services.bundle_merge import CLAIMS
from stash.web import uploads
from stash.web.access import who
from stash.web.shop import store

bp = Blueprint("sharing", __name__, url_prefix="/sheets/sharing")

_OFFERED = 300
_SHOWN = 100
_LONGEST_NAME = 100
_PICKS = ("families", "kinds", "mates", "rules", "designs")


@bp.get("/")
def index() -> str:
    """Offer what can be shared, and to look at what a friend shared."""
    offers = {name: page_rows.options(store(), name, most=_OFFERED) for name in _PICKS}
    return render_template("sharing/index.html", offers=offers, most=_OFFERED, me=who())


@bp.get("/bundle.zip")
def bundle() -> Response:
    """Send what was chosen with all it leans on, or the whole catalogue where nothing was."""
    keys = {name: _keys(name) for name in _PICKS}
    by = request.args.get("by", "").strip()[:_LONGEST_NAME] or who()
    now = dt.datetime.now(dt.UTC)
    data = io.BytesIO(bundles.bundle(store(), bundles.Pick(**keys), by=by, now=now))
    name = f"stash-shared-{now:%Y-%m-%d}.zip"
    return send_file(data, mimetype="application/zip", as_attachment=True, download_name=name)


def _keys(name: str) -> tuple[str, ...]:
    """The keys ticked or typed, each once."""
    typed = re.split(r"[\s,;]+", request.args.get(f"{name}-typed", ""))
    return tuple(dict.fromkeys(key for key in (*request.args.getlist(name), *typed) if key))


@bp.post("/")
def receive() -> Response:
    """Keep what a friend sent, once it can be read."""
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        raise InvalidInput("No file was chosen", "Choose the zip your friend shared.")
    said = _said()
    name, data = uploads.plain(sent.filename), sent.read()
    bundles.compare(store(), name, data, _picked(said))
    ticket = uploads.keep(name, data)
    uploads.note(ticket, said)
    return redirect(url_for(".page", ticket=ticket), 303)


@bp.get("/<ticket>")
def page(ticket: str) -> str:
    """Show what a bundle adds, where it contradicts what is here, and which verdicts would change."""
    name, data = uploads.fetch(ticket)
    said = uploads.noted(ticket)
    found = bundles.compare(store(), name, data, _picked(said))
    differ = sorted({each.table for each in found.contradictions} - {"rules"})
    return render_template(
        "sharing/page.html", ticket=ticket, found=found, said=said, differ=differ, claims=CLAIMS, most=_SHOWN
    )


@bp.post("/<ticket>/choice")
def choice(ticket: str) -> Response:
    """Keep how it is to be taken in, and show what that would do."""
    uploads.note(ticket, _said())
    return redirect(url_for(".page", ticket=ticket), 303)


@bp.post("/<ticket>/accept")
def accept(ticket: str) -> Response:
    """Take it in, as one entry of the history."""
    name, data = uploads.fetch(ticket)
    picked = _picked(uploads.noted(ticket))
    done = bundles.take(store(), name, data, picked, who())
    uploads.drop(ticket)
    flash(f"What {picked.whose} shared is in: {done.said} The ledger can take it back.")
    return redirect(url_for("ledger.index") if done.batch else url_for(".index"), 303)


def _said() -> dict[str, Any]:
    whose = request.form.get("whose", "").strip()[:_LONGEST_NAME]
    if not whose:
        raise InvalidInput("It does not say who shared it", "Say whose word it is: claims without a source get it.")
    theirs = [table for table in request.form.getlist("theirs") if table in TABLE_BY_NAME]
    return {"whose": whose, "theirs": theirs, "hearsay": request.form.get("hearsay") == "yes"}


def _picked(said: dict[str, Any]) -> bundles.Picked:
    return bundles.Picked(said["whose"], tuple(said["theirs"]), said["hearsay"])
