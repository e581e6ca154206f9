"""For the owner: who changed what from where, and what went on at the door."""

from __future__ import annotations

import datetime as dt

from flask import Blueprint, render_template, request, url_for

from stash.services import audit as service
from stash.web.shop import store

bp = Blueprint("audit", __name__, url_prefix="/audit")

_SHOWN = 60

TITLES = {
    "changes": "Changes",
    "sign_ins": "Signing in and out",
    "failures": "Wrong passwords",
    "accounts": "Accounts",
    "links": "Shared links",
}


@bp.get("/")
def index() -> str:
    """Show what happened, newest first."""
    group, person = request.args.get("group", ""), request.args.get("who", "").strip()
    entries = service.audit(store(), group=group, who=person, before=_before(), limit=_SHOWN + 1)
    shown = entries[:_SHOWN]
    older = ""
    if len(entries) > _SHOWN:
        older = url_for("audit.index", group=group, who=person, before=shown[-1].at.isoformat())
    return render_template("audit/index.html", entries=shown, group=group, person=person, titles=TITLES, older=older)


def _before() -> dt.datetime | None:
    """From when on backwards; what is no moment is left out."""
    try:
        moment = dt.datetime.fromisoformat(request.args.get("before", ""))
    except ValueError:
        return None
    return moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
