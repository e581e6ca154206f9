"""What a link shows to whoever has it: one family's charts or one list, to read, and no way from there."""

from __future__ import annotations

from itertools import groupby

from flask import Blueprint, make_response, render_template
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.kernel.tables import VERDICTS
from stash.services import links, uses
from stash.services.links import Link
from stash.services.shared_pages import family_kinds, shown_list
from stash.web.shop import store

bp = Blueprint("shared", __name__, url_prefix="/s")


@bp.get("/<token>")
def page(token: str) -> Response:
    """Show the list, or the kinds of the family."""
    link = links.look(store(), token)
    if link.what == "family":
        kinds = family_kinds(store(), link.target)
        return _private(render_template("shared/family.html", link=link, kinds=kinds, token=token))
    lines = shown_list(store(), link.what)
    return _private(render_template("shared/list.html", link=link, lines=lines, title=links.SHOWN[link.what]))


@bp.get("/<token>/<kind>")
def chart(token: str, kind: str) -> Response:
    """Show the chart of one kind in the family."""
    link = links.look(store(), token)
    if kind not in dict(_kinds(link)):
        raise NotFound("This link shows no such chart", "Go back to the charts it shows.")
    found = uses.chart(store(), link.target, kind)
    eras = [
        (generation, len(list(columns)))
        for generation, columns in groupby(found.columns, key=lambda column: column.generation)
    ]
    return _private(
        render_template(
            "shared/chart.html", link=link, kind=kind, chart=found, eras=eras, verdicts=VERDICTS, token=token
        )
    )


def _kinds(link: Link) -> tuple[tuple[str, str], ...]:
    return family_kinds(store(), link.target) if link.what == "family" else ()


def _private(body: str) -> Response:
    """An answer that keeps its address to itself: it is the key."""
    answer = make_response(body)
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    return answer
