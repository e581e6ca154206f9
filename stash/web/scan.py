"""What a label's address answers: straight to the thing the code is stuck on."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from stash.kernel.codes import parse_code
from stash.services import find
from stash.web.links import address_of
from stash.web.shop import store

bp = Blueprint("scan", __name__)


@bp.get("/q/<code>")
@bp.get("/Q/<code>")
def code(code: str) -> Response | tuple[str, int]:
    """Answer a scan, in any case of the path and the code."""
    parsed = parse_code(code)
    hit = find.thing(store().catalogue(), store().stock(), parsed) if parsed else None
    if hit is not None:
        return redirect(address_of(hit.type, hit.code), 302)
    return render_template("scan/unknown.html", asked=code, code=parsed), 404
