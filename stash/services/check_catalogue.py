"""What rows of the catalogue must agree on; see ``load_checks`` for how these are run."""

from __future__ import annotations

from collections.abc import Iterator

from stash.kernel.cells import Fault, list_items
from stash.kernel.measured import read_measured
from stash.kernel.numbers import canonical_number
from stash.services.load_entries import Entry
from stash.services.load_world import RowDict, World

Found = Iterator[tuple[str, Fault]]


def years(_world: World, entry: Entry) -> Found:
    """A span of years begins before it ends."""
    first, last = entry.row["from_year"], entry.row["to_year"]
    if first is not None and last is not None and first > last:
        yield "to_year", Fault(f"is before from_year ({first})", "Swap the two, or correct one.")


def choices(_world: World, entry: Entry) -> Found:
    """A choice needs words to choose from."""
    row = entry.row
    if row["type"] == "choice" and not row["choices"]:
        yield "choices", Fault("is empty", "A measure of type choice needs its words, separated by semicolons.")
    if "|" in (row["choices"] or ""):
        yield "choices", Fault("holds alternatives", "Separate the words by semicolons only.")


def words(measure: RowDict) -> tuple[str, ...]:
    """The words a choice measure allows."""
    return tuple(item[0] for item in list_items(measure["choices"]))


def measured_value(world: World, entry: Entry, kind: str | None) -> Found:
    """A value is of a measure of its part's kind, and reads as that measure asks; it is kept canonical."""
    key = entry.row["measure"]
    measure = world.get("measures", (kind, key)) if kind else None
    if measure is None:
        known = sorted(e.row["key"] for e in world.everything("measures") if e.row["kind"] == kind)
        fits = f"Its measures are: {', '.join(known)}." if known else f"Add it to measures for {kind}."
        yield "measure", Fault(f"is not a measure of the kind {kind}", fits)
        return
    value = read_measured(measure["type"] or "", words(measure), measure["unit"] or "", entry.row["value"] or "")
    if isinstance(value, Fault):
        yield "value", value
        return
    if entry.number:
        entry.row["value"] = value
    if measure["type"] != "number":
        for column in ("minus", "plus"):
            if entry.row.get(column) is not None:
                yield column, Fault("is a tolerance of something that is no number", "Leave it empty.")


def design_value(world: World, entry: Entry) -> Found:
    """A design's value fits a measure of its kind."""
    return measured_value(world, entry, world.field("designs", entry.row["design"], "kind"))


def replacement(world: World, entry: Entry) -> Found:
    """A number is replaced by a number of the same maker, and never in a circle."""
    maker, later = entry.row["maker"], entry.row["replaced_by"]
    if later is not None and world.get("numbers", (later, maker)) is None:
        yield "replaced_by", _unknown_number(world, maker, later)
        return

    def following(number: str) -> str | None:
        row = world.get("numbers", (number, maker))
        return row["replaced_by"] if row else None

    circle = world.circle(f"numbers of {maker}", entry.row["number"], following)
    if circle:
        hint = "Empty it in the newest of these numbers."
        yield "replaced_by", Fault(f"goes in a circle: {' → '.join(circle)}", hint)


def _unknown_number(world: World, maker: str, number: str) -> Fault:
    plain = canonical_number(number)
    for other in world.everything("numbers"):
        if other.row["maker"] == maker and canonical_number(other.row["number"]) == plain:
            return Fault(f"is not a number of {maker}", f"Write it the same way everywhere: {other.row['number']}.")
    return Fault(f"is not a number of {maker}", "Add the later number as a row of its own, with the same maker.")


def twin_number(world: World, entry: Entry) -> Found:
    """A number says something, and is not another one written differently."""
    plain = canonical_number(entry.row["number"])
    if not plain:
        yield "number", Fault("holds no letter or digit", "Write the number as it is printed.")
        return
    first = world.numbers_by_plain.get((entry.row["maker"], plain), entry.row["number"])
    if first != entry.row["number"]:
        yield "number", Fault(f"is the number {first} written differently", "Keep one of the two.")


