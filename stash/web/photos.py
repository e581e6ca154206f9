"""Photos: in strips on the pages of things, one at a time large, and the files themselves."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, flash, redirect, render_template, request, send_file, url_for
from werkzeug.datastructures import FileStorage
from werkzeug.wrappers import Response

from stash.errors import InvalidInput, NotFound
from stash.services import photos, pictures
from stash.web.access import who
from stash.web.links import address_of
from stash.web.shop import store
from stash.web.uploads import plain

bp = Blueprint("photos", __name__, url_prefix="/photos")

_MOST_AT_ONCE = 20
_FOR_GOOD = "private, max-age=31536000, immutable"
"""A photo's address changes with its content, so a browser need not ask again. Source: RFC 9111 and RFC 8246."""


@bp.app_template_global("photos_of")
def photos_of(what: str, name: str) -> tuple[photos.Shown, ...]:
    """The photos of a thing, for its page."""
    return photos.photos_of(store(), what, name)


@bp.get("/of/<what>/<name>")
def listed(what: str, name: str) -> str:
    """Show all photos of a thing, small."""
    what, name = photos.thing(store(), what, name)
    return render_template("photos/all.html", what=what, name=name)


@bp.post("/of/<what>/<name>")
def add(what: str, name: str) -> Response:
    """Add photos to a thing; those that can't be taken are told, the others are kept."""
    sent = [each for each in request.files.getlist("photo") if each.filename]
    if not sent:
        raise InvalidInput("No photo was chosen", "Take one, or choose one from the phone.")
    if len(sent) > _MOST_AT_ONCE:
        raise InvalidInput(f"{len(sent)} photos came at once; at most {_MOST_AT_ONCE} do", "Send fewer at a time.")
    flash(_added(what, name, sent))
    return redirect(address_of(what, name) + "#photos", 303)


def _added(what: str, name: str, sent: list[FileStorage]) -> str:
    fresh, refused = 0, list[InvalidInput]()
    told = list[str]()
    for each in sent:
        try:
            fresh += photos.add_photo(
                store(), what, name, each.read(), who=who(), caption=request.form.get("caption", "")
            ).fresh
        except InvalidInput as error:
            refused.append(error)
            told.append(f"{plain(each.filename or '')} was not added: {error.message}. {error.hint}")
    if len(refused) == len(sent):
        raise refused[0]
    known = len(sent) - fresh - len(refused)
    said = ([_count(fresh, "added")] if fresh else []) + ([_count(known, "was there already")] if known else [])
    return " ".join([f"{each}." for each in said] + told)


def _count(number: int, done: str) -> str:
    if number == 1:
        return f"1 photo {done}"
    return f"{number} photos {done.replace('was', 'were')}"


@bp.get("/<int:number>")
def page(number: int) -> str:
    """Show one photo, large."""
    shown = photos.photo(store(), number)
    order = photos.photos_of(store(), shown.what, shown.name)
    at = next((at for at, each in enumerate(order) if each.id == number), 0)
    return render_template("photos/page.html", photo=shown, order=order, at=at)


@bp.post("/<int:number>/caption")
def say(number: int) -> Response:
    """Say what a photo shows."""
    photos.say(store(), number, request.form.get("caption", ""), who=who(), seen=request.form.get("seen"))
    flash("Words saved.")
    return redirect(url_for("photos.page", number=number), 303)


@bp.post("/<int:number>/put")
def put(number: int) -> Response:
    """Put a photo in its order."""
    photos.put(store(), number, request.form.get("where", ""), who=who())
    flash("Put in order.")
    return redirect(url_for("photos.page", number=number), 303)


@bp.route("/<int:number>/remove", methods=["GET", "POST"])
def remove(number: int) -> Response | str:
    """Ask, then remove a photo."""
    if request.method != "POST":
        return render_template("photos/remove.html", photo=photos.photo(store(), number))
    was = photos.remove_photo(store(), number, who=who())
    flash("Photo removed.")
    return redirect(address_of(was.what, was.name) + "#photos", 303)


@bp.get("/large/<digest>.jpg")
def large(digest: str) -> Response:
    """Send a photo as it is kept."""
    return _file(digest, pictures.large_file(store(), digest), "large")


@bp.get("/small/<digest>.jpg")
def small(digest: str) -> Response:
    """Send a small one of a photo."""
    return _file(digest, pictures.small_file(store(), digest), "small")


def _file(digest: str, file: Path | None, size: str) -> Response:
    if file is None or not photos.is_named(store(), digest):
        raise NotFound("The file of this photo is not there", "`stash verify` says which are gone.")
    answer = send_file(file.resolve(), mimetype="image/jpeg", conditional=True, etag=f"{size}-{digest}")
    answer.headers["Cache-Control"] = _FOR_GOOD
    return answer
