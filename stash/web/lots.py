"""Loose parts: the list, one lot and what it is good for, and putting parts on the shelf."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput, NotFound
from stash.fit.facts import Lot
from stash.kernel.codes import grouped, parse_code
from stash.kernel.ends import place_end
from stash.kernel.tables import CONDITIONS
from stash.key.lookalikes import look_alikes
from stash.services import arrivals, fits, history, page_lists, page_rows, parts, standard_parts
from stash.services.loans import loans
from stash.services.matched import warn_lot
from stash.services.reservations import promises
from stash.services.titles import lot_title
from stash.web.access import who
from stash.web.acts import design_field, place_field
from stash.web.choosing import fields_of, lot_filter
from stash.web.fit_groups import grouped_fits, part_page
from stash.web.forms import Field, Form, answered, choices
from stash.web.links import address
from stash.web.measuring import beside_measures, measure_fields, measured, plain
from stash.web.paging import page_number
from stash.web.shop import store

bp = Blueprint("lots", __name__, url_prefix="/lots")

_RECENT = 6


@bp.get("/")
def index() -> str:
    """List loose parts, filtered."""
    wanted = lot_filter(request.args)
    page = page_lists.lots(store(), wanted, page_number())
    kept = {name: text for name, text in request.args.items() if text and name != "page"}

    def turned(number: int) -> str:
        return address("lots.index", {**kept, "page": number})

    return render_template(
        "lots/index.html",
        page=page,
        wanted=wanted,
        turned=turned,
        labels=address("labels.index", {**kept, "listed": "yes"}),
        kinds=_used_kinds(),
        conditions=choices(CONDITIONS, blank="any"),
        places=page_rows.options(store(), "places", most=600),
    )


@bp.get("/lent")
def lent() -> str:
    """List what is lent, and take it back."""
    return render_template("lots/lent.html", loans=loans(store()))


@bp.get("/<code>")
def page(code: str) -> str:
    """Show a lot: what it is, where it lies, what it fits and on whose word."""
    lot = lot_of(code)
    return render_template(
        "lots/page.html",
        lot=lot,
        row=page_rows.row(store(), "lots", (lot.code,)),
        fitting=part_page(store(), lot.code),
        recent=history.history(store(), lot=lot.code, limit=_RECENT),
        fresh=request.args.get("fresh") == "yes",
        alike=page_lists.alike(store().stock(), lot),
        taken_for=look_alikes(store().catalogue(), lot.design) if lot.design else (),
        matched=warn_lot(store(), lot.code, place_end(lot.place)),
        promises=promises(store().stock(), lot.code),
        loans=loans(store(), lot.code),
    )


@bp.get("/<code>/machines")
def machines(code: str) -> str:
    """Say of every owned machine whether it takes a lot, and why."""
    lot = lot_of(code)
    answer = fits.fits(store(), lot.code)
    return render_template(
        "charts/machines.html",
        title=lot_title(store().catalogue(), lot),
        back=address("lots.page", {"code": lot.code}),
        part=answer.part,
        groups=grouped_fits(answer.machines),
        lot=lot.code if lot.quantity else "",
        ref=lot.code if lot.design else "",
    )


@bp.route("/add", methods=["GET", "POST"])
def add() -> Response | str | tuple[str, int]:
    """Put parts on the shelf: first which kind, then the rest."""
    given = request.values.to_dict()
    kind = given.get("kind", "")
    if kind not in store().catalogue().kind:
        return _which_kind(given)
    measures = {name.removeprefix("m-"): text for name, text in given.items() if name.startswith("m-")}
    without = set[str]() if given.get("code") else {"code"}
    fields = _lot_fields(kind, {"quantity": "1", **given}, measures, without)
    form = Form(fields, submit="Put on the shelf", hidden={"kind": kind}, table="lots")

    def act(sent: Form) -> tuple[str, str]:
        try:
            done = arrivals.arrive(store(), "lots", {**plain(sent), "kind": kind}, measured(sent), who=who())
        except InvalidInput as error:
            raise beside_measures(error, sent) from error
        return done.said, url_for("lots.page", code=done.codes[0], fresh="yes")

    name = store().catalogue().kind[kind].name
    return answered(
        form,
        act,
        lambda shown: render_template(
            "form.html", form=shown, title=f"Put on the shelf: {name}", back=url_for("lots.add"), trail="Another kind"
        ),
    )


@bp.route("/<code>/edit", methods=["GET", "POST"])
def edit(code: str) -> Response | tuple[str, int]:
    """Change what is known of a lot; quantity and place are changed by counting and moving."""
    lot = lot_of(code)
    row = page_rows.row(store(), "lots", (lot.code,))
    values = {
        each.cells["measure"]: each.cells["value"]
        for each in page_rows.rows(store(), "lot_measures", {"lot": lot.code}, size=500).rows
    }
    fields = _lot_fields(lot.kind, row.cells, values, without={"code", "quantity", "place"})
    form = Form(fields, hidden={"version": str(row.version)}, table="lots")
    home = url_for("lots.page", code=lot.code)

    def act(sent: Form) -> tuple[str, str]:
        seen = sent.hidden["version"]
        try:
            done = arrivals.describe(
                store(), lot.code, plain(sent), measured(sent), who=who(), version=int(seen) if seen.isdigit() else None
            )
        except InvalidInput as error:
            raise beside_measures(error, sent) from error
        return done.said, home

    title = f"Edit {lot_title(store().catalogue(), lot)}"
    return answered(
        form,
        act,
        lambda shown: render_template(
            "form.html", form=shown, title=title, back=home, trail=grouped(lot.code), row=True
        ),
    )


def lot_of(code: str) -> Lot:
    """Return the lot a code in an address names.

    Raises:
        NotFound: No lot has it.
    """
    parsed = parse_code(code)
    lot = store().stock().lots.get(str(parsed)) if parsed else None
    if lot is None:
        raise NotFound(f"No loose parts have the code {code}", "Scan the label again, or look in the list.")
    return lot


def _which_kind(given: dict[str, str]) -> Response | str:
    """Ask for a stamped number or a kind; a number that is known says the kind itself."""
    number, problem = given.get("number_seen", "").strip(), ""
    rows = [row for row in parts.numbers_like(store().catalogue(), number) if row.design] if number else []
    designs = sorted({row.design for row in rows})
    kept = {name: given[name] for name in ("code", "place", "from_machine", "number_seen") if given.get(name)}
    if len(designs) == 1:
        design = store().catalogue().design[designs[0]]
        return redirect(address("lots.add", {"kind": design.kind, "design": design.key, **kept}), 303)
    standard = standard_parts.seen(store().catalogue(), number) if number and not designs else None
    if standard is not None:
        cells = {} if standard.design else {f"m-{key}": cell for key, cell in standard.cells.items()}
        return redirect(address("lots.add", {"kind": standard.kind, "design": standard.design, **cells, **kept}), 303)
    if number and not designs:
        problem = f"No number on record reads {number}: choose the kind, and the number is kept with the part."
    return render_template(
        "lots/which.html", kept=kept, kinds=kinds_by_system(), problem=problem, rows=rows, number=number
    )


_PAPERS = ("from_machine", "from_position", "acquired_on", "paid", "note")
_ELSEWHERE = frozenset({"kind", "counted_on"})
"""What is said before the form, or by counting."""


def _lot_fields(kind: str, cells: Mapping[str, str], values: Mapping[str, str], without: set[str]) -> tuple[Field, ...]:
    """What one says of a lot: what it is, what was measured on it, its papers."""
    known: list[Field] = []
    papers: list[Field] = []
    for each in fields_of("lots", cells, without=_ELSEWHERE | without):
        if each.name == "design":
            known.append(design_field(kind, each.value, blank="not identified yet"))
        elif each.name == "place":
            known.append(place_field("place", "place", each.value))
        elif each.name in _PAPERS:
            papers.append(replace(each, group="Papers"))
        else:
            known.append(each)
    measures = (replace(each, group="Measured or seen on it") for each in measure_fields(kind, values))
    return (*known, *measures, *sorted(papers, key=lambda each: _PAPERS.index(each.name)))


def _used_kinds() -> list[tuple[str, str]]:
    catalogue = store().catalogue()
    return sorted(((key, catalogue.kind[key].name) for key in store().stock().kinds), key=lambda pair: pair[1])


def kinds_by_system() -> dict[str, list[tuple[str, str]]]:
    """Return ``{system: [(kind, its name)]}``, both in order of name."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for kind in store().catalogue().kind.values():
        groups.setdefault(kind.system or "other", []).append((kind.key, kind.name))
    return {system: sorted(groups[system], key=lambda pair: pair[1]) for system in sorted(groups)}
