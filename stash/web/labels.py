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
from stash.services import find, label_kit, labels, page_labels, page_lists, page_rows
from stash.services.labels import Choice, Printing
from stash.web.access import who
from stash.web.choosing import lot_filter
from stash.web.forms import Field, Form, answered, told_in_words
from stash.web.shop import store
from stash.web.stock_fields import stock_field

bp = Blueprint("labels", __name__, url_prefix="/labels")

_MOST_LISTED = 200
_PRINTER = "Your printer, as its calibration page says"
_CORRECTIONS = ("offset_x_mm", "offset_y_mm", "scale")
_LOOPBACK = ("HTTP://127.", "HTTP://LOCALHOST", "HTTP://[::1]")


@bp.get("/")
def index() -> tuple[str, int]:
    """Choose what to print; once something is chosen, how."""
    return _choosing()


def _choosing(typed: str | None = None, wrong: str = "") -> tuple[str, int]:
    """Draw the page that chooses labels; with the address that was refused and why, if one was."""
    codes, problem = _chosen()
    shown = (_known(code) for code in codes[:_MOST_LISTED])
    address = _address()
    page = render_template(
        "labels/index.html",
        form=_how(request.args.to_dict()),
        codes=codes,
        hits=[hit for hit in shown if hit],
        problem=problem,
        asked=_asked(),
        places=page_rows.options(store(), "places", most=600),
        address=address,
        typed=address if typed is None else typed,
        wrong=wrong,
        loopback=address.startswith(_LOOPBACK),
        most=_MOST_LISTED,
        printers=label_kit.printers(store()),
    )
    return page, 400 if problem or wrong else 200


@bp.post("/sheet")
def sheet() -> Response | tuple[str, int]:
    """Draw the labels: as a PDF to print, or as a picture to look at first."""
    form = _how(request.form.to_dict())
    codes = request.form.get("codes", "").split()
    try:
        printing = _printing(form)
        _keep_printer(form, printing)
        if request.form.get("do") == "calibrate":
            return _pdf(page_labels.calibration(printing, store()), "calibration.pdf")
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
def address() -> Response | tuple[str, int]:
    """Keep where scanned labels lead."""
    typed = request.form.get("address", "")
    try:
        kept = labels.set_label_address(store(), typed, who=who())
    except InvalidInput as error:
        return _choosing(typed, told_in_words(error))
    flash(f"New labels lead to {kept}. Labels printed before still say the old address.")
    return redirect(url_for("labels.index"), 303)


@bp.route("/stocks", methods=["GET", "POST"])
def stocks() -> Response | tuple[str, int]:
    """Show the label stocks, and add one of one's own by its dimensions."""
    columns = label_kit.stock_columns()
    form = Form(tuple(stock_field(name) for name in columns), submit="Keep this stock", table="stocks")

    looked = ""

    def act(sent: Form) -> tuple[str, str]:
        kept = label_kit.save_stock(store(), sent.cells(), who=who())
        return f"{kept.name} is kept: {kept.labels_a_page} labels a page.", url_for("labels.stocks")

    def show(shown: Form) -> str:
        own = label_kit.own_stocks(store())
        return render_template(
            "labels/stocks.html",
            form=shown,
            stocks=label_kit.stocks(store()),
            own=own,
            printers=label_kit.printers(store()),
            picture=looked,
        )

    if request.method == "POST" and request.form.get("do") == "look":
        sent = form.typed(request.form)
        try:
            looked = base64.b64encode(page_labels.page_of(label_kit.checked_stock(sent.cells()))).decode("ascii")
        except InvalidInput as error:
            return show(sent.told(error)), 400
        return show(sent), 200
    return answered(form, act, show)


@bp.post("/stocks/look")
def look_at_stock() -> Response:
    """Draw a page of a stock as it is being typed; what can't be drawn yet gives no picture."""
    columns = label_kit.stock_columns()
    try:
        stock = label_kit.checked_stock({name: request.form.get(name, "") for name in columns})
        return Response(page_labels.page_of(stock), mimetype="image/png")
    except InvalidInput as error:
        return Response(error.message, status=400, mimetype="text/plain")


@bp.post("/stocks/<key>/remove")
def remove_stock(key: str) -> Response:
    """Forget a stock of one's own."""
    label_kit.remove_stock(store(), key, who=who())
    flash(f"{key} is forgotten.")
    return redirect(url_for("labels.stocks"), 303)


