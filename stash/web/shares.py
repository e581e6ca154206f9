"""For the owner: links that show one family or one list, to be given away and revoked."""

from __future__ import annotations

from flask import Blueprint, current_app, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.services import links
from stash.web.access import who
from stash.web.shop import store

bp = Blueprint("shares", __name__, url_prefix="/links")

_DAYS = {"7": 7, "30": 30, "90": 90, "365": 365, "": None}
"""``{what the form sends: days}``; anything else is refused as no day at all."""


@bp.get("/")
def index() -> str:
    """List the links, and offer to make one."""
    return _page()


@bp.post("/")
def make() -> str | tuple[str, int]:
    """Make a link and show it, this once."""
    what, _, target = request.form.get("shows", "").partition(":")
    days = request.form.get("days", "").strip()
    try:
        _, made = links.make(
            store(), what, target, text=request.form.get("note", ""), days=_DAYS.get(days, 0), who=who()
        )
    except InvalidInput as error:
        return _page(problem=f"{error.message}. {error.hint}"), 400
    base = current_app.config["STASH_BASE_URL"] or request.host_url.rstrip("/")
    return _page(made=base + url_for("shared.page", token=made))


@bp.post("/<int:number>/revoke")
def revoke(number: int) -> Response:
    """Make a link show nothing any more."""
    links.revoke(store(), number, who=who())
    flash("That link shows nothing any more.")
    return redirect(url_for("shares.index"), 303)


def _page(*, made: str = "", problem: str = "") -> str:
    families = sorted(store().catalogue().families, key=lambda family: family.name)
    return render_template(
        "shares/index.html",
        links=links.links(store()),
        shown=links.SHOWN,
        families=families,
        made=made,
        problem=problem,
    )
