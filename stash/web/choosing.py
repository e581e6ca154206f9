"""Which fields a table's form has, and what can be chosen in them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from stash.kernel.tables import TABLE_BY_NAME, Cell, Column
from stash.services import page_rows
from stash.services.page_lists import LotFilter
from stash.web.forms import KEY_HINT, Field, Options, choices
from stash.web.names import Names
from stash.web.shop import store

MOST_CHOICES = 150
"""Longer lists become a text field with suggestions. Source: project decision, to keep pages light."""


_SIDES = {
    name: group
    for side, group in (("a", "One side"), ("b", "The other side"))
    for name in (f"kind_{side}", f"measure_{side}", f"position_{side}")
}
GROUPS: Mapping[str, Mapping[str, str]] = {
    "mates": {
        **_SIDES,
        **dict.fromkeys(("relation", "low", "high"), "How they must agree"),
        **dict.fromkeys(("evidence", "source", "note"), "On whose word"),
    },
    "rules": {
        **dict.fromkeys(
            ("design", "kind", "part_maker", "part_generation"), "Which parts: what is empty does not restrict"
        ),
        **dict.fromkeys(
            ("model", "generation", "family", "maker", "position", "from_year", "to_year"),
            "On what: at least one of model, generation, family and maker",
        ),
        **dict.fromkeys(("companions", "work", "minutes", "because_mate", "reason", "tell"), "Why, and what it takes"),
        **dict.fromkeys(("evidence", "source", "said_on", "machine"), "On whose word"),
    },
}
"""``{table: {column: heading of its group}}`` for the long forms."""

_TITLES = {
    **{f"{name}_{side}": name for name in ("kind", "measure", "position") for side in "ab"},
    "part_maker": "maker of the part",
    "part_generation": "generation of the part",
}


def fields_of(
    table: str, cells: Mapping[str, str], *, fixed: Iterable[str] = (), without: Iterable[str] = ()
) -> tuple[Field, ...]:
    """Return a table's fields filled with cells.

    Args:
        table: The table's name.
        cells: ``{column: text}``; missing columns are empty.
        fixed: Columns shown but not to be changed; an empty one is left out.
        without: Columns left out.
    """
    held, left_out = set(fixed), set(without)
    return tuple(
        replace(
            field_of(table, column, cells, fixed=column.name in held),
            group=GROUPS.get(table, {}).get(column.name, ""),
            label=_TITLES.get(column.name, "") if table in GROUPS else "",
        )
        for column in TABLE_BY_NAME[table].columns
        if column.name not in left_out and (column.name not in held or cells.get(column.name))
    )


def new_fields_of(table: str, cells: Mapping[str, str], *, without: Iterable[str] = ()) -> tuple[Field, ...]:
    """Return the fields of a new row: its key stands behind its name and may stay empty, for it is made of the name."""
    fields = fields_of(table, cells, without=without)
    by_name = {each.name: each for each in fields}
    if not {"key", "name"} <= by_name.keys():
        return fields
    free = replace(by_name["key"], column=replace(by_name["key"].column, required=False), hint=KEY_HINT)
    rest = (each for each in fields if each.name != "key")
    return tuple(each for one in rest for each in ((one, free) if one.name == "name" else (one,)))


def field_of(table: str, column: Column, cells: Mapping[str, str], *, fixed: bool = False) -> Field:
    """Return one column's field filled from the cells of its row."""
    value = cells.get(column.name, "" if fixed else column.default)
    if fixed:
        return Field(column, value, fixed=True)
    if column.cell is Cell.SPOT:
        return Field(column, value, options=_spots(cells), suggest=True)
    if column.cell is Cell.MEASURED:
        return _measured(table, column, cells, value)
    if (table, column.name) in _KIND_OF_MEASURE:
        found = _measures(kind_of_measure(table, column.name, cells, Names()))
        hint = "" if found else "Its key; offered to choose from once the form was sent with the kind"
        return Field(column, value, options=_with_blank(column, found), hint=hint)
    return Field(column, value, options=options_of(column))


def options_of(column: Column) -> Options:
    """What can be chosen in a column: words, yes and no, or the rows it refers to; nothing where there are too many."""
    if column.cell is Cell.CHOICE:
        return _with_blank(column, choices(column.choices))
    if column.cell is Cell.YES_NO:
        return [("no", "no"), ("yes", "yes")]
    if not column.ref:
        return []
    found = page_rows.options(store(), column.ref, most=MOST_CHOICES)
    return _with_blank(column, found) if 0 < len(found) <= MOST_CHOICES else []


def _with_blank(column: Column, found: Options) -> Options:
    if not found or column.default:
        return found
    return [("", "choose" if column.required else "none"), *found]


def _spots(cells: Mapping[str, str]) -> Options:
    catalogue = store().catalogue()
    model, generation = cells.get("model", ""), cells.get("generation", "")
    if model in catalogue.positions:
        names = set(catalogue.positions[model])
    else:
        names = {row.position for row in catalogue.position_rows if not generation or row.generation == generation}
    return [(name, name) for name in sorted(names)]


def _measures(kind: str) -> Options:
    return [(row.key, row.name) for row in store().catalogue().measures if row.kind == kind]


def _measured(table: str, column: Column, cells: Mapping[str, str], value: str) -> Field:
    """A measured value: a choice where its measure has choices."""
    kind = kind_of_measure(table, "measure", cells, Names())
    measure = store().catalogue().measure.get((kind, cells.get("measure", "")))
    if measure is None or measure.type == "number":
        unit = f"In {measure.unit}" if measure and measure.unit else ""
        return Field(column, value, hint=unit)
    words = ("yes", "no") if measure.type == "yes_no" else measure.choices
    return Field(column, value, options=_with_blank(column, choices(words)))


def kind_of_measure(table: str, name: str, cells: Mapping[str, str], names: Names) -> str:
    """Return the kind whose measure a column names; "" when it names none, or nobody knows of which kind."""
    kind = _KIND_OF_MEASURE.get((table, name))
    return kind(cells, names) if kind else ""


def _design_kind(cells: Mapping[str, str], names: Names) -> str:
    design = names.catalogue.design.get(cells.get("design", ""))
    return design.kind if design else ""


def _lot_kind(cells: Mapping[str, str], names: Names) -> str:
    lot = names.stock.lots.get(cells.get("lot", ""))
    return lot.kind if lot else ""


_KIND_OF_MEASURE: dict[tuple[str, str], Callable[[Mapping[str, str], Names], str]] = {
    ("design_measures", "measure"): _design_kind,
    ("lot_measures", "measure"): _lot_kind,
    ("mates", "measure_a"): lambda cells, _names: cells.get("kind_a", ""),
    ("mates", "measure_b"): lambda cells, _names: cells.get("kind_b", ""),
}


def lot_filter(given: Mapping[str, str]) -> LotFilter:
    """Return which lots are asked for by the words of an address."""
    return LotFilter(
        kind=given.get("kind", ""),
        design=given.get("design", ""),
        place=given.get("place", ""),
        condition=given.get("condition", ""),
        words=given.get("q", "").strip(),
        unidentified=given.get("unidentified") == "yes",
        unplaced=given.get("unplaced") == "yes",
        empty=given.get("empty") == "yes",
    )