@bp.post("/printers/remove")
def remove_printer() -> Response:
    """Forget a printer's corrections."""
    name = request.form.get("name", "")
    label_kit.remove_printer(store(), name, who=who())
    flash(f"{name} is forgotten.")
    return redirect(url_for("labels.stocks"), 303)


def _keep_printer(form: Form, printing: Printing) -> None:
    name = form.cells()["printer"].strip()
    if name:
        kept = label_kit.Printer(name, printing.offset_x_mm, printing.offset_y_mm, printing.scale)
        if kept not in label_kit.printers(store()):
            label_kit.save_printer(store(), kept, who=who())


def _printed_page(form: Form, codes: list[str], **more: object) -> str:
    hits = [hit for hit in (_known(code) for code in codes[:_MOST_LISTED]) if hit]
    return render_template(
        "labels/print.html",
        form=form,
        codes=codes,
        hits=hits,
        most=_MOST_LISTED,
        printers=label_kit.printers(store()),
        **more,
    )


def _asked() -> dict[str, str]:
    names = ("codes", "inside", "machine", "not_printed", "changed", "listed")
    return {name: request.args.get(name, "").strip() for name in names}


def _chosen() -> tuple[tuple[str, ...], InvalidInput | None]:
    asked = _asked()
    choice = Choice(
        codes=[text.rsplit("/", 1)[-1] for text in asked["codes"].replace(",", " ").split()],
        inside=[asked["inside"]] if asked["inside"] else [],
        not_printed=asked["not_printed"] == "yes",
        changed=asked["changed"] == "yes",
        machine=asked["machine"],
    )
    if asked["listed"] == "yes":
        return page_lists.lot_codes(store(), lot_filter(request.args)), None
    if not any(asked.values()):
        return (), None
    try:
        return labels.chosen(store(), choice), None
    except InvalidInput as error:
        return (), error


_HOW: tuple[tuple[Column, str, str, str, str], ...] = (
    (
        Column("first", Cell.WHOLE, low=1, high=2000),
        "",
        "first free label",
        "Counted along the rows; empty goes on where the last sheet of this stock stopped",
        "",
    ),
    (Column("copies", Cell.WHOLE, required=True, low=1, high=500), "1", "copies of each", "", ""),
    (Column("offset_x_mm", Cell.EXACT, low=-20, high=20), "0", "shift to the right (mm)", "", _PRINTER),
    (Column("offset_y_mm", Cell.EXACT, low=-20, high=20), "0", "shift downwards (mm)", "", _PRINTER),
    (
        Column("scale", Cell.EXACT, required=True, low=0, high=2),
        "1",
        "scale",
        "Wanted length divided by measured length",
        _PRINTER,
    ),
    (Column("printer"), "", "keep these corrections as", "A name for the printer; empty keeps nothing", _PRINTER),
)
"""Columns, what stands in them at first, what they are called, a line of help, and their group."""


def _how(given: dict[str, str]) -> Form:
    stocks = [
        (key, f"{stock.name}: {stock.note}" if stock.note else stock.name)
        for key, stock in label_kit.stocks(store()).items()
    ]
    for printer in label_kit.printers(store()):
        if printer.name == given.get("printer"):
            given = {**given, **{name: f"{getattr(printer, name):g}" for name in _CORRECTIONS if name not in given}}
    chosen = given.get("stock") or labels.DEFAULT_STOCK
    fields = [Field(Column("stock", Cell.SLUG, required=True), chosen, options=stocks, label="what to print on")]
    fields += [
        Field(column, given.get(column.name, value), label=title, hint=hint, group=group)
        for column, value, title, hint, group in _HOW
    ]
    outlines = Column("outlines", Cell.YES_NO)
    edges = "Draw the edges, to cut plain paper by"
    fields.insert(3, Field(outlines, given.get("outlines", ""), label=edges, check=True))
    return Form(tuple(fields), table="labels")


def _printing(form: Form) -> Printing:
    cells = form.read()
    stock, first = str(cells["stock"]), cells["first"]
    return Printing(
        stock=stock,
        first=first if isinstance(first, int) else label_kit.next_free(store(), stock),
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
