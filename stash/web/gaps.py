"""Gaps: which machines and wanted models are short of what, and what would fill that."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.services import gaps as service
from stash.services.page_lists import Page
from stash.services.titles import kind_name, lot_title, place_path
from stash.web.gap_views import view, views
from stash.web.paging import page_number
from stash.web.shop import store

bp = Blueprint("gaps", __name__, url_prefix="/gaps")

_SHOWN = 24
_SHOWN_OF_EACH = 12
"""Gaps on a page of one group, and of each group where all are shown. Source: project decision, to keep pages light."""

_GROUPS = (
    ("complete", "Complete from the shelf", "Everything they need lies here."),
    ("near", "One part short", "With one more part these are done."),
    ("others", "More than one part short", ""),
)


@bp.get("/")
def index() -> str:
    """List every gap by what the shelf can do about it; one group a page at a time where it is asked for."""
    found = service.finishable(service.gaps(store()))
    catalogue, stock = store().catalogue(), store().stock()
    by_group = {"complete": found.complete, "near": found.one_short, "others": found.others}
    asked = request.args.get("group", "")
    wanted = [group for group in _GROUPS if group[0] == asked] or list(_GROUPS)
    groups = []
    for key, title, about in wanted:
        rows, size = by_group[key], _SHOWN if asked else _SHOWN_OF_EACH
        last = max(1, -(-len(rows) // size))
        at = min(page_number() if asked else 1, last)
        shown = Page(tuple(views(catalogue, stock, rows[(at - 1) * size : at * size])), len(rows), at, last)
        groups.append((key, title, about, shown))
    total = sum(page.total for *_, page in groups)
    return render_template("gaps/index.html", groups=groups, total=total, asked=asked, turned=_turned)


def _turned(group: str) -> Callable[[int], str]:
    return lambda number: url_for("gaps.index", group=group, page=number)


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
