"""The ledger: what happened, by whom, and taking it back."""

from __future__ import annotations

import datetime as dt

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.services import history
from stash.services.find import thing
from stash.web.access import who
from stash.web.links import address, within
from stash.web.shop import store

bp = Blueprint("ledger", __name__, url_prefix="/ledger")

_STEP, _MOST = 40, 120


@bp.get("/")
def index() -> str:
    """Show what happened, newest first, of everything, a day, a lot, a place or a machine."""
    kept = {name: request.args.get(name, "") for name in ("lot", "place", "machine")}
    day_text = request.args.get("day", "")
    try:
        day = dt.date.fromisoformat(day_text) if day_text else None
    except ValueError:
        day = None
    limit = _limit()
    lines = history.history(
        store(), lot=kept["lot"], place=kept["place"], machine=kept["machine"], day=day, limit=limit + 1
    )
    code = next(filter(None, kept.values()), "")
    about = thing(store().catalogue(), store().stock(), code) if code else None
    older = {**kept, "day": day_text, "limit": limit + _STEP}
    more = address("ledger.index", older) if limit < len(lines) and limit < _MOST else ""
    return render_template(
        "ledger/index.html",
        lines=lines[:limit],
        older=len(lines) > limit >= _MOST,
        about=about,
        day=day,
        more=more,
        kept=kept,
    )


@bp.post("/<int:batch>/undo")
def undo(batch: int) -> Response:
    """Take one act back; that can itself be taken back."""
    flash(history.undo(store(), batch, who=who()).said)
    return redirect(within(request.form.get("then", ""), url_for("ledger.index")), 303)


def _limit() -> int:
    text = request.args.get("limit", "")
    return min(int(text), _MOST) if text.isdigit() and int(text) > 0 else _STEP
