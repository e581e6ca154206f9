"""The first screen: what can I finish?"""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template
from werkzeug.wrappers import Response

from stash.services import demo
from stash.services import home as homes
from stash.services.titles import kind_name
from stash.web.access import who
from stash.web.gap_views import views
from stash.web.shop import store

bp = Blueprint("home", __name__)

_SHOWN = 8


@bp.get("/")
def index() -> str:
    """Answer "what can I finish?", or greet where there is nothing yet."""
    home = homes.home(store())
    if home.empty:
        return render_template("home/empty.html")
    catalogue, stock = store().catalogue(), store().stock()
    finish = home.finishable

    return render_template(
        "home/index.html",
        home=home,
        complete=views(catalogue, stock, finish.complete[:_SHOWN]),
        near=views(catalogue, stock, finish.one_short[:_SHOWN]),
        total=(len(finish.complete), len(finish.one_short), len(finish.others)),
        machines=len(stock.machines),
        lots=len(stock.loose),
        places=len(stock.places),
        kind_name=lambda kind: kind_name(catalogue, kind),
        catalogue=catalogue,
    )


@bp.post("/begin/<what>")
def begin(what: str) -> Response:
    """Fill an empty stash with the starter vocabulary or the demo."""
    if what == "demo":
        demo.load_demo(store(), who=who())
        flash("The demo is in: two invented makers, their machines and a shelf of parts. None of it is real.")
    else:
        demo.load_starter(store(), who=who())
        flash("The starter vocabulary is in: kinds of part, what to measure on them, and which of them touch.")
    return redirect("/", 303)
