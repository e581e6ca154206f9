"""One design: what it measures, its numbers, what it fits, where it lies loose and where it is fitted."""

from __future__ import annotations

from flask import Blueprint, render_template

from stash.errors import NotFound
from stash.fit.facts import Design
from stash.fit.wording import design_name
from stash.key.lookalikes import look_alikes
from stash.services import fits, page_rows
from stash.web.fit_groups import grouped_fits, part_page
from stash.web.links import address
from stash.web.shop import store

bp = Blueprint("designs", __name__, url_prefix="/designs")


@bp.get("/<key>")
def page(key: str) -> str:
    """Show a design."""
    catalogue, stock = store().catalogue(), store().stock()
    design = _design(key)
    return render_template(
        "designs/page.html",
        design=design,
        row=page_rows.row(store(), "designs", (key,)),
        measures=page_rows.rows(store(), "design_measures", {"design": key}, size=200).rows,
        numbers=catalogue.numbers_of.get(key, ()),
        alike=look_alikes(catalogue, key),
        fitting=part_page(store(), key),
        loose=stock.lots_of.get((design.kind, key), ()),
        carried=[
            (machine, position)
            for machine in sorted(stock.machines.values(), key=lambda row: row.code)
            for position, carried in machine.fitted.items()
            if carried.design == key and carried.state in {"present", "faulty"}
        ],
    )


@bp.get("/<key>/machines")
def machines(key: str) -> str:
    """Say of every owned machine whether it takes a design, and why."""
    design = _design(key)
    answer = fits.fits(store(), key)
    return render_template(
        "charts/machines.html",
        title=design_name(store().catalogue(), design.key),
        back=address("designs.page", {"key": key}),
        part=answer.part,
        groups=grouped_fits(answer.machines),
        lot="",
        ref=key,
    )


def _design(key: str) -> Design:
    design = store().catalogue().design.get(key)
    if design is None:
        raise NotFound(f"No design goes by {key!r}", "Look in the list of designs.")
    return design
