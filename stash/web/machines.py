"""Machines: the list, and one machine with its as-built sheet."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from flask import Blueprint, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.kernel.codes import grouped
from stash.kernel.tables import MACHINE_STATES
from stash.services import arrivals, checks, engine_sums, history, page_lists, page_rows, photos, rows, sheets
from stash.services.gaps import gaps
from stash.services.titles import machine_title
from stash.web.access import who
from stash.web.choosing import fields_of
from stash.web.forms import Form, answered
from stash.web.gap_views import view
from stash.web.paging import page_number
from stash.web.shop import store

bp = Blueprint("machines", __name__, url_prefix="/machines")

_RECENT = 6
_MOST_PAPERS = 2000


@bp.get("/")
def index() -> str:
    """List machines."""
    state = request.args.get("state", "")
    state = state if state in MACHINE_STATES else ""
    asked = request.args.get("q", "").strip()
    page = page_lists.machines(store(), state, asked, page_number())

    def turned(number: int) -> str:
        return url_for("machines.index", state=state, q=asked, page=number)

    states = page_lists.machine_states(store())
    return render_template("machines/index.html", page=page, states=states, state=state, asked=asked, turned=turned)


@bp.get("/papers")
def papers() -> str:
    """List every machine with its papers, to print for an insurer."""
    rows = page_rows.rows(store(), "machines", size=_MOST_PAPERS).rows
    kept = [row for row in rows if row.cells["state"] != "gone"]
    paid = sum(Decimal(row.cells["paid"]) for row in kept if row.cells["paid"])
    today = dt.datetime.now().astimezone().date()
    return render_template(
        "machines/papers.html", rows=kept, paid=paid, today=today, photos=photos.first_photos(store())
    )


@bp.get("/<code>")
def page(code: str) -> str:
    """Show a machine: what it carries, what is wrong with it, where its originals are."""
    catalogue, stock = store().catalogue(), store().stock()
    machine = sheets.machine_facts(store(), code)
    systems = sheets.as_built(catalogue, stock, machine)
    lines = [line for system in systems for line in system.lines]
    tally = {state: sum(line.state == state for line in lines) for state in sheets.STATES}
    gap = next((each for each in gaps(store()) if each.key == f"machine:{machine.code}"), None)
    return render_template(
        "machines/page.html",
        machine=machine,
        row=page_rows.row(store(), "machines", (machine.code,)),
        title=machine_title(catalogue, machine),
        systems=systems,
        tally=tally,
        check=checks.check(store(), machine.code),
        notes={
            each.cells["position"]: each.cells["note"]
            for each in page_rows.rows(store(), "fitted", {"machine": machine.code}, size=_MOST_PAPERS).rows
            if each.cells["note"]
        },
        sums=engine_sums.every_sum(catalogue, machine, stock.law_lines),
        gap=view(catalogue, stock, gap) if gap else None,
        originals=[(line, lot) for line in lines for lot in line.originals],
        recent=history.history(store(), machine=machine.code, limit=_RECENT),
    )


@bp.route("/add", methods=["GET", "POST"])
def add() -> Response | tuple[str, int]:
    """Add a machine; without a code it gets a new one."""
    without = () if request.values.get("code") else ("code",)
    form = Form(
        fields_of("machines", request.values.to_dict(), without=without), submit="Add machine", table="machines"
    )

    def act(sent: Form) -> tuple[str, str]:
        done = arrivals.arrive(store(), "machines", sent.cells(), who=who())
        return f"{done.said} Note on its sheet what is missing or changed.", url_for(
            "machines.page", code=done.codes[0]
        )

    def show(shown: Form) -> str:
        return render_template(
            "form.html",
            form=shown,
            title="Add a machine",
            back=url_for("machines.index"),
            trail="Machines",
            needs=first_a_model(),
        )

    return answered(form, act, show)


def first_a_model() -> tuple[str, str, str] | None:
    """Where to begin while there is no model, with what to say about it; None once there is one."""
    if store().catalogue().models:
        return None
    return url_for("making.first"), "Add a model by its names", "no model is in the catalogue yet"


@bp.route("/<code>/edit", methods=["GET", "POST"])
def edit(code: str) -> Response | tuple[str, int]:
    """Change what is known of a machine as a whole."""
    machine = sheets.machine_facts(store(), code)
    row = page_rows.row(store(), "machines", (machine.code,))
    form = Form(
        fields_of("machines", row.cells, fixed=("code",)), hidden={"version": str(row.version)}, table="machines"
    )
    home = url_for("machines.page", code=machine.code)

    def act(sent: Form) -> tuple[str, str]:
        seen = sent.hidden["version"]
        rows.save_row(
            store(), "machines", sent.cells(), {"code": machine.code}, int(seen) if seen.isdigit() else None, who()
        )
        return "Machine saved.", home

    title = f"Edit {machine_title(store().catalogue(), machine)}"
    return answered(
        form,
        act,
        lambda shown: render_template(
            "form.html", form=shown, title=title, back=home, trail=grouped(machine.code), row=True
        ),
    )
