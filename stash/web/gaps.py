"""Gaps: which machines and wanted models are short of what, and what would fill that."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.services import gaps as service
from stash.services.titles import kind_name, lot_title, place_path
from stash.web.gap_views import view, views
from stash.web.shop import store

bp = Blueprint("gaps", __name__, url_prefix="/gaps")

_GROUPS = (
    ("complete", "Complete from the shelf", "Everything they need lies here."),
    ("near", "One part short", "With one more part these are done."),
    ("others", "More than one part short", ""),
)


@bp.get("/")
def index() -> str:
    """List every gap by what the shelf can do about it."""
    found = service.finishable(service.gaps(store()))
    catalogue, stock = store().catalogue(), store().stock()
    by_group = {"complete": found.complete, "near": found.one_short, "others": found.others}
    groups = [(key, title, about, views(catalogue, stock, by_group[key])) for key, title, about in _GROUPS]
    return render_template("gaps/index.html", groups=groups, total=sum(len(each) for _, _, _, each in groups))


@bp.get("/of")
def page() -> Response | str:
    """Show one gap: its pick list, and every candidate for each position."""
    key = request.args.get("gap", "")
    gap = next((each for each in service.gaps(store()) if each.key == key), None)
    if gap is None:
        raise NotFound(f"There is no gap {key!r}", "It may be filled by now: look at the list.")
    catalogue, stock = store().catalogue(), store().stock()
    return render_template(
        "gaps/page.html",
        shown=view(catalogue, stock, gap),
        kind_name=lambda kind: kind_name(catalogue, kind),
        lot_name=lambda code: lot_title(catalogue, stock.lots[code]),
        place_name=lambda code: place_path(stock, code),
        catalogue=catalogue,
    )
