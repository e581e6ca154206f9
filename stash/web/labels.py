"""Labels: choose what, on which stock, look at it, print it."""

from __future__ import annotations

import base64
import datetime as dt
import io

from flask import Blueprint, current_app, flash, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.kernel.cells import Fault, read_cell
from stash.kernel.tables import Cell, Column
from stash.services import find, labels, page_labels, page_rows
from stash.services.labels import Choice, Printing
from stash.web.access import who
from stash.web.forms import Field, Form
from stash.web.shop import store

bp = Blueprint("labels", __name__, url_prefix="/labels")

_MOST_LISTED = 200
_LOOPBACK = ("HTTP://127.", "HTTP://LOCALHOST", "HTTP://[::1]")


@bp.get("/")
def index() -> str | tuple[str, int]:
    """Choose what to print; once something is chosen, how."""
    form, status = _how(request.args.to_dict()), 200
    codes, problem = _chosen()
    shown = (_known(code) for code in codes[:_MOST_LISTED])
    address = _address()
    page = render_template(
        "labels/index.html",
        form=form,
        codes=codes,
        hits=[hit for hit in shown if hit],
        problem=problem,
        asked=_asked(),
        places=page_rows.options(store(), "places", most=600),
        address=address,
        loopback=address.startswith(_LOOPBACK),
        most=_MOST_LISTED,
    )
    return page, 400 if problem else status


@bp.post("/sheet")
def sheet() -> Response | tuple[str, int]:
    """Draw the labels: as a PDF to print, or as a picture to look at first."""
    form = _how(request.form.to_dict())
    codes = request.form.get("codes", "").split()
    try:
        printing = _printing(form)
        if request.form.get("do") == "calibrate":
            return _pdf(page_labels.calibration(printing), "calibration.pdf")
        looking = request.form.get("do") == "look"
        pdf = labels.sheet(store(), codes, printing, who=who(), now=None if looking else dt.datetime.now(dt.UTC))
    except InvalidInput as error:
        return _printed_page(form.told(error), codes), 400
    if looking:
        image, pages = page_labels.picture(pdf)
        picture = base64.b64encode(image).decode("ascii")
        return _printed_page(form, codes, picture=picture, pages=pages), 200
    return _pdf(pdf, "labels.pdf")


@bp.post("/address")
def address() -> Response:
    """Keep where scanned labels lead."""
    kept = labels.set_label_address(store(), request.form.get("address", ""), who=who())
    flash(f"New labels lead to {kept}. Labels printed before still say the old address.")
    return redirect(url_for("labels.index"), 303)


def _printed_page(form: Form, codes: list[str], **more: object) -> str:
    hits = [hit for hit in (_known(code) for code in codes[:_MOST_LISTED]) if hit]
    return render_template("labels/print.html", form=form, codes=codes, hits=hits, most=_MOST_LISTED, **more)


def _asked() -> dict[str, str]:
    return {
        name: request.args.get(name, "").strip() for name in ("codes", "inside", "machine", "not_printed", "changed")
    }


def _chosen() -> tuple[tuple[str, ...], InvalidInput | None]:
    asked = _asked()
    choice = Choice(
        codes=[text.rsplit("/", 1)[-1] for text in asked["codes"].replace(",", " ").split()],
        inside=[asked["inside"]] if asked["inside"] else [],
        not_printed=asked["not_printed"] == "yes",
        changed=asked["changed"] == "yes",
        machine=asked["machine"],
    )
    if not any(asked.values()):
        return (), None
    try:
        return labels.chosen(store(), choice), None
    except InvalidInput as error:
        return (), error


def _how(given: dict[str, str]) -> Form:
    stocks = [
        (key, f"{stock.name}: {stock.note}" if stock.note else stock.name)
        for key, stock in labels.label_stocks().items()
    ]
    columns: tuple[tuple[Column, str, str, str], ...] = (
        (
            Column("first", Cell.WHOLE, required=True, low=1, high=2000),
            "1",
            "first free label",
            "On a sheet used before: count along the rows",
        ),
        (Column("copies", Cell.WHOLE, required=True, low=1, high=500), "1", "copies of each", ""),
        (
            Column("offset_x_mm", Cell.EXACT, low=-20, high=20),
            "0",
            "shift to the right (mm)",
            "From the calibration page",
        ),
        (Column("offset_y_mm", Cell.EXACT, low=-20, high=20), "0", "shift downwards (mm)", "From the calibration page"),
        (
            Column("scale", Cell.EXACT, required=True, low=0, high=2),
            "1",
            "scale",
            "Wanted length divided by measured length",
        ),
    )
    chosen = given.get("stock") or labels.DEFAULT_STOCK
    fields = [Field(Column("stock", Cell.SLUG, required=True), chosen, options=stocks, label="what to print on")]
    fields += [
        Field(column, given.get(column.name, value), label=title, hint=hint) for column, value, title, hint in columns
    ]
    outlines = Column("outlines", Cell.YES_NO)
    fields.append(Field(outlines, given.get("outlines", ""), label="Draw the edges, to cut plain paper by", check=True))
    return Form(tuple(fields), table="labels")


def _printing(form: Form) -> Printing:
    cells = form.read()
    return Printing(
        stock=str(cells["stock"]),
        first=int(str(cells["first"])),
        copies=int(str(cells["copies"])),
        offset_x_mm=float(str(cells["offset_x_mm"] or 0)),
        offset_y_mm=float(str(cells["offset_y_mm"] or 0)),
        scale=float(str(cells["scale"])),
        outlines=bool(cells["outlines"]),
        address=_address(),
    )


def _address() -> str:
    """Where a scan leads: what the server was told, else what the owner set."""
    told: str = current_app.config["STASH_BASE_URL"]
    return (told or labels.label_address(store())).upper()


def _known(code: str) -> find.Found | None:
    value = read_cell(Column("code", Cell.CODE), code)
    return None if isinstance(value, Fault) else find.thing(store().catalogue(), store().stock(), str(value))


def _pdf(data: bytes, name: str) -> Response:
    return send_file(io.BytesIO(data), mimetype="application/pdf", as_attachment=True, download_name=name)
