"""Shelf sessions: choose a bin once, then put part after part into it in a few taps.

What is chosen stays in the form and in the address, so that it works without scripts and survives a closed tab. With
``shelf.js`` the same form is kept on the phone until the server has answered, and only the fragments are redrawn.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from flask import Blueprint, flash, make_response, redirect, render_template, request
from werkzeug.wrappers import Response

from stash.errors import Conflict, InvalidInput, NotFound
from stash.fit.facts import Lot
from stash.kernel.codes import parse_code
from stash.kernel.tables import TABLE_BY_NAME, Column
from stash.services import photos, shelf, shelf_offers
from stash.web.access import who
from stash.web.acts import place_field
from stash.web.choosing import field_of
from stash.web.forms import Field, Form
from stash.web.links import address
from stash.web.lots import kinds_by_system
from stash.web.measuring import PREFIX, beside_measures, measure_field
from stash.web.places import place_of
from stash.web.shop import store

bp = Blueprint("shelf", __name__, url_prefix="/shelf")

UNKNOWN, BY_NUMBER = "?unknown", "?number"
"""What is picked in place of a design: not identified yet; or whatever the typed number names."""

_STICKS = ("place", "kind", "condition", "checked", "from_machine")
_SAID = ("quantity", *_STICKS[2:], "code", "note")
"""Fields of a lot that are drawn as they are for every form."""
_LISTED = 60
_CHIPS = 5


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in the form.

    Args:
        cells: ``{field: text}`` of place, kind, q and the fields of a lot.
        answers: ``{measure: text}`` that was measured or seen.
        token: The token of the part to come.
    """

    cells: Mapping[str, str]
    answers: Mapping[str, str] = field(default_factory=dict)
    token: str = ""

    def __getitem__(self, name: str) -> str:
        return self.cells.get(name, "")

    @property
    def more(self) -> bool:
        """Whether something stands in the fields that are folded away."""
        return any(self[name] for name in _SAID[2:])

    @property
    def stuck(self) -> dict[str, str]:
        """What stays for the next part."""
        return {name: self[name] for name in _STICKS if self[name]}


@bp.get("/")
def index() -> Response | str:
    """Choose the bin, or go on where one left off."""
    if "place" in request.args:
        place = request.args["place"].strip()
        code = place_of(place).code if place else ""
        return redirect(address("shelf.page", {"sitting": secrets.token_urlsafe(9), "place": code}), 303)
    before = shelf.latest(store(), who())
    return render_template(
        "shelf/index.html", place=place_field("place", "bin"), before=before, stuck=_stuck_of(before)
    )


@bp.get("/<sitting>")
def page(sitting: str) -> str:
    """Show the form for the next part, and what the last one is good for."""
    return _page(sitting, _typed(request.args))


@bp.get("/<sitting>/which")
def which(sitting: str) -> str:
    """Draw what the part may be, for what stands in the form."""
    typed = _typed(request.args)
    return render_template("shelf/which.html", **_which(sitting, typed))


@bp.post("/<sitting>/add")
def add(sitting: str) -> Response | tuple[str, int] | str:
    """Put a part on the shelf; without a pick, only look what it may be."""
    quick, pick = request.headers.get("X-Shelf") is not None, request.form.get("pick", "")
    try:
        typed = _typed(request.form)
    except NotFound as error:
        if quick:
            return _refused(sitting, Typed({}), error, quick=True)
        raise
    if not pick:
        return _page(sitting, typed)
    try:
        cells = _lot_cells(typed, pick)
        done = shelf.book(store(), sitting, typed.token, cells, typed.answers, who=who())
    except (InvalidInput, NotFound, Conflict) as error:
        return _refused(sitting, typed, error, quick=quick)
    said = _photographed(done.lot)
    stuck = {**typed.stuck, "kind": cells["kind"]}
    if not quick:
        if said:
            flash(said)
        return redirect(address("shelf.page", {"sitting": sitting, **stuck}), 303)
    return _kept(sitting, Typed(stuck), said)


@bp.post("/<sitting>/take-back")
def take_back(sitting: str) -> Response | tuple[str, int]:
    """Undo an add."""
    typed = _typed(request.form)
    quick = request.headers.get("X-Shelf") is not None
    try:
        shelf.take_back(store(), sitting, typed.token, who=who())
    except Conflict as error:
        if quick:
            return _refused(sitting, typed, error, quick=True)
        raise
    if not quick:
        return redirect(address("shelf.page", {"sitting": sitting, **typed.stuck}), 303)
    return _kept(sitting, typed)


def _photographed(lot: str) -> str:
    """Keep the photo that came with a part; returns what is wrong with it, "" for nothing."""
    sent = request.files.get("photo")
    if not lot or sent is None or not sent.filename:
        return ""
    try:
        photos.add_photo(store(), "lot", lot, sent.read(), who=who())
    except InvalidInput as error:
        return f"The part is added, its photo is not: {error.message}. {error.hint}"
    return ""


def _kept(sitting: str, typed: Typed, said: str = "") -> Response:
    """Say that it is in the database, with what is told anew; only this lets a phone forget what it sent."""
    answer = make_response(render_template("shelf/told.html", said=said, **_told(sitting, typed)))
    answer.headers["X-Shelf"] = "kept"
    return answer


