"""Planning: which builds can be completed together, from what, what the rest still lacks, and what more would give."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, current_app, flash, redirect, render_template, request, url_for
from flask.blueprints import BlueprintSetupState
from werkzeug.wrappers import Response

from stash.errors import Conflict, StashError
from stash.kernel.tables import Cell, Column
from stash.plan.answer import PlannedPart
from stash.plan.comparing import Difference, compare
from stash.plan.wares import Allowed
from stash.services.page_plan import make_plan
from stash.services.plan_lists import build_title, errands
from stash.services.plan_questions import Asked, Made, make, offers, what_if
from stash.services.plan_reserve import reserve
from stash.services.titles import place_path
from stash.web.access import who
from stash.web.acts import tick
from stash.web.forms import Field, Form, answered, told_in_words
from stash.web.jobs import Job, Jobs
from stash.web.shop import store

bp = Blueprint("plans", __name__, url_prefix="/plans")

_WAIT_S = 1.5
_SURPLUS_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Answer:
    """A plan, and the one it is held against when it asks what more would give."""

    made: Made
    before: Made | None = None
    differs: str = ""

    @property
    def difference(self) -> Difference | None:
        """What it has over the one before."""
        return compare(self.before.plan, self.made.plan) if self.before else None


@bp.record_once
def _open(state: BlueprintSetupState) -> None:
    state.app.extensions["stash_plans"] = Jobs[Answer]()


@bp.route("/", methods=["GET", "POST"])
def index() -> Response | tuple[str, int]:
    """Ask what may be used, and plan."""
    form = Form(
        (
            tick("gaps", "Plan the gaps too: machines that are short, and wanted models"),
            tick("donors", "Donors may be stripped; each costs its value"),
            tick("buy", "Priced parts may be bought, within each build's budget"),
            Field(
                Column("purse", Cell.MONEY, low=0, high=100_000_000),
                label="spend at most, over all builds",
                hint="Money; nothing here means no limit but the builds' own budgets",
            ),
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
        cells = sent.read()
        purse = cells["purse"]
        allowed = Allowed(
            donors=bool(cells["donors"]),
            buy=bool(cells["buy"]) or purse is not None,
            work=bool(cells["work"]),
            purse_minor=None if purse is None else int(str(purse)),
        )
        return "", _start(Asked(allowed, bool(cells["gaps"]), float(str(cells["seconds"]))))

    return answered(form, act, lambda shown: render_template("plans/index.html", form=shown))


def _start(asked: Asked, before: Made | None = None, differs: str = "") -> str:
    """Start planning; returns where to look."""
    shop = store()

    def work(job: Job[Answer]) -> Answer:
        made = make(
            shop,
            asked,
            progress=lambda told: setattr(job, "told", told),
            cancelled=job.cancelled.is_set,
            planner=make_plan,
        )
        return Answer(made, before, differs)

    return url_for("plans.page", ticket=_jobs().start(work, _WAIT_S))


@bp.get("/<ticket>")
def page(ticket: str) -> str:
    """Show a plan, or how far it is."""
    job = _jobs().look(ticket)
    if not job.done.is_set():
        return render_template("plans/waiting.html", told=job.told, ticket=ticket)
    answer = _answer(ticket)
    made, stock = answer.made, store().stock()

    def walked(parts: tuple[PlannedPart, ...]) -> list[PlannedPart]:
        return sorted(parts, key=lambda part: (place_path(stock, part.place), part.lot or "", part.position))

    titles = {each.build: build_title(made.catalogue, made.stock, each) for each in made.plan.builds}
    return render_template(
        "plans/page.html",
        plan=made.plan,
        allowed=made.asked.allowed,
        ticket=ticket,
        offers=offers(made),
        before=answer.before,
        differs=answer.differs,
        difference=answer.difference,
        titles=titles,
        todo=errands(made.catalogue, made.stock, made.plan),
        shown=_SURPLUS_SHOWN,
        walked=walked,
    )


@bp.post("/<ticket>/what-if")
def ask_more(ticket: str) -> Response:
    """Plan again with one thing more allowed, and hold the two side by side."""
    made = _answer(ticket).made
    try:
        asked, said = what_if(made, request.form.get("more", ""), request.form.get("amount", ""))
        return redirect(_start(asked, made, said), 303)
    except StashError as error:
        flash(told_in_words(error))
        return redirect(url_for("plans.page", ticket=ticket), 303)


@bp.post("/<ticket>/reserve")
def keep(ticket: str) -> Response:
    """Promise every loose part of the plan to its build, in one step that can be undone."""
    made = _answer(ticket).made
    try:
        done = reserve(store(), made.catalogue, made.stock, made.plan, who=who())
    except Conflict as error:
        flash(told_in_words(error))
        return redirect(url_for("plans.page", ticket=ticket), 303)
    flash(f"{done.said} The ledger can undo it as one.")
    return redirect(url_for("builds.index"), 303)


@bp.get("/<ticket>/errands")
def todo(ticket: str) -> str:
    """Show what to take on the way along the bins, what comes off donors, and what to buy; made for paper."""
    made = _answer(ticket).made
    return render_template(
        "plans/errands.html", todo=errands(made.catalogue, made.stock, made.plan), ticket=ticket, plan=made.plan
    )


@bp.post("/<ticket>/stop")
def stop(ticket: str) -> Response:
    """Stop thinking; the best plan so far is shown."""
    job = _jobs().look(ticket)
    job.cancelled.set()
    job.done.wait(_WAIT_S)
    return redirect(url_for("plans.page", ticket=ticket), 303)


def _answer(ticket: str) -> Answer:
    """The finished plan of a ticket."""
    job = _jobs().look(ticket)
    if job.failure is not None:
        raise job.failure
    if job.result is None:
        raise Conflict("That plan is still being made", "Wait until it is done, or stop it.")
    return job.result


def _jobs() -> Jobs[Answer]:
    found: Jobs[Answer] = current_app.extensions["stash_plans"]
    return found
