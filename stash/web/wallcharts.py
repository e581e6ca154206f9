"""Interchange charts on paper for the wall: choose the kinds and the sheet."""

from __future__ import annotations

from flask import Blueprint, Response, render_template, request

from stash.errors import NotFound
from stash.services.wall_chart import kinds_of, wall_charts
from stash.services.wall_layout import SHEETS_MM
from stash.services.wall_pdf import wall_pdf
from stash.web.shop import store

bp = Blueprint("wallcharts", __name__, url_prefix="/wall-charts")

_TITLES = {"a4": "A4", "a3": "A3", "a2": "A2", "letter": "Letter"}


@bp.get("/<family>")
def choose(family: str) -> str:
    """Choose what goes on the wall, and how large."""
    catalogue = store().catalogue()
    if family not in catalogue.family:
        raise NotFound(f"No family goes by {family!r}", "Choose one among the charts.")
    kinds = [(kind, catalogue.kind[kind].name) for kind in kinds_of(catalogue, family)]
    return render_template(
        "wallcharts/choose.html",
        family=family,
        kinds=kinds,
        chosen=request.args.getlist("kind"),
        sheets=[(sheet, _TITLES[sheet], *SHEETS_MM[sheet]) for sheet in SHEETS_MM],
    )


@bp.get("/<family>/sheets.pdf")
def sheets(family: str) -> Response:
    """Draw the sheets."""
    catalogue = store().catalogue()
    charts = wall_charts(store(), family, request.args.getlist("kind"))
    title = f"{catalogue.family[family].name}: what goes where"
    data = wall_pdf(charts, request.args.get("sheet", "a4"), title)
    return Response(
        data, mimetype="application/pdf", headers={"Content-Disposition": "inline; filename=wall-chart.pdf"}
    )
