"""The muster: the whole collection on one page, holes and all."""

from __future__ import annotations

from flask import Blueprint, render_template, url_for

from stash.services.muster import STATES, Tile, muster
from stash.web.links import address_of
from stash.web.shop import store

bp = Blueprint("muster", __name__, url_prefix="/muster")


@bp.get("/")
def index() -> str:
    """Show every model, and which of them stand here."""
    return render_template("muster/index.html", muster=muster(store()), states=STATES, onward=_onward)


def _onward(tile: Tile) -> str:
    """Where a tile leads: to its only machine, to the gap of a wanted model, or to the model."""
    machines = tile.kept or tile.for_parts
    if tile.state == "wanted":
        return url_for("gaps.page", gap=tile.wanted)
    return address_of("machine", machines[0]) if len(machines) == 1 else address_of("model", tile.model.key)
