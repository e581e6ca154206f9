"""Handling loose parts: move, take some, count, put more in, let go, put together."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from flask import Blueprint, request, url_for
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.fit.facts import Lot
from stash.kernel.codes import grouped, parse_code
from stash.kernel.tables import Cell, Column
from stash.services import counting, lots, page_lists, page_rows
from stash.services.handling import Done
from stash.services.matched import warn_lot
from stash.services.reservations import promises
from stash.services.titles import lot_title, place_path
from stash.web.access import who
from stash.web.acts import acted, answered_twice, place_field, quantity_field, tick
from stash.web.forms import Field, Form
from stash.web.shop import store

bp = Blueprint("lot_acts", __name__, url_prefix="/lots")


@bp.route("/<code>/move", methods=["GET", "POST"])
def move(code: str) -> Response | tuple[str, int]:
    """Put a lot, or some of it, somewhere else."""
    lot = _lot(code)
    fields = [
        place_field("place", "to", request.values.get("place", "")),
        quantity_field(
            required=False, hint=f"Empty for all {lot.quantity}; fewer become a lot with a label of its own"
        ),
        *_anyway(lot, "Part them although they are promised to a build"),
    ]

    def act(sent: Form) -> Done:
        cells = sent.read()
        some = cells["quantity"]
        return lots.move(
            store(),
            lot.code,
            str(cells["place"] or ""),
            who=who(),
            quantity=some if isinstance(some, int) else None,
            anyway=bool(cells.get("anyway")),
            version=_version(sent),
        )

    return _acted(lot, "Move", Form(tuple(fields), submit="Move it", hidden=_hidden(lot)), act)


@bp.route("/<code>/split", methods=["GET", "POST"])
def split(code: str) -> Response | tuple[str, int]:
    """Make some of a lot a lot of their own."""
    lot = _lot(code)
    fields = (quantity_field(hint=f"Of {lot.quantity}"), place_field("place", "to", lot.place))
    promised = _anyway(lot, "Part them although they are promised to a build")
    form = Form((*fields, *promised), submit="Split it", hidden=_hidden(lot))

    def act(sent: Form) -> Done:
        cells = sent.read()
        return lots.split(
            store(),
            lot.code,
            int(str(cells["quantity"])),
            who=who(),
            place=str(cells["place"] or ""),
            anyway=bool(cells.get("anyway")),
            version=_version(sent),
        )

    return _acted(lot, "Split", form, act)


@bp.route("/<code>/count", methods=["GET", "POST"])
def count(code: str) -> Response | tuple[str, int]:
    """Enter what was counted."""
    lot = _lot(code)
    fields = [Field(Column("found", Cell.WHOLE, required=True, low=0, high=1_000_000), label="how many are there")]
    fields.append(tick("about", "That is an estimate: keep it as “about”"))
    if answered_twice():
        fields.append(tick("looked", "I looked for them in the neighbouring bins"))

    def act(sent: Form) -> Done:
        cells = sent.read()
        today = dt.datetime.now().astimezone().date()
        looked = bool(cells.get("looked"))
        found = counting.Found(int(str(cells["found"])), bool(cells.get("about")), looked, _version(sent))
        return counting.count(store(), lot.code, found, who=who(), on=today)

    return _acted(lot, "Count", Form(tuple(fields), submit="That is what is there", hidden=_hidden(lot)), act)


@bp.route("/<code>/more", methods=["GET", "POST"])
def more(code: str) -> Response | tuple[str, int]:
    """Put more into a lot."""
    lot = _lot(code)
    how = Field(
        Column("how", Cell.CHOICE, required=True, choices=tuple(lots.COMES)),
        request.values.get("how", "received"),
        options=list(lots.COMES.items()),
    )
    form = Form((quantity_field(), how), submit="Put them in", hidden=_hidden(lot))

    def act(sent: Form) -> Done:
        cells = sent.read()
        count = int(str(cells["quantity"]))
        return lots.add_more(store(), lot.code, count, str(cells["how"]), who=who(), version=_version(sent))

    return _acted(lot, "Put more in", form, act)


@bp.route("/<code>/let-go", methods=["GET", "POST"])
def let_go(code: str) -> Response | tuple[str, int]:
    """Take parts out of the stash."""
    lot = _lot(code)
    how = Field(
        Column("how", Cell.CHOICE, required=True, choices=tuple(lots.LEAVES)),
        options=[("", "choose"), *lots.LEAVES.items()],
        label="what becomes of them",
    )
    fields = [
        quantity_field(str(lot.quantity) if lot.quantity == 1 else "", hint=f"Of {lot.quantity}"),
        how,
        Field(Column("to", longest=80), label="to whom", hint="Stands in the history; needed to get lent parts back"),
        *_anyway(lot, "Let them go although they are promised to a build"),
    ]

    def act(sent: Form) -> Done:
        cells = sent.read()
        return lots.let_go(
            store(),
            lot.code,
            int(str(cells["quantity"])),
            str(cells["how"]),
            who=who(),
            to=str(cells["to"] or ""),
            anyway=bool(cells.get("anyway")),
            version=_version(sent),
        )

    return _acted(lot, "Let go", Form(tuple(fields), submit="Let them go", hidden=_hidden(lot)), act)


@bp.route("/<code>/merge", methods=["GET", "POST"])
def merge(code: str) -> Response | tuple[str, int]:
    """Put equal lots into this one."""
    lot = _lot(code)
    stock = store().stock()
    alike = [
        (other.code, f"{grouped(other.code)}, {other.quantity} in {place_path(stock, other.place) or 'no place yet'}")
        for other in page_lists.alike(stock, lot)
    ]
    if not alike:
        raise NotFound(
            f"No other lot is like {grouped(lot.code)}",
            "Only lots of one kind, design, condition and equal measures go together.",
        )
    other = Field(
        Column("other", Cell.CODE, required=True, ref="lots"), options=[("", "choose"), *alike], label="put in"
    )
    form = Form((other,), submit="Put them together")

    def act(sent: Form) -> Done:
        return lots.merge(store(), lot.code, [str(sent.read()["other"])], who=who())

    return _acted(lot, "Put together", form, act)


def _anyway(lot: Lot, title: str) -> list[Field]:
    """Ask for leave to take what is promised, where it is."""
    return [tick("anyway", title)] if answered_twice() and promises(store().stock(), lot.code) else []


def _acted(lot: Lot, title: str, form: Form, act: Callable[[Form], Done]) -> Response | tuple[str, int]:
    home = url_for("lots.page", code=lot.code)
    return acted(
        title,
        form,
        act,
        home,
        back=home,
        about=f"{lot_title(store().catalogue(), lot)} ({grouped(lot.code)})",
        matched=warn_lot(store(), lot.code),
    )


def _lot(code: str) -> Lot:
    parsed = parse_code(code)
    lot = store().stock().lots.get(str(parsed)) if parsed else None
    if lot is None:
        raise NotFound(f"No loose parts have the code {code}", "Scan the label again, or look in the list.")
    return lot


def _hidden(lot: Lot) -> dict[str, str]:
    return {"version": str(page_rows.row(store(), "lots", (lot.code,)).version)}


def _version(form: Form) -> int | None:
    text = form.hidden.get("version", "")
    return int(text) if text.isdigit() else None
