"""Fields and answers that the actions at the bench share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from flask import render_template, request
from werkzeug.wrappers import Response

from stash.kernel.tables import CONDITIONS, Cell, Column
from stash.services import page_rows
from stash.services.handling import Done
from stash.web.choosing import options_of
from stash.web.forms import Field, Form, answered, choices
from stash.web.shop import store

QUANTITY = Column("quantity", Cell.WHOLE, required=True, low=1, high=1_000_000)


def place_field(name: str = "place", title: str = "place", value: str = "", hint: str = "") -> Field:
    """A place to choose; nothing chosen means not put away yet."""
    column = Column(name, Cell.CODE, ref="places")
    options = [("", "not put away yet"), *options_of(column)[1:]]
    if len(options) == 1:
        return Field(
            column, value, label=title, hint=hint or "Code of a bin; scan its label, or type a word of its name"
        )
    return Field(column, value, options=options, label=title, hint=hint)


def quantity_field(value: str = "", *, required: bool = True, title: str = "how many", hint: str = "") -> Field:
    """How many."""
    return Field(replace(QUANTITY, required=required), value, label=title, hint=hint)


def condition_field(
    name: str = "condition", title: str = "condition", value: str = "", blank: str = "as noted"
) -> Field:
    """A condition to choose."""
    return Field(
        Column(name, Cell.CHOICE, choices=CONDITIONS), value, options=choices(CONDITIONS, blank=blank), label=title
    )


def tick(name: str, title: str) -> Field:
    """A box to tick."""
    return Field(Column(name, Cell.YES_NO), label=title, check=True)


def lot_field(kind: str = "", value: str = "") -> Field:
    """A lot of a kind to choose, or a code to scan where there are many."""
    column = Column("lot", Cell.CODE, required=True, ref="lots")
    stock, catalogue = store().stock(), store().catalogue()
    from stash.services.page_lists import lot_line

    lines = [lot_line(catalogue, stock, lot) for lot in stock.lots.values() if lot.kind == kind and lot.quantity > 0]
    lines.sort(key=lambda line: (line.title, line.lot.code))
    if not lines or len(lines) > _MOST_LOTS:
        return Field(column, value, label="loose part", hint="Code of the lot; scan its label")
    said = [
        (line.lot.code, f"{line.title}, {line.lot.condition}, {line.place or 'not put away'} ({line.lot.code})")
        for line in lines
    ]
    return Field(column, value, options=[("", "choose"), *said], label="loose part")


_MOST_LOTS = 150


def design_field(kind: str, value: str = "", *, blank: str = "as noted", title: str = "design") -> Field:
    """A design of a kind to choose."""
    column = Column("design", Cell.SLUG, ref="designs")
    found = page_rows.options(store(), "designs", {"kind": kind}, most=_MOST_LOTS)
    if not found or len(found) > _MOST_LOTS:
        return Field(column, value, label=title)
    return Field(column, value, options=[("", blank), *found], label=title)


def acted(
    title: str,
    form: Form,
    act: Callable[[Form], Done],
    onward: str,
    *,
    back: str,
    about: str = "",
    caution: str = "",
    matched: str = "",
) -> Response | tuple[str, int]:
    """Show an action's form on a page of its own, or do it.

    Args:
        title: What is done, as a heading.
        form: Its form.
        act: Does it.
        onward: Where to go afterwards.
        back: Where the thing it is about is shown.
        about: What it is about.
        caution: What to mind while doing it.
        matched: What ran with it and should stay with it.
    """

    def do(sent: Form) -> tuple[str, str]:
        return act(sent).said, onward

    def show(shown: Form) -> str:
        return render_template(
            "act.html", title=title, form=shown, back=back, about=about, mind=caution, matched=matched
        )

    return answered(form, do, show)


def answered_twice() -> bool:
    """Tell whether a form comes back: only then is it asked whether to go on all the same."""
    return request.method == "POST"
