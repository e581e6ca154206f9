"""Who is at the bench: roles, signing in, and whose name goes into the ledger.

Without passwords everybody is the owner; whoever starts the server sees to it that this happens on loopback only.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import Blueprint, Flask, abort, current_app, g, redirect, render_template, request, session, url_for
from werkzeug.security import check_password_hash
from werkzeug.wrappers import Response

from stash.web.links import within

ROLES = ("owner", "helper", "guest")
"""From everything to reading only."""

OWNER_ONLY = frozenset({"tables.load", "home.begin", "catalogue.remove"})
"""Endpoints whose forms only the owner may send."""

_OPEN = frozenset({"static", "access.sign_in"})
_TRIES, _WINDOW_S = 10, 60.0

bp = Blueprint("access", __name__)


@dataclass
class Door:
    """The passwords and who knocked lately.

    Args:
        hashes: ``{role: password hash}`` as werkzeug writes them; empty leaves the door open.
        knocks: Times of failed attempts.
    """

    hashes: Mapping[str, str]
    knocks: deque[float] = field(default_factory=deque)

    def role_for(self, password: str) -> str | None:
        """Return the role a password opens, None for none."""
        for role in ROLES:
            if role in self.hashes and check_password_hash(self.hashes[role], password):
                return role
        return None

    def crowded(self, now: float) -> bool:
        """Tell whether there were too many failed attempts within the last minute."""
        while self.knocks and now - self.knocks[0] > _WINDOW_S:
            self.knocks.popleft()
        return len(self.knocks) >= _TRIES


def guard(app: Flask, hashes: Mapping[str, str]) -> None:
    """Ask for a password where there is one, and let guests read only."""
    app.extensions["stash_door"] = Door(dict(hashes))
    app.register_blueprint(bp)
    app.before_request(_who_is_it)


def who() -> str:
    """The name that goes into the ledger."""
    return str(g.get("who") or "owner")


def signed_in() -> bool:
    """Tell whether the person came in with a password."""
    return "role" in session


def may_change() -> bool:
    """Tell whether the person may send forms."""
    return bool(g.get("role", "owner") != "guest")


def _who_is_it() -> Response | None:
    door: Door = current_app.extensions["stash_door"]
    if not door.hashes and not _here(request.host):
        abort(403, "Without a password this stash only answers this very computer")
    if not door.hashes:
        g.role, g.who = "owner", str(session.get("who") or "owner")
        return None
    if request.endpoint in _OPEN:
        return None
    role = session.get("role")
    if role not in door.hashes:
        return redirect(
            url_for("access.sign_in", then=request.full_path.rstrip("?") if request.method == "GET" else "/")
        )
    g.role, g.who = role, str(session.get("who") or role)
    owner_only = request.endpoint in OWNER_ONLY and role != "owner"
    if (
        request.method not in {"GET", "HEAD"}
        and request.endpoint != "access.sign_out"
        and (role == "guest" or owner_only)
    ):
        abort(403, "Guests may look but not change" if role == "guest" else "Only the owner may do this")
    return None


def _here(host: str) -> bool:
    """Tell whether a page was asked for under a name that only this computer has.

    Another site can make its own name lead to this computer and would then share our origin; it can't choose the name.
    """
    name = (urlsplit(f"//{host}").hostname or "").casefold()
    try:
        return ip_address(name).is_loopback
    except ValueError:
        return name == "localhost" or name.endswith(".localhost")


@bp.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> Response | str | tuple[str, int]:
    """Ask for the password."""
    door: Door = current_app.extensions["stash_door"]
    onward = within(request.values.get("then", "/"), "/")
    name = request.form.get("who", "").strip()[:60]
    if request.method != "POST":
        return render_template("access/sign_in.html", then=onward, name=name, problem="")
    if door.crowded(time.monotonic()):
        problem = "Too many wrong passwords. Wait a minute and try again."
        return render_template("access/sign_in.html", then=onward, name=name, problem=problem), 429
    role = door.role_for(request.form.get("password", ""))
    if role is None:
        door.knocks.append(time.monotonic())
        problem = "That is not a password of this stash. Mind capitals and keyboard layout."
        return render_template("access/sign_in.html", then=onward, name=name, problem=problem), 400
    session.clear()
    session.update(role=role, who=name or role)
    session.permanent = True
    return redirect(onward, 303)


@bp.post("/sign-out")
def sign_out() -> Response:
    """Leave."""
    session.clear()
    return redirect("/", 303)
