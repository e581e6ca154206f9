"""Who is at the bench: signing in, whose name goes into the ledger, and what they may do.

While nobody has an account everybody is the owner, and only this computer is answered.
"""

from __future__ import annotations

from flask import Blueprint, Flask, abort, flash, g, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.services import accounts, audit, door
from stash.services.accounts import Person
from stash.web import rights
from stash.web.links import within
from stash.web.shop import store

_TOKEN = "token"  # noqa: S105 - its name, not the token
_FIRST_NAME = "owner"
"""What the ledger calls whoever works while nobody has an account."""

_REFUSED = {"guest": "Guests may look but not change", "helper": "Only the owner may do this"}

bp = Blueprint("access", __name__)


def guard(app: Flask) -> None:
    """Ask who it is where there are accounts, and let everybody do what their role may."""
    app.register_blueprint(bp)
    app.before_request(_who_is_it)
    app.jinja_env.globals.update(may_change=may_change, is_owner=is_owner, who=who, signed_in=signed_in)
    app.jinja_env.globals.update(in_vain=in_vain)


def who() -> str:
    """The name that goes into the ledger; "" for whoever has not said who they are."""
    return str(g.get("who") or "")


def person() -> Person | None:
    """Whoever is signed in, None where nobody needs to."""
    found: Person | None = g.get("person")
    return found


def token() -> str:
    """What the browser that is signed in holds; "" for none."""
    return str(session.get(_TOKEN) or "")


def signed_in() -> bool:
    """Tell whether the person came in with a password."""
    return person() is not None


def may_change() -> bool:
    """Tell whether the person may send forms."""
    return bool(g.get("role", "guest") != "guest")


def in_vain() -> str:
    """Why the page asked for is a form that the person may not send; "" where it is none, or they may."""
    rule, role = request.url_rule, g.get("role", "guest")
    if request.method != "GET" or rule is None or not rights.in_vain(request.endpoint, rule.methods or (), role):
        return ""
    return _REFUSED[role]


def is_owner() -> bool:
    """Tell whether the person may do everything."""
    return bool(g.get("role") == "owner")


def _who_is_it() -> Response | None:
    audit.coming_from(request.remote_addr)
    if request.endpoint in rights.OPEN:
        return None
    found = door.look(store(), session.get(_TOKEN))
    if found is None and not accounts.any_account(store()):
        g.role, g.who, g.person = "owner", _FIRST_NAME, None
        return None
    if found is None:
        onward = request.full_path.rstrip("?") if request.method == "GET" else "/"
        return redirect(url_for("access.sign_in", then=onward))
    g.role, g.who, g.person = found.role, found.name, found
    if not rights.allowed(request.endpoint, request.method, found.role):
        abort(403, _REFUSED["helper" if request.endpoint in rights.OWNER else found.role])
    return None


@bp.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> Response | str | tuple[str, int]:
    """Ask for name and password; whatever the browser held before is worth nothing afterwards."""
    onward = within(request.values.get("then", "/"), "/")
    name = request.form.get("name", "").strip()[: accounts.LONGEST_NAME]
    if request.method != "POST":
        return render_template("access/sign_in.html", then=onward, name=name, problem="")
    try:
        entered = door.sign_in(
            store(),
            name,
            request.form.get("password", ""),
            address=request.remote_addr or "",
            browser=request.user_agent.string,
        )
    except InvalidInput as error:
        told = f"{error.message}. {error.hint}"
        status = 429 if isinstance(error, door.Wait) else 400
        return render_template("access/sign_in.html", then=onward, name=name, problem=told), status
    session.clear()
    session[_TOKEN] = entered.token
    session.permanent = True
    return redirect(onward, 303)


@bp.post("/sign-out")
def sign_out() -> Response:
    """Leave."""
    door.sign_out(store(), token(), who=who())
    session.clear()
    flash("You are signed out.")
    return redirect(url_for("access.sign_in"), 303)
