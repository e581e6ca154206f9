"""Errors as pages: what is wrong, where, how to mend it, and everything the person typed."""

from __future__ import annotations

import logging
from urllib.parse import urlsplit

from flask import Flask, render_template, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from stash.errors import Conflict, InvalidInput, NotFound, StashError, StorageError

log = logging.getLogger(__name__)

_STATUS: tuple[tuple[type[StashError], int, str], ...] = (
    (NotFound, 404, "Not here"),
    (Conflict, 409, "Not possible as things stand"),
    (InvalidInput, 400, "That can't be taken as it is"),
    (StorageError, 503, "The database would not do it"),
)
_ORDINARY = {
    403: ("Not allowed", "", "Ask the owner of this stash for a role that may do this."),
    404: ("Not here", "Nothing in this stash has that address", "Type a code, a number or a word in the box above."),
    405: (
        "This address only answers a form",
        "Nothing was sent with it, so nothing was changed",
        "Go back and use the button there.",
    ),
    413: (
        "That file is too big",
        "",
        "Send it in parts: a table at a time loads just as well, and so do a few photos.",
    ),
}
_SERVER_FAULT = 500
_KEPT_BACK = frozenset({"csrf_token", "password", "old", "again", "version", "then", "do"})
"""Fields that are not shown again: seals, what only the page needs, and every field of a password."""


def explain(app: Flask) -> None:
    """Translate every error into a page, once."""
    app.register_error_handler(StashError, _stash_error)
    app.register_error_handler(CSRFError, _stale_form)
    app.register_error_handler(HTTPException, _http_error)
    app.register_error_handler(Exception, _unexpected)


def page(status: int, title: str, message: str, hint: str = "", **more: object) -> tuple[str, int]:
    """Draw the page of an error."""
    told = {"title": title, "message": message, "hint": hint, "typed": _typed(), "back": _back()}
    return render_template("errors/fault.html", **told, **more), status


def _typed() -> list[tuple[str, str]]:
    """What the person sent, but for secrets and seals; nothing where it was too big to be read."""
    try:
        sent = list(request.form.items(multi=True))
    except RequestEntityTooLarge:
        return []
    return [(name, text) for name, text in sent if text.strip() and name not in _KEPT_BACK]


def _stash_error(error: StashError) -> tuple[str, int]:
    status, title = next(
        ((status, title) for kind, status, title in _STATUS if isinstance(error, kind)),
        (_SERVER_FAULT, "Something is not right"),
    )
    problems = error.problems if isinstance(error, InvalidInput) else ()
    return page(status, title, error.message, error.hint, problems=problems)


def _stale_form(error: CSRFError) -> tuple[str, int]:
    log.info("refused form at %s: %s", request.path, error.description)
    return page(
        400,
        "This form was not sent from here",
        "The form's seal is missing or belongs to another visit, so nothing was changed",
        "Open the form again and copy your words from below.",
    )


def _http_error(error: HTTPException) -> tuple[str, int] | HTTPException:
    if error.code is None or error.code < 400:  # noqa: PLR2004 - redirects are not errors
        return error
    title, message, hint = _ORDINARY.get(error.code, ("That did not work", "", "Go back and try again."))
    return page(error.code, title, message or error.description or title, hint)


def _unexpected(error: Exception) -> tuple[str, int]:
    log.error("unexpected error at %s", request.path, exc_info=error)
    return page(
        _SERVER_FAULT,
        "Our mistake",
        "The program met something it did not expect, and changed nothing",
        "Try again; if it comes back, tell whoever looks after this stash what you did. The log has the details.",
    )


def _back() -> str:
    came = urlsplit(request.referrer or "")
    return (came.path or "/") + (f"?{came.query}" if came.query else "") if came.netloc == request.host else "/"
