"""Mates: which kinds touch and how they must agree, with what that changes shown before anything is saved."""

from __future__ import annotations

from flask import Blueprint, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.services import page_rows, say_mate
from stash.services.previews import Preview
from stash.web.choosing import fields_of, new_fields_of
from stash.web.forms import Form
from stash.web.links import within
from stash.web.previewing import Look, looked_at, withdrawn
from stash.web.shop import store

bp = Blueprint("mates", __name__, url_prefix="/mates")


@bp.route("/say", methods=["GET", "POST"])
def say() -> Response | tuple[str, int]:
    """Say which kinds touch."""
    return _mate("", 0)


@bp.route("/change", methods=["GET", "POST"])
def change() -> Response | tuple[str, int]:
    """Change how two kinds must agree."""
    key = request.args.get("key", "")
    return _mate(key, page_rows.row(store(), "mates", (key,)).version)


@bp.route("/withdraw", methods=["GET", "POST"])
def withdraw() -> Response | tuple[str, int]:
    """Take a mate away, after a look at what that changes."""
    key = request.args.get("key", "")
    row = page_rows.row(store(), "mates", (key,))
    shown = say_mate.preview_without(store(), key)
    title = f"Take away the mate {row.cells['name']}?"
    return withdrawn(shown, row.version, title=title, submit="Take it away", done="Taken away.")


def _mate(key: str, version: int) -> Response | tuple[str, int]:
    stored = page_rows.row(store(), "mates", (key,)).cells if key else {}
    typed = request.form if request.method == "POST" else request.args
    fields = (fields_of if key else new_fields_of)("mates", {**stored, **typed.to_dict()})
    form = Form(
        fields,
        submit="Save it",
        hidden={"version": str(version)} if key else {},
        table="mates",
    )

    def preview(sent: Form) -> Preview:
        return say_mate.preview(store(), sent.cells(), key)

    def draw(told: Form, shown: Preview | None) -> str:
        title = stored["name"] if key else "Say which kinds touch"
        return render_template("mates/say.html", form=told, shown=shown, key=key, back=_back(), title=title)

    return looked_at(form, Look(preview, draw, key, _back()))


def _back() -> str:
    return within(request.args.get("then", ""), url_for("catalogue.listed", table="mates"))
