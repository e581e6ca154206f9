"""One model: its stock sheet by year, what is owned of it, and what it takes."""

from __future__ import annotations

from flask import Blueprint, render_template

from stash.errors import NotFound
from stash.services import page_rows, sheets
from stash.services.page_lists import machine_line
from stash.web.shop import store

bp = Blueprint("models", __name__, url_prefix="/models")


@bp.get("/<key>")
def page(key: str) -> str:
    """Show a model."""
    catalogue, stock = store().catalogue(), store().stock()
    model = catalogue.model.get(key)
    if model is None:
        raise NotFound(f"No model goes by {key!r}", "Look in the list of models.")
    groups: dict[str, list[sheets.StockLine]] = {}
    for line in sheets.stock_sheet(catalogue, model):
        groups.setdefault(line.kind.system or "other", []).append(line)
    owned = sorted((row for row in stock.machines.values() if row.model == key), key=lambda row: row.code)
    return render_template(
        "models/page.html",
        model=model,
        row=page_rows.row(store(), "models", (key,)),
        systems=sorted(groups.items()),
        family=catalogue.generation[model.generation].family,
        owned=[machine_line(catalogue, stock, machine) for machine in owned if machine.state != "gone"],
        wanted=any(row.model == key for row in stock.wanted),
    )
