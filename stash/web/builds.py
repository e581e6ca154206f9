"""Builds: machines to be completed, what is decided for them, and how they stand."""

from __future__ import annotations

from flask import Blueprint, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.kernel.tables import Cell, Column
from stash.services import checks, engine_sums, new_rows, page_rows, rows
from stash.services.gaps import builds_alone
from stash.services.titles import model_title
from stash.web.access import who
from stash.web.acts import design_field, lot_field
from stash.web.choosing import fields_of, new_fields_of
from stash.web.forms import Field, Form, answered
from stash.web.gap_views import view
from stash.web.machines import first_a_model
from stash.web.removing import Removal, removed
from stash.web.shop import store

bp = Blueprint("builds", __name__, url_prefix="/builds")


@bp.get("/")
def index() -> str:
    """List builds."""
    builds = sorted(
        store().stock().builds.values(), key=lambda build: (build.status != "open", build.status, build.name)
    )
    return render_template("builds/index.html", builds=builds, stands=builds_alone(store()))


@bp.get("/<key>")
def page(key: str) -> str:
    """Show a build: what is decided, and whether that goes together."""
    build = store().stock().builds.get(key)
    if build is None:
        raise NotFound(f"No build goes by {key!r}", "Look in the list.")
    sheet = store().catalogue().positions.get(build.model, {})
    decided: dict[str, list[object]] = {}
    for part in build.parts:
        decided.setdefault(part.position, []).append(part)
    found = checks.check(store(), key).findings
    catalogue, stock = store().catalogue(), store().stock()
    sums = engine_sums.every_sum(catalogue, checks.as_planned(catalogue, stock, key), stock.law_lines)
    told = [each for each in found if each.position in decided or each.level in {"stop", "wrong"}]
    standing = builds_alone(store()).get(key)
    return render_template(
        "builds/page.html",
        build=build,
        sheet=sheet,
        decided=decided,
        told=told,
        sums=sums,
        standing=standing,
        alone=view(catalogue, stock, standing.gap) if standing else None,
    )


@bp.route("/add", methods=["GET", "POST"])
def add() -> Response | tuple[str, int]:
    """Add a build."""
    given = {"status": "open", **request.values.to_dict()}
    machine = store().stock().machines.get(given.get("machine", ""))
    model = machine.model if machine else given.get("model", "")
    if model in store().catalogue().model and not given.get("name"):
        given = {
            **given,
            "name": model_title(store().catalogue(), model),
            "key": f"{model}-{given['machine'].lower()}" if machine else model,
        }
    form = Form(new_fields_of("builds", given), submit="Add build", table="builds")

    def act(sent: Form) -> tuple[str, str]:
        cells = new_rows.with_key(store(), "builds", sent.cells())
        rows.save_row(store(), "builds", cells, None, None, who())
        return "Build added.", url_for("builds.page", key=cells["key"])

    back = url_for("builds.index")
    about = "On a machine of yours, or a model from nothing"
    return answered(
        form,
        act,
        lambda shown: render_template(
            "form.html",
            form=shown,
            title="Add a build",
            back=back,
            trail="Builds",
            about=about,
            needs=first_a_model(),
        ),
    )


@bp.route("/<key>/edit", methods=["GET", "POST"])
def edit(key: str) -> Response | tuple[str, int]:
    """Change a build."""
    row = page_rows.row(store(), "builds", (key,))
    form = Form(fields_of("builds", row.cells, fixed=("key",)), hidden={"version": str(row.version)}, table="builds")
    home = url_for("builds.page", key=key)

    def act(sent: Form) -> tuple[str, str]:
        seen = sent.hidden["version"]
        rows.save_row(store(), "builds", sent.cells(), {"key": key}, int(seen) if seen.isdigit() else None, who())
        return "Build saved.", home

    title = f"Edit {row.cells['name']}"
    return answered(
        form,
        act,
        lambda shown: render_template(
            "form.html", form=shown, title=title, back=home, trail=row.cells["name"], row=True
        ),
    )


@bp.route("/<key>/decide", methods=["GET", "POST"])
def decide(key: str) -> Response | tuple[str, int]:
    """Decide which part goes into a position of a build."""
    build = store().stock().builds.get(key)
    name = request.values.get("position", "")
    position = store().catalogue().positions[build.model].get(name) if build else None
    if build is None or position is None:
        raise NotFound(f"No build {key!r} has a position {name!r}", "Choose one on the build's page.")
    lot = lot_field(position.kind, request.values.get("lot", ""))
    form = Form(
        (
            Field(Column("position", Cell.SPOT, required=True), name, fixed=True),
            Field(
                Column("lot", Cell.CODE, ref="lots"),
                lot.value,
                options=[("", "none yet"), *lot.options[1:]] if lot.options else (),
                label="loose part",
            ),
            design_field(position.kind, blank="as the loose part is", title="or only which design"),
            Field(Column("note")),
        ),
        submit="Decide",
        table="build_parts",
    )
    home = url_for("builds.page", key=key)

    def act(sent: Form) -> tuple[str, str]:
        rows.save_row(store(), "build_parts", {**sent.cells(), "build": key}, None, None, who())
        return f"Decided for the {name}.", home

    title = f"Decide the {name}"
    return answered(
        form, act, lambda shown: render_template("form.html", form=shown, title=title, back=home, trail=build.name)
    )


@bp.route("/<key>/release", methods=["GET", "POST"])
def release(key: str) -> Response | tuple[str, int]:
    """Take back what was decided for a position of a build, so that the part is free again."""
    decided = {"build": key, **{name: request.args.get(name, "") for name in ("position", "design", "lot")}}
    home = url_for("builds.page", key=key)
    return removed(Removal("build_parts", decided, home, home, "Release", "Released: the part is free again."))
