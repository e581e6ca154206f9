"""Noting what somebody found by trying a part on a machine: it becomes a claim with the strongest evidence."""

from __future__ import annotations

import datetime as dt

from flask import Blueprint, request, url_for
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.kernel.codes import grouped
from stash.kernel.tables import RULE_VERDICTS, TABLE_BY_NAME, Cell, Column
from stash.services.handling import Done
from stash.services.parts import resolve_part
from stash.services.settle import BenchFinding, settle
from stash.services.sheets import machine_facts
from stash.services.titles import lot_title, machine_title
from stash.web.access import who
from stash.web.acts import acted
from stash.web.forms import Field, Form, choices
from stash.web.links import within
from stash.web.shop import store

bp = Blueprint("trying", __name__, url_prefix="/machines")


@bp.route("/<code>/found", methods=["GET", "POST"])
def found(code: str) -> Response | tuple[str, int]:
    """Note whether a part went on."""
    catalogue, stock = store().catalogue(), store().stock()
    machine = machine_facts(store(), code)
    ref, position = request.values.get("ref", ""), request.values.get("position", "")
    part = resolve_part(catalogue, stock, ref)
    if position not in catalogue.positions[machine.model]:
        raise NotFound(f"This model has no position {position!r}", "Choose one on the machine's sheet.")
    rules = TABLE_BY_NAME["rules"]
    form = Form(
        (
            Field(
                Column("verdict", Cell.CHOICE, required=True, choices=RULE_VERDICTS),
                options=choices(RULE_VERDICTS, blank="choose"),
                label="what you found",
            ),
            Field(rules.column("reason"), label="what decided", hint="In your own words"),
            Field(rules.column("work"), label="the work it needed"),
            Field(rules.column("minutes"), label="how long that took", hint="In minutes"),
            Field(rules.column("companions"), label="what had to change too"),
        ),
        submit="Note it",
        hidden={"ref": ref, "position": position},
        table="rules",
    )

    def act(sent: Form) -> Done:
        cells = sent.read()
        minutes = cells["minutes"]
        told = BenchFinding(
            verdict=str(cells["verdict"]),
            work=str(cells["work"] or ""),
            minutes=minutes if isinstance(minutes, int) else None,
            companions=str(cells["companions"] or ""),
            reason=str(cells["reason"] or ""),
        )
        today = dt.datetime.now().astimezone().date()
        return settle(store(), ref, machine.code, position, told, who=who(), on=today)

    lot = stock.lots.get(part.lot)
    name = lot_title(catalogue, lot) if lot else catalogue.design[part.design].name or part.design
    title = f"Tried {name} at the {position}"
    about = f"{machine_title(catalogue, machine)} ({grouped(machine.code)})"
    home = url_for("machines.page", code=machine.code)
    onward = within(request.args.get("then", ""), home)
    return acted(title, form, act, onward, back=onward, about=about)
