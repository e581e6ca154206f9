"""Who may come in: one's own sign-ins, and for the owner everybody's accounts."""

from __future__ import annotations

from flask import Blueprint, abort, flash, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput, StashError
from stash.services import accounts as service
from stash.services import door
from stash.services.accounts import Person
from stash.services.passwords import SHORTEST
from stash.web.access import person, token, who
from stash.web.shop import store

bp = Blueprint("accounts", __name__, url_prefix="/accounts")


@bp.get("/")
def index() -> str:
    """List the accounts, and offer to add one."""
    return _listed({}, "")


@bp.post("/")
def add() -> Response | tuple[str, int]:
    """Add an account."""
    sent = {name: request.form.get(name, "") for name in ("name", "role")}
    try:
        added = service.add(store(), sent["name"], sent["role"], _twice(), who=who())
    except StashError as error:
        return _listed(sent, _sentence(error)), 400
    flash(f"{added.name} may sign in as {added.role}." + ("" if person() else " So must you from now on."))
    return redirect(url_for("accounts.index"), 303)


@bp.get("/<int:number>")
def page(number: int) -> str:
    """Show one account."""
    return render_template("accounts/page.html", one=_person(number), roles=service.ROLES, problem="", least=SHORTEST)


@bp.post("/<int:number>/role")
def role(number: int) -> Response:
    """Give it another role."""
    changed = service.set_role(store(), _person(number).name, request.form.get("role", ""), who=who())
    flash(f"{changed.name} is {changed.role} now.")
    return redirect(url_for("accounts.index"), 303)


@bp.post("/<int:number>/password")
def password(number: int) -> Response | tuple[str, int]:
    """Give it another password, for somebody who forgot theirs."""
    one = _person(number)
    try:
        service.set_password(store(), one.name, _twice(), who=who())
    except InvalidInput as error:
        told = _sentence(error)
        return render_template("accounts/page.html", one=one, roles=service.ROLES, problem=told, least=SHORTEST), 400
    flash(f"{one.name} has a new password and is signed out everywhere.")
    return redirect(url_for("accounts.index"), 303)


@bp.post("/<int:number>/door")
def let_in(number: int) -> Response:
    """Shut it out, or let it in again."""
    shut = request.form.get("do") == "disable"
    changed = service.set_disabled(store(), _person(number).name, disabled=shut, who=who())
    flash(f"{changed.name} may {'not sign in any more' if shut else 'sign in again'}.")
    return redirect(url_for("accounts.index"), 303)


@bp.post("/<int:number>/out")
def out(number: int) -> Response:
    """Sign it out everywhere."""
    one = _person(number)
    service.sign_out_everywhere(store(), one.name, who=who())
    flash(f"{one.name} is signed out everywhere.")
    return redirect(url_for("accounts.index"), 303)


@bp.get("/own")
def own() -> Response | str:
    """Show where one is signed in, and offer another password."""
    found = person()
    return redirect(url_for("accounts.index")) if found is None else _own(found, "")


@bp.post("/own/password")
def own_password() -> Response | tuple[str, int]:
    """Change one's own password; the old one is asked for, and every browser signs in anew."""
    found = person()
    if found is None:
        abort(404)
    try:
        new = _twice()
        door.sure(store(), found.name, request.form.get("old", ""), address=request.remote_addr or "")
        service.set_password(store(), found.name, new, who=who())
    except InvalidInput as error:
        return _own(found, _sentence(error)), 429 if isinstance(error, door.Wait) else 400
    session.clear()
    flash("Your password is changed: sign in with it.")
    return redirect(url_for("access.sign_in", then=url_for("accounts.own")), 303)


@bp.post("/own/out")
def leave_everywhere() -> Response:
    """Sign out of every browser, this one too."""
    found = person()
    if found is not None:
        service.sign_out_everywhere(store(), found.name, who=who())
    session.clear()
    flash("You are signed out everywhere.")
    return redirect(url_for("access.sign_in"), 303)


def _person(number: int) -> Person:
    return next((each for each in service.accounts(store()) if each.id == number), None) or abort(404)


def _listed(sent: dict[str, str], problem: str) -> str:
    everybody = service.accounts(store())
    roles = service.ROLES if everybody else service.ROLES[:1]
    return render_template(
        "accounts/index.html", everybody=everybody, roles=roles, sent=sent, problem=problem, least=SHORTEST
    )


def _own(found: Person, problem: str) -> str:
    places = door.places(store(), found, token())
    return render_template("accounts/own.html", one=found, places=places, problem=problem, least=SHORTEST)


def _twice() -> str:
    """The new password, which was typed twice.

    Raises:
        InvalidInput: The two differ.
    """
    new, again = (request.form.get(name, "") for name in ("password", "again"))
    if new != again:
        raise InvalidInput("The two passwords differ", "Type the new one twice the same.")
    return new


def _sentence(error: StashError) -> str:
    return f"{error.message}. {error.hint}".strip()
