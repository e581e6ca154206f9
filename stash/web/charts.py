"""The interchange chart: which design of a kind goes where in a family."""

from __future__ import annotations

from itertools import groupby

from flask import Blueprint, render_template, request
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.kernel.tables import VERDICTS
from stash.services import fits, uses
from stash.services.page_lists import Page
from stash.web.links import address
from stash.web.paging import page_number
from stash.web.shop import store

bp = Blueprint("charts", __name__, url_prefix="/charts")


_MOST_CELLS = 300
"""Cells of a chart on one page; each has some 300 bytes."""


@bp.get("/")
def index() -> str:
    """Offer a chart for every family and every kind its models take."""
    catalogue = store().catalogue()
    families = []
    for family in catalogue.families:
        models = [
            key for key, model in catalogue.model.items() if catalogue.generation[model.generation].family == family.key
        ]
        kinds = sorted({kind for key in models for kind in catalogue.positions_of_kind[key]})
        families.append((family, [(kind, catalogue.kind[kind].name) for kind in kinds]))
    return render_template("charts/index.html", families=sorted(families, key=lambda pair: pair[0].name))


@bp.get("/<family>/<kind>")
def page(family: str, kind: str) -> Response | str:
    """Show one chart."""
    chart = uses.chart(store(), family, kind)
    eras = [
        (generation, len(list(columns)))
        for generation, columns in groupby(chart.columns, key=lambda column: column.generation)
    ]
    size = max(5, _MOST_CELLS // max(1, len(chart.columns)))
    last = max(1, -(-len(chart.rows) // size))
    number = min(page_number(), last)
    shown = Page(chart.rows[(number - 1) * size : number * size], len(chart.rows), number, last)
    firsts = {sum(count for _, count in eras[:index]) for index in range(len(eras))}
    return render_template(
        "charts/page.html",
        chart=chart,
        page=shown,
        turned=lambda number: address("charts.page", {"family": family, "kind": kind, "page": number}),
        family=family,
        kind=kind,
        eras=eras,
        firsts=firsts,
        verdicts=VERDICTS,
    )


@bp.get("/why")
def why() -> Response | str:
    """Show the reasons behind one cell of a chart: a part, by lot or design, on a model."""
    catalogue = store().catalogue()
    ref = request.args.get("lot", "") or request.args.get("design", "")
    model, position = request.args.get("model", ""), request.args.get("position", "")
    if not ref or model not in catalogue.model:
        raise NotFound("There is no such cell of a chart", "Go back to the chart and choose one.")
    part, found = fits.on_model(store(), ref, model, position)
    return render_template("charts/why.html", model=model, position=position, part=part, found=found)
