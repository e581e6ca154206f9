"""New models and designs from what is there: a model like that one, a design from a part in the hand."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.kernel.codes import grouped
from stash.kernel.tables import TABLE_BY_NAME, Column
from stash.services import design_from_lot, first_model, model_like, page_rows
from stash.services.titles import lot_title, model_title
from stash.web.access import who
from stash.web.choosing import new_fields_of
from stash.web.forms import Field, Form, answered
from stash.web.lots import kinds_by_system, lot_of
from stash.web.measuring import PREFIX, measure_fields, measured, plain
from stash.web.shop import store

bp = Blueprint("making", __name__)


@bp.route("/first-model", methods=["GET", "POST"])
def first() -> Response | tuple[str, int]:
    """Add a model with everything around it by its names."""
    given = request.form if request.method == "POST" else request.args
    ticked = given.getlist("kind")
    years = [TABLE_BY_NAME["models"].column(name) for name in ("from_year", "to_year")]
    fields = (
        Field(Column("maker", required=True), label="maker", hint="As it stands on the tank or the plate"),
        Field(Column("family", required=True), label="family", hint="What its sisters share, such as the engine"),
        Field(Column("generation"), label="generation", hint="An era of the family's design; empty is the first"),
        Field(Column("model", required=True), label="model", hint="What it was sold as"),
        *(Field(column) for column in years),
    )
    form = Form(fields, submit="Add it", table="models")

    def act(sent: Form) -> tuple[str, str]:
        cells = sent.cells()
        made = first_model.first_model(store(), cells, (cells["from_year"], cells["to_year"]), ticked, who=who())
        return f"{model_title(store().catalogue(), made)} added. Now say which one you have.", url_for(
            "models.page", key=made
        )

    def show(shown: Form) -> str:
        return render_template("models/first.html", form=shown, systems=kinds_by_system(), ticked=ticked)

    return answered(form, act, show)


@bp.route("/models/<key>/like", methods=["GET", "POST"])
def like(key: str) -> Response | tuple[str, int]:
    """Add a model like that one."""
    known = model_like.pattern(store(), key)
    cells = {**known.cells, "key": "", "name": ""}
    form = Form(new_fields_of("models", cells), submit="Add it", table="models")

    def act(sent: Form) -> tuple[str, str]:
        made = model_like.model_like(store(), key, sent.cells(), who=who())
        return f"{model_title(store().catalogue(), made)} added.", url_for("models.page", key=made)

    title = model_title(store().catalogue(), key)
    return answered(
        form, act, lambda shown: render_template("models/like.html", form=shown, known=known, title=title, key=key)
    )


@bp.route("/lots/<code>/design", methods=["GET", "POST"])
def design(code: str) -> Response | tuple[str, int]:
    """Make a design of a part in the hand."""
    lot = lot_of(code)
    row = page_rows.row(store(), "lots", (lot.code,))
    values = {
        each.cells["measure"]: each.cells["value"]
        for each in page_rows.rows(store(), "lot_measures", {"lot": lot.code}, size=500).rows
    }
    number = Field(Column("number", longest=80), lot.number_seen, label="number stamped on it", hint="Empty for none")
    said = new_fields_of("designs", {}, without={"kind"})
    fields = (
        *said[:2],
        number,
        *said[2:],
        *(replace(each, group="What it measures") for each in measure_fields(lot.kind, values)),
    )
    form = Form(fields, submit="Make it a design", hidden={"version": str(row.version)}, table="designs")

    def act(sent: Form) -> tuple[str, str]:
        version = sent.hidden.get("version", "")
        cells = plain(sent)
        try:
            made = design_from_lot.design_from_lot(
                store(),
                lot.code,
                cells,
                measured(sent),
                cells["number"],
                who=who(),
                version=int(version) if version.isdigit() else None,
            )
        except InvalidInput as error:
            raise _beside(error, sent) from error
        said = f"{cells['name'] or made} is a design now, and {grouped(lot.code)} is one of it."
        return said, url_for("designs.page", key=made)

    name = lot_title(store().catalogue(), lot)
    return answered(
        form,
        act,
        lambda shown: render_template("lots/design.html", form=shown, lot=lot, name=name, code=grouped(lot.code)),
    )


def _beside(error: InvalidInput, form: Form) -> InvalidInput:
    """Put problems with measured values beside their fields."""
    filled = [measure for measure, text in measured(form).items() if text.strip()]
    problems = tuple(
        replace(each, column=PREFIX + filled[each.row - 1])
        if each.table == "design_measures" and 0 < each.row <= len(filled)
        else each
        for each in error.problems
    )
    return InvalidInput(error.message, error.hint, problems)
