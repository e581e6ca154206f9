"""Stock-taking: which bin next, one bin blind or shown, expected against found, and what lies in the wrong bin."""

from __future__ import annotations

import datetime as dt

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import Conflict, InvalidInput, StashError
from stash.services import count_plan, counting
from stash.services.page_lists import Page
from stash.services.titles import place_path
from stash.web.access import who
from stash.web.counted import Sheet, sheet_of, stray_of
from stash.web.forms import told_in_words
from stash.web.links import address
from stash.web.paging import page_number
from stash.web.places import place_of
from stash.web.shop import store

bp = Blueprint("counts", __name__)

_SHARES = ("1", "2", "5", "10", "20")
_SURE = ("90", "95", "99")
_BINS_SHOWN = 50


@bp.get("/count/")
def index() -> str:
    """Say which bin to count next: the sample that is being counted, and all bins by how long they wait."""
    share, sure = _asked("share", _SHARES, "5"), _asked("sure", _SURE, "95")
    waiting = count_plan.longest_uncounted(store())
    last = max(1, -(-len(waiting) // _BINS_SHOWN))
    number = min(page_number(), last)
    return render_template(
        "counts/index.html",
        sample=count_plan.sample(store()),
        needed=count_plan.bins_needed(store(), int(share) / 100, int(sure) / 100),
        share=share,
        sure=sure,
        shares=_SHARES,
        confidences=_SURE,
        page=Page(waiting[(number - 1) * _BINS_SHOWN : number * _BINS_SHOWN], len(waiting), number, last),
        turned=lambda number: address("counts.index", {"page": number}),
    )


@bp.post("/count/draw")
def draw() -> Response:
    """Draw a sample of bins."""
    share, sure = _asked("share", _SHARES, "5"), _asked("sure", _SURE, "95")
    count_plan.draw(store(), int(share) / 100, int(sure) / 100, who=who(), on=_today())
    return redirect(url_for("counts.index"), 303)


@bp.post("/count/end")
def end() -> Response:
    """Put the sample away."""
    count_plan.forget(store(), who=who())
    flash("The sample is put away; the counts stay.")
    return redirect(url_for("counts.index"), 303)


@bp.route("/places/<code>/count", methods=["GET", "POST"])
def bin_page(code: str) -> Response | tuple[str, int]:
    """Count everything in a bin, then compare, then enter it."""
    place = place_of(code)
    sheet = sheet_of(store(), place.code, request.form)
    if request.method != "POST":
        return _shown(sheet), 200
    pressed, _, stray = request.form.get("do", "").partition(":")
    try:
        if request.form.get("stray", "").strip():
            return _shown(sheet.with_stray(request.form["stray"])), 200
        if pressed in {"home", "stays"}:
            return _put_right(sheet, stray, stays=pressed == "stays")
        return _entered(sheet, confirmed=pressed == "enter")
    except (InvalidInput, Conflict) as error:
        status = 400 if isinstance(error, InvalidInput) else 409
        return _shown(sheet_of(store(), place.code, request.form, anew=True), told=error), status


def _entered(sheet: Sheet, *, confirmed: bool) -> Response | tuple[str, int]:
    """Enter the count; whatever differs is shown for a second look first."""
    if sheet.wrong:
        return _shown(sheet), 400
    if not confirmed and sheet.differing:
        return _shown(sheet, comparing=True), 200
    try:
        done = counting.count_place(store(), sheet.place, sheet.found(), who=who(), on=_today())
    except Conflict as error:
        anew = sheet_of(store(), sheet.place, request.form, anew=True)
        return _shown(anew, told=error, comparing=True), 409
    flash(done.said)
    return redirect(url_for("places.page", code=sheet.place), 303)


def _put_right(sheet: Sheet, stray: str, *, stays: bool) -> tuple[str, int]:
    """Send a misfiled lot home, or book it here; what was counted so far stays on the page."""
    quantity = request.form.get(f"s-{stray}", "").strip()
    if quantity and not (quantity.isdecimal() and len(quantity) < 7):  # noqa: PLR2004 - a million at most
        raise InvalidInput(f"{quantity!r} is no count", "Give a whole number.")
    said = counting.misfiled(
        store(), sheet.place, stray, who=who(), stays=stays, quantity=int(quantity) if quantity else 1
    ).said
    left = sheet_of(store(), sheet.place, request.form, anew=True).without_stray(stray)
    return _shown(left, said=said), 200


def _shown(sheet: Sheet, *, told: StashError | None = None, said: str = "", comparing: bool = False) -> str:
    stock, catalogue = store().stock(), store().catalogue()
    return render_template(
        "counts/bin.html",
        place=stock.places[sheet.place],
        path=place_path(stock, sheet.place),
        sheet=sheet,
        strays=[stray_of(store(), sheet.place, text) for text in sheet.strays],
        catalogue=catalogue,
        open=request.values.get("open") == "yes" or comparing,
        comparing=comparing,
        told=told_in_words(told) if told else "",
        said=said,
    )


def _asked(name: str, allowed: tuple[str, ...], default: str) -> str:
    text = request.values.get(name, default)
    return text if text in allowed else default


def _today() -> dt.date:
    return dt.datetime.now().astimezone().date()
