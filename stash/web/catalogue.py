"""The catalogue: lists and forms of its tables, all made from the tables' description."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import NotFound
from stash.kernel.tables import TABLE_BY_NAME, Table
from stash.services import new_rows, page_rows, rows
from stash.services.health import health as looked_over
from stash.web import words
from stash.web.access import may_change, who
from stash.web.choosing import fields_of, new_fields_of
from stash.web.forms import Form, answered
from stash.web.links import address, within
from stash.web.names import Names
from stash.web.paging import page_number
from stash.web.removing import Removal, removed
from stash.web.row_names import edit_url, href, own_page, titled
from stash.web.shop import store

_MOST_FINDINGS = 150
"""Findings shown on one page. Source: project decision, to keep pages light."""

bp = Blueprint("catalogue", __name__, url_prefix="/catalogue")

SHELVES = (
    ("Who made what", ("makers", "families", "generations", "models", "wanted")),
    ("Parts", ("kinds", "measures", "designs", "design_measures", "numbers")),
    ("What goes where", ("positions", "came_on", "mates", "rules")),
    ("Where I live", ("law_lines",)),
)
"""The tables as the index of the catalogue groups them."""

LOOKED_AT = frozenset({"mates", "rules"})
"""Tables with forms of their own, which show what a change does before it is saved."""

EDITABLE = frozenset(name for _, names in SHELVES for name in names) | {"build_parts", "lot_measures"}


@bp.get("/")
def index() -> str:
    """Show the shelves of the catalogue."""
    names = [name for _, shelf in SHELVES for name in shelf]
    return render_template(
        "catalogue/index.html", shelves=SHELVES, counts=page_rows.counts(store(), names), about=_about()
    )


@bp.get("/health")
def health() -> str:
    """Show what the catalogue contradicts itself in, what can never matter, and what nobody has measured."""
    found = looked_over(store())
    return render_template(
        "catalogue/health.html", found=found[:_MOST_FINDINGS], more=max(0, len(found) - _MOST_FINDINGS)
    )


@bp.get("/<table>/")
def listed(table: str) -> str:
    """List a table's rows."""
    described = _described(table)
    where = {name: request.args[name] for name in described.names if request.args.get(name)}
    asked = request.args.get("q", "").strip()
    page = page_rows.rows(store(), table, where, words=asked, number=page_number())

    def turned(number: int) -> str:
        return address("catalogue.listed", {"table": table, **where, "q": asked, "page": number})

    return render_template(
        "catalogue/list.html",
        table=described,
        page=page,
        asked=asked,
        where=where,
        turned=turned,
        href=href,
        said=_SAID_ELSEWHERE.get(table, _SAID_ALWAYS),
    )


@bp.route("/<table>/add", methods=["GET", "POST"])
def add(table: str) -> Response | tuple[str, int]:
    """Add a row."""
    described = _described(table)
    if table in LOOKED_AT:
        return redirect(address(f"{table}.say", request.args.to_dict()), 303)
    given = {**request.args.to_dict(), **request.form.to_dict()}
    form = Form(new_fields_of(table, given), submit=f"Add {words.one_of(table)}", table=table)

    def act(sent: Form) -> tuple[str, str]:
        cells = new_rows.with_key(store(), table, sent.cells())
        rows.save_row(store(), table, cells, None, None, who())
        return f"{words.one_of(table).capitalize()} added.", _onward(described, cells)

    return answered(form, act, lambda shown: _form_page(described, shown, f"Add {words.one_of(table)}"))


@bp.route("/<table>/edit", methods=["GET", "POST"])
def edit(table: str) -> Response | tuple[str, int]:
    """Change a row, named by its identity in the query."""
    described = _described(table)
    identity = _identity(described)
    if table in LOOKED_AT and may_change():
        return redirect(address(f"{table}.change", request.args.to_dict()), 303)
    row = page_rows.row(store(), table, tuple(identity.values()))
    cells = {**row.cells, **(request.form.to_dict() if request.method == "POST" else {})}
    form = Form(fields_of(table, cells), hidden={"version": str(row.version)}, table=table)

    def act(sent: Form) -> tuple[str, str]:
        version = sent.hidden.get("version", "")
        seen = int(version) if version.isdigit() else None
        rows.save_row(store(), table, sent.cells(), identity, seen, who())
        return f"{words.one_of(table).capitalize()} saved.", _onward(described, sent.cells())

    def show(shown: Form) -> str:
        return _form_page(described, shown, titled(row, Names()), row=row, identity=identity)

    return answered(form, act, show)


@bp.route("/<table>/remove", methods=["GET", "POST"])
def remove(table: str) -> Response | tuple[str, int]:
    """Remove a row, after a look at it."""
    described = _described(table)
    identity = _identity(described)
    if table in LOOKED_AT:
        return redirect(address(f"{table}.withdraw", request.args.to_dict()), 303)
    onward = url_for("catalogue.listed", table=table)
    return removed(Removal(table, identity, onward, edit_url(table, tuple(identity.values()))))


_SAID_ALWAYS = frozenset({"name", "note", "caution", "how", "reason"})
_SAID_ELSEWHERE = {
    "rules": frozenset(TABLE_BY_NAME["rules"].names) - {"because_mate", "tell", "minutes", "machine"},
    "mates": frozenset(TABLE_BY_NAME["mates"].names) - {"key"},
    "came_on": _SAID_ALWAYS | {"design", "position", "generation", "model"},
    "positions": _SAID_ALWAYS | {"generation", "model", "position"},
    "design_measures": _SAID_ALWAYS | {"design", "measure"},
    "wanted": _SAID_ALWAYS | {"model"},
    "measures": _SAID_ALWAYS | {"kind"},
    "numbers": _SAID_ALWAYS | {"number", "maker"},
    "build_parts": _SAID_ALWAYS | {"build", "position", "design"},
    "models": _SAID_ALWAYS | {"maker"},
    "generations": _SAID_ALWAYS | {"family"},
}
"""Columns a list leaves out: long texts, and what the title of a row already says."""


def _form_page(table: Table, form: Form, title: str, **more: object) -> str:
    cancel = within(request.args.get("then", ""), url_for("catalogue.listed", table=table.name))
    return render_template("catalogue/form.html", table=table, form=form, title=title, cancel=cancel, **more)


def _onward(table: Table, cells: Mapping[str, str]) -> str:
    listed = own_page(table.name, cells.get("key", "")) or url_for("catalogue.listed", table=table.name)
    return within(request.args.get("then", ""), listed)


def _described(table: str) -> Table:
    if table not in EDITABLE:
        raise NotFound(f"The catalogue has no table {table!r}", "Look at its index.")
    return TABLE_BY_NAME[table]


def _identity(table: Table) -> dict[str, str]:
    return {name: request.args.get(name, "") for name in table.identity}


def _about() -> dict[str, str]:
    return {table.name: table.about for table in TABLE_BY_NAME.values()}