def _refused(
    sitting: str, typed: Typed, error: InvalidInput | NotFound | Conflict, *, quick: bool
) -> Response | tuple[str, int]:
    status = 409 if isinstance(error, Conflict) else 400
    if quick:
        problems = error.problems if isinstance(error, InvalidInput) else ()
        said = " ".join(f"{each.column.removeprefix(PREFIX)}: {each.problem}. {each.hint}" for each in problems)
        answer = Response(said or f"{error.message}. {error.hint}", status=status, mimetype="text/plain")
        answer.headers["X-Shelf"] = "refused"
        return answer
    told = error if isinstance(error, InvalidInput) else InvalidInput(error.message, error.hint)
    if status == 409:  # noqa: PLR2004 - a form that was sent before: what it says now is another part
        typed = replace(typed, token="")
    return _page(sitting, typed, told), status


def _page(sitting: str, typed: Typed, error: InvalidInput | None = None) -> str:
    before = [each.lot for each in shelf.added(store(), sitting) if not each.taken_back]
    kinds = shelf_offers.likely_kinds(store(), typed["place"], before, _CHIPS)
    if typed["kind"] and typed["kind"] not in kinds:
        kinds = (typed["kind"], *kinds[:-1])
    form = Form(tuple(_said_field(name, typed) for name in _SAID), table="lots")
    if error is not None:
        answered = tuple(Field(Column(PREFIX + name), text) for name, text in typed.answers.items())
        form = form.told(beside_measures(error, Form(answered, table="lots")))
    fields = {each.name: each for each in form.fields}
    return render_template(
        "shelf/page.html",
        token=typed.token or secrets.token_urlsafe(12),
        kinds=kinds,
        all_kinds=kinds_by_system(),
        form=form,
        fields=fields,
        place=store().stock().places.get(typed["place"]),
        **_told(sitting, typed),
        **_which(sitting, typed),
    )


def _which(sitting: str, typed: Typed) -> dict[str, object]:
    before = [each.lot for each in shelf.added(store(), sitting) if not each.taken_back]
    hint = shelf_offers.Hint(
        typed["kind"], typed["q"], typed.answers, typed["place"], typed["from_machine"], before[:_LISTED]
    )
    found = shelf_offers.offers(store(), hint)
    measures = store().catalogue().measure
    asked = [key for key in dict.fromkeys((*typed.answers, found.ask)) if (typed["kind"], key) in measures]
    shown = [measure_field(measures[typed["kind"], key], typed.answers.get(key, "")) for key in asked]
    return {"found": found, "asked": shown, "typed": typed, "unknown": UNKNOWN, "by_number": BY_NUMBER}


def _told(sitting: str, typed: Typed) -> dict[str, object]:
    listed = shelf.added(store(), sitting)
    standing = [each for each in listed if not each.taken_back]
    return {
        "sitting": sitting,
        "stuck": typed.stuck,
        "listed": listed[:_LISTED],
        "standing": standing,
        "last": standing[0] if standing else None,
        "outcome": shelf.outcome(store(), standing[0].lot) if standing else None,
    }


def _typed(values: Mapping[str, str]) -> Typed:
    """Read a form or an address; a kind chosen from the whole list outdoes one that was only left standing."""
    names = ("q", "place", "kind", *_SAID)
    cells = {name: values[name].strip() for name in names if values.get(name, "").strip()}
    kind = values.get("other", "") or cells.get("kind", "")
    cells["kind"] = kind if kind in store().catalogue().kind else ""
    place = parse_code(cells.get("place", ""))
    if cells.get("place") and (place is None or str(place) not in store().stock().places):
        raise NotFound(f"No place has the code {cells['place']}", "Scan its label again, or choose it in the list.")
    cells["place"] = str(place or "")
    known = {key for kind, key in store().catalogue().measure if kind == cells["kind"]}
    answers = {name.removeprefix(PREFIX): text.strip() for name, text in values.items() if name.startswith(PREFIX)}
    return Typed(
        cells, {key: text for key, text in answers.items() if text and key in known}, values.get("token", "").strip()
    )


def _lot_cells(typed: Typed, pick: str) -> dict[str, str]:
    """Return the lot's cells for what was picked.

    Raises:
        InvalidInput: No kind was chosen, or the design is not there any more.
    """
    catalogue = store().catalogue()
    design = shelf_offers.design_of_number(catalogue, "", typed["q"]) if pick == BY_NUMBER else pick
    if design == UNKNOWN or not design:
        kind, design = typed["kind"], ""
    elif design in catalogue.design:
        kind = catalogue.design[design].kind
    else:
        raise InvalidInput(f"There is no design {design} any more", "Pick it again.")
    if not kind:
        raise InvalidInput("The kind of part is not said", "Choose a kind; what you typed is kept.")
    number = typed["q"] if not design or _is_number(typed["q"], design) else ""
    cells = {name: typed[name] for name in ("place", *_SAID) if typed[name]}
    return {**cells, "quantity": typed["quantity"] or "1", "kind": kind, "design": design, "number_seen": number}


def _is_number(text: str, design: str) -> bool:
    """Whether what was typed is a whole number of the design, and so was read off the part."""
    return bool(text) and shelf_offers.design_of_number(store().catalogue(), "", text) == design


def _said_field(name: str, typed: Typed) -> Field:
    cells = {**typed.cells, "quantity": typed["quantity"] or "1"}
    found = field_of("lots", _column(name), cells)
    if name == "code":
        return replace(found, label="label already on it", hint="Scan it; empty gives a new code")
    return replace(found, label={"from_machine": "came off", "checked": "how you know"}.get(name, ""))


def _column(name: str) -> Column:
    return TABLE_BY_NAME["lots"].column(name)


def _stuck_of(before: tuple[str, Lot] | None) -> dict[str, str]:
    """What stuck when a session was left: read off the part that was added last."""
    if before is None:
        return {}
    lot = before[1]
    said = {"place": lot.place, "kind": lot.kind, "condition": lot.condition, "from_machine": lot.from_machine}
    return {name: text for name, text in said.items() if text}
