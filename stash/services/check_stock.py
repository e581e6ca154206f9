"""What rows of the workshop must agree on; see ``load_checks`` for how these are run."""

from __future__ import annotations

from collections.abc import Iterator

from stash.db.models import CODE_TYPES
from stash.kernel.cells import Fault
from stash.services.check_catalogue import measured_value
from stash.services.load_entries import Entry
from stash.services.load_world import World

Found = Iterator[tuple[str, Fault]]


def code_is_free(world: World, entry: Entry) -> Found:
    """A code is one thing: a place, a machine or a lot."""
    code = entry.row["code"]
    own = CODE_TYPES[entry.table]
    stored = world.code_types.get(code, own)
    others = [
        (name, twin) for name in CODE_TYPES if (twin := world.incoming.entries.get(name, {}).get((code,))) is not None
    ]
    if stored != own:
        yield "code", Fault(f"is the code of a {stored} already", "Give it a code of its own.")
    elif others[0][1] is not entry and others[0][0] != entry.table:
        yield "code", Fault(f"is also in {others[0][0]} row {others[0][1].number}", "Give it a code of its own.")


def nesting(world: World, entry: Entry) -> Found:
    """No place is inside itself, however many steps down."""
    circle = world.circle("places", entry.row["code"], lambda code: world.field("places", code, "inside"))
    if circle:
        hint = "Empty it in the outermost of these places."
        yield "inside", Fault(f"goes in a circle: {' → '.join(circle)}", hint)


def fitted_part(world: World, entry: Entry) -> Found:
    """A position is one of the machine's model, and the part is of the kind it takes."""
    model = world.field("machines", entry.row["machine"], "model")
    yield from _position(world, entry, model)


def _position(world: World, entry: Entry, model: str | None) -> Found:
    position, design = entry.row["position"], entry.row["design"]
    takes = world.position_kind(model, position)
    if takes is None:
        names = world.position_names(model)
        known = ", ".join(names[:12]) + (", …" if len(names) > 12 else "")  # noqa: PLR2004 - a hint, not a list
        hint = f"Its positions are: {known}." if names else "Add its positions first."
        yield "position", Fault(f"is not a position of the model {model}", hint)
        return
    kind = world.field("designs", design, "kind")
    if kind is not None and kind != takes:
        yield "design", Fault(f"is of the kind {kind}, and the position takes {takes}", "Correct one of the two.")


def fitted_value(world: World, entry: Entry) -> Found:
    """A value is measured on a part that has its row in ``fitted``."""
    machine, position = entry.row["machine"], entry.row["position"]
    if world.get("fitted", (machine, position)) is None:
        hint = "Add the part to fitted first: what is measured there is no longer assumed."
        yield "position", Fault("has no row in fitted for this machine", hint)
        return
    model = world.field("machines", machine, "model")
    yield from measured_value(world, entry, world.position_kind(model, position))


def lot_design(world: World, entry: Entry) -> Found:
    """A lot's design is of the lot's kind."""
    kind = world.field("designs", entry.row["design"], "kind")
    if kind is not None and kind != entry.row["kind"]:
        yield "kind", Fault(f"is not the kind of {entry.row['design']}, which is {kind}", "Correct one of the two.")


def lot_value(world: World, entry: Entry) -> Found:
    """A lot's value fits a measure of its kind."""
    return measured_value(world, entry, world.field("lots", entry.row["lot"], "kind"))


def build_target(world: World, entry: Entry) -> Found:
    """A build is of a machine or of a model; where it names both, they agree."""
    model, machine = entry.row["model"], entry.row["machine"]
    if model is None and machine is None:
        yield "model", Fault("and machine are both empty", "A build needs a machine or a model.")
    own = world.field("machines", machine, "model")
    if model is not None and own is not None and own != model:
        yield "model", Fault(f"is not the model of machine {machine}, which is {own}", "Leave one of them empty.")


def build_part(world: World, entry: Entry) -> Found:
    """A decided part is a design or a lot that its position takes."""
    row = entry.row
    build = world.get("builds", (row["build"],)) or {}
    model = build.get("model") or world.field("machines", build.get("machine"), "model")
    yield from _position(world, entry, model)
    if row["design"] is None and row["lot"] is None:
        yield "design", Fault("and lot are both empty", "Name the design or the lot that is decided.")
    lot = world.get("lots", (row["lot"],)) if row["lot"] else None
    if lot is None:
        return
    if row["design"] and lot["design"] and lot["design"] != row["design"]:
        yield "lot", Fault(f"is of the design {lot['design']}, not {row['design']}", "Correct one of the two.")
    takes = world.position_kind(model, row["position"])
    if takes and lot["kind"] != takes:
        yield "lot", Fault(f"is of the kind {lot['kind']}, and the position takes {takes}", "Correct one of the two.")
