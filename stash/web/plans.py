"""Planning: which builds can be completed together, from what, and what the rest still lacks."""

from __future__ import annotations

from flask import Blueprint, current_app, redirect, render_template, url_for
from flask.blueprints import BlueprintSetupState
from werkzeug.wrappers import Response

from stash.kernel.tables import Cell, Column
from stash.plan.answer import Plan, PlannedPart
from stash.plan.wares import Allowed
from stash.services.page_plan import make_plan
from stash.services.titles import place_path
from stash.web.acts import tick
from stash.web.forms import Field, Form, answered
from stash.web.jobs import Job, Jobs
from stash.web.shop import store

bp = Blueprint("plans", __name__, url_prefix="/plans")

_WAIT_S = 1.5
_SURPLUS_SHOWN = 60


@bp.record_once
def _open(state: BlueprintSetupState) -> None:
    state.app.extensions["stash_plans"] = Jobs[Plan]()


@bp.route("/", methods=["GET", "POST"])
def index() -> Response | tuple[str, int]:
    """Ask what may be used, and plan."""
    form = Form(
        (
            tick("gaps", "Plan the gaps too: machines that are short, and wanted models"),
            tick("donors", "Donors may be stripped; each costs its value"),
            tick("buy", "Priced parts may be bought, within each build's budget"),
            tick("work", "Parts that need work may be used"),
            Field(
                Column("seconds", Cell.WHOLE, required=True, low=1, high=600),
                "10",
                label="think for at most",
                hint="In seconds; the best plan found by then is shown, with how far it may be from best",
            ),
        ),
        submit="Plan",
        table="plan",
    )

    def act(sent: Form) -> tuple[str, str]:
        cells, shop = sent.read(), store()
        allowed = Allowed(donors=bool(cells["donors"]), buy=bool(cells["buy"]), work=bool(cells["work"]))
        seconds = float(str(cells["seconds"]))
        with_gaps = bool(cells["gaps"])

        def work(job: Job[Plan]) -> Plan:
            return make_plan(
                shop,
                allowed,
                with_gaps=with_gaps,
                seconds=seconds,
                progress=lambda told: setattr(job, "told", told),
                cancelled=job.cancelled.is_set,
            )

        return "", url_for("plans.page", ticket=_jobs().start(work, _WAIT_S))

    return answered(form, act, lambda shown: render_template("plans/index.html", form=shown))


@bp.get("/<ticket>")
def page(ticket: str) -> str:
    """Show a plan, or how far it is."""
    job = _jobs().look(ticket)
    if not job.done.is_set():
        return render_template("plans/waiting.html", told=job.told, ticket=ticket)
    if job.failure is not None:
        raise job.failure
    names = {build.key: build.name for build in store().stock().builds.values()}
    stock = store().stock()

    def walked(parts: tuple[PlannedPart, ...]) -> list[PlannedPart]:
        return sorted(parts, key=lambda part: (place_path(stock, part.place), part.lot or "", part.position))

    return render_template("plans/page.html", plan=job.result, names_of=names, shown=_SURPLUS_SHOWN, walked=walked)


@bp.post("/<ticket>/stop")
def stop(ticket: str) -> Response:
    """Stop thinking; the best plan so far is shown."""
    job = _jobs().look(ticket)
    job.cancelled.set()
    job.done.wait(_WAIT_S)
    return redirect(url_for("plans.page", ticket=ticket), 303)


def _jobs() -> Jobs[Plan]:
    found: Jobs[Plan] = current_app.extensions["stash_plans"]
    return found
