"""Forms whose effect is looked at before they are saved: first what it would change, then the button that saves it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from flask import request
from werkzeug.wrappers import Response

from stash.errors import Conflict, InvalidInput, NotFound
from stash.services.previews import Preview
from stash.web.forms import Form, answered


@dataclass(frozen=True, slots=True)
class Look:
    """How one sort of row is looked at and saved.

    Args:
        preview: Works out what a form would change. Raises InvalidInput or NotFound.
        save: Saves it as it was shown; returns what to tell the person and where to go. Raises Conflict.
        draw: Draws the page with the form, and with what it would change once that is known.
    """

    preview: Callable[[Form], Preview]
    save: Callable[[Form, Preview], tuple[str, str]]
    draw: Callable[[Form, Preview | None], str]


def looked_at(form: Form, look: Look) -> Response | tuple[str, int]:
    """Show a form, what it would change, or save it: only as it was shown.

    Args:
        form: The form as it stands before anybody typed.
        look: How it is looked at and saved.
    """

    def act(sent: Form) -> tuple[str, str]:
        shown = look.preview(sent)
        refuse_unseen(shown)
        return look.save(sent, shown)

    if request.method == "POST" and request.form.get("do") != "save":
        sent = form.typed(request.form)
        try:
            return look.draw(sent, look.preview(sent)), 200
        except InvalidInput as error:
            return look.draw(sent.told(error), None), 400
    return answered(form, act, lambda told: look.draw(told, _again(told, look)))


def refuse_unseen(shown: Preview) -> None:
    """Refuse what was not looked at, or is not what was shown any more.

    Raises:
        Conflict: The form's seal is another.
    """
    if request.form.get("seen") != shown.seal:
        raise Conflict(
            "What it changes has to be looked at first, or is not what was shown any more",
            "It stands below as it is now; look at it, then save.",
        )


def version_of(form: Form) -> int | None:
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