def generation_or_model(_world: World, entry: Entry) -> Found:
    """A row is about a generation or about a model."""
    given = [name for name in ("generation", "model") if entry.row[name] is not None]
    if len(given) != 1:
        hint = "Fill one of generation and model; the other stays empty."
        yield (given or ["generation"])[0], Fault("needs exactly one of generation and model", hint)


def came_on_position(world: World, entry: Entry) -> Found:
    """A design came on a position that its model or generation has, and that takes its kind."""
    row = entry.row
    kind = world.field("designs", row["design"], "kind")
    if kind is None or (row["generation"] is None) == (row["model"] is None):
        return
    if row["model"] is not None:
        found = world.position_kind(row["model"], row["position"])
    else:
        own = world.get("positions", (row["generation"], "", row["position"]))
        found = own["kind"] if own else None
        if found != kind and _on_a_model(world, row, kind):
            return
    target = f"the {'model' if row['model'] else 'generation'} {row['model'] or row['generation']}"
    if found is None:
        yield "position", Fault(f"is not a position of {target}", "Add it to positions, or correct the name.")
    elif found != kind:
        yield (
            "position",
            Fault(
                f"takes the kind {found} on {target}, and {row['design']} is of the kind {kind}",
                "Correct the position or the design.",
            ),
        )


def _on_a_model(world: World, row: RowDict, kind: str) -> bool:
    return any(
        other.row["position"] == row["position"]
        and other.row["kind"] == kind
        and world.field("models", other.row["model"], "generation") == row["generation"]
        for other in world.everything("positions")
    )


def mate_ends(world: World, entry: Entry) -> Found:
    """Both ends are measures that can be compared, and the bounds are in order."""
    row = entry.row
    ends = []
    for side in ("a", "b"):
        kind, key = row[f"kind_{side}"], row[f"measure_{side}"]
        measure = world.get("measures", (kind, key))
        if measure is None:
            yield f"measure_{side}", Fault(f"is not a measure of the kind {kind}", f"Add it to measures for {kind}.")
        else:
            ends.append(measure)
    if len(ends) == 2:  # noqa: PLR2004 - a mate has two ends
        yield from _comparable(row, *ends)
    if row["low"] is not None and row["high"] is not None and row["low"] > row["high"]:
        yield "high", Fault("is below low", "Swap the two, or correct one.")


def _comparable(row: RowDict, a: RowDict, b: RowDict) -> Found:
    if a["type"] != b["type"]:
        hint = f"{a['key']} is of the type {a['type']}, {b['key']} of the type {b['type']}."
        yield "measure_b", Fault("can't be compared with measure_a", hint)
    elif row["relation"] == "gap" and a["type"] != "number":
        yield "relation", Fault("needs two numbers", "Use same for choices and for yes or no.")
    elif a["type"] == "number" and (a["unit"] or "") != (b["unit"] or ""):
        hint = f"{a['key']} is in {a['unit']}, {b['key']} in {b['unit']}."
        yield "measure_b", Fault("is in another unit than measure_a", hint)
    elif a["type"] != "number" and (row["low"] is not None or row["high"] is not None):
        yield "low", Fault("is a bound for something that is no number", "Leave low and high empty.")


def rule_scope(world: World, entry: Entry) -> Found:
    """A rule says which part and which machines it is about."""
    row = entry.row
    if row["design"] is None and row["kind"] is None:
        yield "design", Fault("and kind are both empty", "A rule needs a design or a kind.")
    kind = world.field("designs", row["design"], "kind")
    if kind is not None and row["kind"] is not None and kind != row["kind"]:
        yield "kind", Fault(f"is not the kind of {row['design']}, which is {kind}", "Correct it or leave it empty.")
    if all(row[name] is None for name in ("model", "generation", "family", "maker", "machine")):
        hint = "A rule needs at least one of model, generation, family, maker and machine."
        yield "model", Fault("and every other target are empty", hint)


def rule_companions(world: World, entry: Entry) -> Found:
    """Each companion is a design or a kind."""
    for item in list_items(entry.row["companions"]):
        for key in item:
            if world.get("designs", (key,)) is None and world.get("kinds", (key,)) is None:
                hint = "Companions are keys of designs or kinds, separated by semicolons; alternatives by |."
                yield "companions", Fault(f"names {key}, which is neither a design nor a kind", hint)
