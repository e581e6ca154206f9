"""Bins and other places: the tree, and one place with what is inside and what each is good for."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import Conflict, InvalidInput, NotFound
from stash.kernel.codes import grouped, parse_code
from stash.kernel.tables import Column
from stash.plan.facts import Place
from stash.services import arrivals, count_plan, history, lots, page_places, page_rows, rows, uses
from stash.services.handling import Done
from stash.services.home import lots_in, mixed_bins
from stash.services.page_lists import Page
from stash.services.titles import lot_title
from stash.web.access import who
from stash.web.acts import acted
from stash.web.choosing import fields_of
from stash.web.forms import Field, Form, answered
from stash.web.paging import page_number
from stash.web.shop import store

bp = Blueprint("places", __name__, url_prefix="/places")

_RECENT = 6
_PLACES_SHOWN = 100
_MOST_USES = 30
"""Lots of a place whose uses are worked out and shown; more are listed with a pointer to the list."""


@bp.get("/")
def index() -> str:
    """Show the tree of places."""
    mixed = {each.place.code: each for each in mixed_bins(store())}
    only_mixed = request.args.get("mixed") == "yes"
    lines = page_places.all_places(store())
    if only_mixed:
        lines = tuple(line for line in lines if line.place.code in mixed)
    last = max(1, -(-len(lines) // _PLACES_SHOWN))
    number = min(page_number(), last)
    shown = lines[(number - 1) * _PLACES_SHOWN : number * _PLACES_SHOWN]

    def turned(number: int) -> str:
        return url_for("places.index", page=number, mixed="yes" if only_mixed else "")

    return render_template(
        "places/index.html",
        page=Page(shown, len(lines), number, last),
        mixed=mixed,
        only_mixed=only_mixed,
        waiting=count_plan.longest_uncounted(store())[:3] if number == 1 else (),
        turned=turned,
    )


@bp.get("/<code>")
def page(code: str) -> str:
    """Show a place: what is inside, and what each is good for."""
    place, stock, catalogue = place_of(code), store().stock(), store().catalogue()
    inside = lots_in(stock, place.code)
    mixed = next((each for each in mixed_bins(store()) if each.place.code == place.code), None)
    good = uses.uses(store(), inside[:_MOST_USES])
    return render_template(
        "places/page.html",
        place=place,
        path=page_places.path(stock, place),
        within=[line for line in page_places.tree(stock, place.code) if line.depth == 0],
        uses=sorted(good, key=lambda use: (not use.gaps, lot_title(catalogue, use.lot), use.lot.code)),
        total=len(inside),
        machines=sorted((row for row in stock.machines.values() if row.place == place.code), key=lambda row: row.code),
        mixed=mixed,
        recent=history.history(store(), place=place.code, limit=_RECENT),
    )


@bp.route("/add", methods=["GET", "POST"])
def add() -> Response | tuple[str, int]:
    """Add a place; without a code it gets a new one."""
    without = ("counted_on",) if request.values.get("code") else ("code", "counted_on")
    form = Form(fields_of("places", request.values.to_dict(), without=without), submit="Add place", table="places")

    def act(sent: Form) -> tuple[str, str]:
        done = arrivals.arrive(store(), "places", sent.cells(), who=who())
        return done.said, url_for("places.page", code=done.codes[0])

    back = url_for("places.index")
    return answered(
        form,
        act,
        lambda shown: render_template("form.html", form=shown, title="Add a bin or place", back=back, trail="Bins"),
    )


@bp.route("/<code>/edit", methods=["GET", "POST"])
def edit(code: str) -> Response | tuple[str, int]:
    """Rename a place, or put it inside another."""
    place = place_of(code)
    row = page_rows.row(store(), "places", (place.code,))
    form = Form(
        fields_of("places", row.cells, fixed=("code",), without=("counted_on",)),
        hidden={"version": str(row.version)},
        table="places",
    )
    home = url_for("places.page", code=place.code)

    def act(sent: Form) -> tuple[str, str]:
        seen = sent.hidden["version"]
        rows.save_row(
            store(), "places", sent.cells(), {"code": place.code}, int(seen) if seen.isdigit() else None, who()
        )
        return "Place saved.", home

    return answered(
        form,
        act,
        lambda shown: render_template(
            "form.html", form=shown, title=f"Edit {place.name}", back=home, trail=grouped(place.code), row=True
        ),
    )


@bp.route("/<code>/put-in", methods=["GET", "POST"])
def put_in(code: str) -> Response | tuple[str, int]:
    """Move scanned lots into a place."""
    place = place_of(code)
    codes = Field(
        Column("codes", required=True), label="codes of the lots", hint="Scan one after the other, with blanks between"
    )
    form = Form((codes,), submit="Put them here")

    def act(sent: Form) -> Done:
        texts = str(sent.read()["codes"]).replace(",", " ").split()
        parsed = [str(parse_code(text.rsplit("/", 1)[-1])) for text in texts]
        strange = [text for text, code in zip(texts, parsed, strict=True) if code not in store().stock().lots]
        if strange:
            raise InvalidInput(f"No loose parts have the code {', '.join(strange)}", "Scan that label again.")
        done = [lots.move(store(), code, place.code, who=who()) for code in dict.fromkeys(parsed)]
        if not done:
            raise InvalidInput("No code was given", "Scan a label.")
        return Done(done[-1].batch, f"{len(done)} now in {place.name}.")

    home = url_for("places.page", code=place.code)
    return acted(f"Put into {place.name}", form, act, home, back=home, about=place.name)


@bp.post("/<code>/take-out")
def take_out(code: str) -> Response:
    """Take one of a lot out of its bin, to be put away elsewhere or used: one press from what is inside."""
    place, lot = place_of(code), store().stock().lots.get(request.form.get("lot", ""))
    if lot is None or lot.place != place.code:
        raise Conflict(f"That lot is not in {place.name} any more", "Look at the bin as it is now.")
    done = lots.move(store(), lot.code, "", who=who(), quantity=1)
    title = lot_title(store().catalogue(), lot)
    if done.codes:
        flash(f"One {title} taken out. It is {grouped(done.codes[0])} now, and wants a label if it stays out.")
    else:
        flash(f"{title} taken out. {grouped(lot.code)} is not put away now.")
    return redirect(url_for("places.page", code=place.code), 303)


def place_of(code: str) -> Place:
    """Return the place a code in an address names.

    Raises:
        NotFound: No place has it.
    """
    parsed = parse_code(code)
    place = store().stock().places.get(str(parsed)) if parsed else None
    if place is None:
        raise NotFound(f"No place has the code {code}", "Scan its label again, or look in the list.")
    return place
