"""Forms whose effect is looked at before they are saved: first what it would change, then the button that saves it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from flask import render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import Conflict, InvalidInput, NotFound
from stash.services import previews, rows
from stash.services.previews import Preview
from stash.services.titles import counted
from stash.web.access import who
from stash.web.forms import Form, answered
from stash.web.shop import store
from stash.web.words import all_of


@dataclass(frozen=True, slots=True)
class Look:
    """How one sort of row is looked at and saved.

    Args:
        preview: Works out what a form would change. Raises InvalidInput or NotFound.
        draw: Draws the page with the form, and with what it would change once that is known.
        key: The row it changes; "" for a new one.
        onward: Where to go once it is saved.
    """

    preview: Callable[[Form], Preview]
    draw: Callable[[Form, Preview | None], str]
    key: str
    onward: str


def looked_at(form: Form, look: Look) -> Response | tuple[str, int]:
    """Show a form, what it would change, or save it: only as it was shown.

    Args:
        form: The form as it stands before anybody typed.
        look: How it is looked at and saved.
    """

    def act(sent: Form) -> tuple[str, str]:
        shown = look.preview(sent)
        _refuse_unseen(shown)
        previews.save(store(), shown, look.key, _version_of(sent) if look.key else None, who())
        return f"Saved; {counted(len(shown.effect.changes), 'verdict')} changed.", look.onward

    if request.method == "POST" and request.form.get("do") != "save":
        sent = form.typed(request.form)
        try:
            return look.draw(sent, look.preview(sent)), 200
        except InvalidInput as error:
            return look.draw(sent.told(error), None), 400
    return answered(form, act, lambda told: look.draw(told, _again(told, look)))


def withdrawn(shown: Preview, version: int, *, title: str, submit: str, done: str) -> Response | tuple[str, int]:
    """Show what taking a row away changes, and take it away as it was shown.

    Args:
        shown: The row with that effect.
        version: The version that was looked at.
        title: The page's heading, a question.
        submit: What the button says.
        done: What is said afterwards, a sentence.
    """
    table, key = shown.table, shown.cells["key"]
    form = Form((), submit=submit, hidden={"version": str(version)}, danger=True, table=table)
    listed = url_for("catalogue.listed", table=table)

    def act(sent: Form) -> tuple[str, str]:
        _refuse_unseen(shown)
        rows.delete_row(store(), table, {"key": key}, _version_of(sent), who())
        return f"{done} The ledger can put it back.", listed

    return answered(
        form,
        act,
        lambda told: render_template(
            "effects/withdraw.html",
            form=told,
            shown=shown,
            title=title,
            all_of_them=listed,
            trail=all_of(table),
            back=url_for(f"{table}.change", key=key),
        ),
    )


def _refuse_unseen(shown: Preview) -> None:
    """Refuse what was not looked at, or is not what was shown any more.

    Raises:
        Conflict: The form's seal is another.
    """
    if request.form.get("seen") != shown.seal:
        raise Conflict(
            "What it changes has to be looked at first, or is not what was shown any more",
            "It stands below as it is now; look at it, then save.",
        )


def _version_of(form: Form) -> int | None:
    """The version the form was made from; None for a new row."""
    text = form.hidden.get("version", "")
    return int(text) if text.isdigit() else None


def _again(form: Form, look: Look) -> Preview | None:
    """After a refusal for what others did meanwhile: what it would change now."""
    if not form.conflict:
        return None
    try:
        return look.preview(form)
    except (InvalidInput, NotFound):
        return None
