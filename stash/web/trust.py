"""How a phone comes to trust the certificate this stash made for itself; there where it serves with one."""

from __future__ import annotations

import hashlib

from flask import Blueprint, Response, abort, current_app, render_template

bp = Blueprint("trust", __name__, url_prefix="/trust")


def authority() -> bytes:
    """The authority's certificate as DER, empty where this stash speaks plain HTTP."""
    der: bytes = current_app.config["STASH_AUTHORITY"]
    return der


def fingerprint(der: bytes) -> str:
    """A certificate's SHA-256, in pairs, as phones show it."""
    return ":".join(f"{byte:02X}" for byte in hashlib.sha256(der).digest())


@bp.get("/")
def page() -> str:
    """Explain the warning."""
    return render_template("trust/page.html", fingerprint=fingerprint(authority() or abort(404)))


@bp.get("/stash-authority.crt")
def certificate() -> Response:
    """Send the authority's certificate, never its key."""
    answer = Response(authority() or abort(404), mimetype="application/x-x509-ca-cert")
    answer.headers["Content-Disposition"] = 'attachment; filename="stash-authority.crt"'
    return answer
