"""Working on a machine: fit, take off, note, strip, put back, exchange."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, request, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput, NotFound
from stash.fit.catalogue import Position
from stash.fit.facts import Machine
from stash.kernel.codes import grouped, parse_code
from stash.kernel.ends import machine_end
from stash.kernel.tables import FITTED_STATES, Cell, Column
from stash.services import machines
from stash.services.at_position import Off
from stash.services.cautions import cautions_of
from stash.services.handling import Done
from stash.services.matched import warn_lot, warn_spot
from stash.services.titles import machine_title
from stash.web.access import who
from stash.web.acts import (
    acted,
    answered_twice,
    condition_field,
    design_field,
    lot_field,
    place_field,
    tick,
)
from stash.web.forms import Field, Form, choices
from stash.web.shop import store

bp = Blueprint("machine_acts", __name__, url_prefix="/machines")

_STRIP = "Photograph it, drain fuel outside, tag each part before cleaning, and keep matched sets together."


@bp.route("/<code>/fit", methods=["GET", "POST"])
def fit(code: str) -> Response | tuple[str, int]:
    """Fit loose parts at a position."""
    machine, spot = _machine(code), request.values.get("position", "")
    position = _position(machine, spot)
    lot = request.values.get("lot", "")
    carried = machine.fitted.get(position.name)
    fields = [
        Field(Column("position", Cell.SPOT, required=True), position.name, fixed=True),
        lot_field(position.kind, lot),
    ]
    if carried is None or carried.state != "missing":
        hint = "It gets a label of its own, tagged with this machine"
        fields += [
            place_field("old_place", "where the old part goes", hint=hint),
            condition_field("old_condition", "condition of the old part"),
        ]
    if answered_twice():
        fields += [
            tick("anyway", "Take it although it is promised to a build"),
            tick("acknowledged", "I have read the danger above and take it on myself"),
        ]

    def act(sent: Form) -> Done:
        cells = sent.cells()
        read = sent.read()
        off = Off(str(read.get("old_place") or ""), cells.get("old_condition", ""))
        return machines.fit(
            store(),
            machine.code,
            position.name,
            str(read["lot"]),
            who=who(),
            off=off,
            anyway=cells.get("anyway") == "yes",
            acknowledged=cells.get("acknowledged") == "yes",
        )

    return _acted(machine, f"Fit the {position.name}", Form(tuple(fields), submit="Fit it"), act, position)


@bp.route("/<code>/take-off", methods=["GET", "POST"])
def take_off(code: str) -> Response | tuple[str, int]:
    """Take off what a position carries."""
    machine = _machine(code)
    position = _position(machine, request.values.get("position", ""))
    form = Form(
        (
            Field(Column("position", Cell.SPOT, required=True), position.name, fixed=True),
            place_field("place", "where it goes"),
            condition_field(),
            design_field(position.kind, title="which one it is"),
        ),
        submit="Take it off",
    )

    def act(sent: Form) -> Done:
        cells = sent.read()
        off = Off(str(cells["place"] or ""), str(cells["condition"] or ""), str(cells["design"] or ""))
        return machines.take_off(store(), machine.code, position.name, who=who(), off=off)

    return _acted(machine, f"Take off the {position.name}", form, act, position)


@bp.route("/<code>/note", methods=["GET", "POST"])
def note(code: str) -> Response | tuple[str, int]:
    """Note what was seen at a position."""
    machine = _machine(code)
    position = _position(machine, request.values.get("position", ""))
    state = machine.fitted.get(position.name)
    form = Form(
        (
            Field(Column("position", Cell.SPOT, required=True), position.name, fixed=True),
            Field(
                Column("state", Cell.CHOICE, required=True, choices=FITTED_STATES),
                state.state if state else "present",
                options=choices(FITTED_STATES),
                label="what you saw",
            ),
            design_field(position.kind, state.design if state else "", blank="not known", title="which one it is"),
            condition_field(value=state.condition if state else "", blank="not looked at"),
        ),
        submit="Note it",
    )

    def act(sent: Form) -> Done:
        cells = sent.read()
        return machines.mark(
            store(),
            machine.code,
            position.name,
            str(cells["state"]),
            who=who(),
            design=str(cells["design"] or ""),
            condition=str(cells["condition"] or ""),
        )

    return _acted(machine, f"Note what is at the {position.name}", form, act)


@bp.route("/<code>/strip", methods=["GET", "POST"])
def strip(code: str) -> Response | tuple[str, int]:
    """Strip chosen positions in one go."""
    machine = _machine(code)
    there = [
        position
        for position in store().catalogue().positions[machine.model].values()
        if position.name not in machine.fitted or machine.fitted[position.name].state != "missing"
    ]
    ticks = tuple(tick(f"off-{number}", position.name) for number, position in enumerate(there))
    whole = tick("everything", "everything that is on it, or:")
    form = Form(
        (place_field("place", "where the parts go"), condition_field(), whole, *ticks), submit="Take off what is ticked"
    )

    def act(sent: Form) -> Done:
        cells = sent.cells()
        place = str(sent.read()["place"] or "")
        chosen = {
            position.name: Off(place, cells["condition"])
            for number, position in enumerate(there)
            if "yes" in {cells["everything"], cells[f"off-{number}"]}
        }
        return machines.strip(store(), machine.code, chosen, who=who())

    caution = " ".join(
        (_STRIP, *cautions_of(store().catalogue(), "", "drain"), *cautions_of(store().catalogue(), "", "clean"))
    )
    return _acted(machine, "Strip", form, act, caution=caution)


@bp.route("/<code>/put-back", methods=["GET", "POST"])
def put_back(code: str) -> Response | tuple[str, int]:
    """Put the removed originals back."""
    machine = _machine(code)
    fields = [place_field("place", "where the parts go that are on it now")]
    if answered_twice():
        fields.append(tick("anyway", "Take them although they are promised to a build"))
    form = Form(tuple(fields), submit="Put the originals back")

    def act(sent: Form) -> Done:
        cells = sent.read()
        place, anyway = str(cells["place"] or ""), bool(cells.get("anyway"))
        return machines.put_back(store(), machine.code, who=who(), place=place, anyway=anyway)

    return _acted(machine, "Put it back as it was", form, act)


@bp.route("/<code>/exchange", methods=["GET", "POST"])
def exchange(code: str) -> Response | tuple[str, int]:
    """Exchange what two machines carry at positions of one kind."""
    machine = _machine(code)
    position = _position(machine, request.values.get("position", ""))
    catalogue, stock = store().catalogue(), store().stock()
    others = [
        (f"{other.code} {name}", f"{machine_title(catalogue, other)}, {grouped(other.code)}: {name}")
        for other in sorted(stock.machines.values(), key=lambda row: row.code)
        if other.code != machine.code and other.state != "gone"
        for name in catalogue.positions_of_kind[other.model].get(position.kind, ())
    ]
    column = Column("other", required=True)
    form = Form(
        (
            Field(Column("position", Cell.SPOT, required=True), position.name, fixed=True),
            Field(column, options=[("", "choose"), *others], label="with"),
        ),
        submit="Exchange them",
    )

    def act(sent: Form) -> Done:
        other, _, name = str(sent.read()["other"]).partition(" ")
        if not name:
            raise InvalidInput("No other machine was chosen", "Choose one from the list.")
        return machines.swap(store(), machine.code, position.name, other, name, who=who())

    return _acted(machine, f"Exchange the {position.name}", form, act, position)


def _acted(
    machine: Machine,
    title: str,
    form: Form,
    act: Callable[[Form], Done],
    position: Position | None = None,
    caution: str = "",
) -> Response | tuple[str, int]:
    home = url_for("machines.page", code=machine.code)
    about = f"{machine_title(store().catalogue(), machine)} ({grouped(machine.code)})"
    mind = caution or " ".join(cautions_of(store().catalogue(), position.kind) if position else ())
    return acted(title, form, act, home, back=home, about=about, caution=mind, matched=_matched(machine, position))


def _matched(machine: Machine, position: Position | None) -> str:
    """Say what ran with the part that is there, and with the lot that is to go there."""
    lot = parse_code(request.values.get("lot", ""))
    there = warn_spot(store(), machine.code, position.name) if position else ""
    comes = warn_lot(store(), str(lot), machine_end(machine.code, "")) if lot else ""
    said = []
    if position and there:
        said.append(f"what is at the {position.name} now: {there}")
    if comes:
        said.append(f"{grouped(str(lot))}: {comes}")
    return " ".join(said)


def _machine(code: str) -> Machine:
    parsed = parse_code(code)
    machine = store().stock().machines.get(str(parsed)) if parsed else None
    if machine is None:
        raise NotFound(f"No machine has the code {code}", "Scan its label again, or look in the list.")
    return machine


def _position(machine: Machine, name: str) -> Position:
    position = store().catalogue().positions[machine.model].get(name)
    if position is None:
        raise NotFound(f"This model has no position {name!r}", "Choose one on the machine's sheet.")
    return position
