"""What every answer says to the browser about what the page may do."""

from __future__ import annotations

from flask import Flask, Response, request

POLICY = (
    "default-src 'none'; "
    "style-src 'self'; "
    "script-src 'self'; "
    "img-src 'self' data: blob:; "
    "font-src 'self'; "
    "connect-src 'self'; "
    "manifest-src 'self'; "
    "form-action 'self'; "
    "base-uri 'none'; "
    "frame-ancestors 'none'; "
)
"""Content security policy. Source: W3C Content Security Policy Level 3; no inline script or style is allowed."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


_OURS = "private, no-cache"
_FOR_GOOD = "public, max-age=31536000, immutable"
"""What stands at an address that changes with it. Source: RFC 9111, and RFC 8246 for immutable."""


def harden(app: Flask) -> None:
    """Put the headers on every answer, and let no shared cache keep a page of the workshop."""

    @app.after_request
    def _headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        said = response.headers.get("Cache-Control", "no-cache")
        if request.endpoint == "static" and request.args.get("v") and response.status_code in {200, 304}:
            response.headers["Cache-Control"] = _FOR_GOOD
        elif said == "no-cache":  # also what is sent as a file says by itself: an export, an archive
            response.headers["Cache-Control"] = _OURS
        return response
