"""One design: what it measures, its numbers, what it fits, where it lies loose and where it is fitted."""

from __future__ import annotations

from flask import Blueprint, render_template

from stash.errors import NotFound
from stash.key.lookalikes import look_alikes
from stash.services import fits, page_rows
from stash.web.fit_groups import grouped_fits
from stash.web.shop import store

bp = Blueprint("designs", __name__, url_prefix="/designs")


@bp.get("/<key>")
def page(key: str) -> str:
    """Show a design."""
    catalogue, stock = store().catalogue(), store().stock()
    design = catalogue.design.get(key)
    if design is None:
        raise NotFound(f"No design goes by {key!r}", "Look in the list of designs.")
    answer = fits.fits(store(), key)
    return render_template(
        "designs/page.html",
        design=design,
        row=page_rows.row(store(), "designs", (key,)),
        measures=page_rows.rows(store(), "design_measures", {"design": key}, size=200).rows,
        numbers=catalogue.numbers_of.get(key, ()),
        alike=look_alikes(catalogue, key),
        answer=answer,
        groups=grouped_fits(answer.fits),
        machines=grouped_fits(answer.machines),
        loose=sorted(
            (lot for lot in stock.lots.values() if lot.design == key and lot.quantity), key=lambda lot: lot.code
        ),
        carried=[
            (machine, position)
            for machine in sorted(stock.machines.values(), key=lambda row: row.code)
            for position, carried in machine.fitted.items()
            if carried.design == key and carried.state in {"present", "faulty"}
        ],
    )
