"""What people call a row of a table, and how its cells are said: by names instead of keys."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Flask, url_for

from stash.fit.health import HealthFinding
from stash.kernel.cells import list_items
from stash.kernel.tables import TABLE_BY_NAME, Cell, Column
from stash.services import page_rows
from stash.services.rule_words import rule_sentence
from stash.services.say_mate import mate_sentence
from stash.web import words
from stash.web.choosing import kind_of_measure
from stash.web.links import address, address_of
from stash.web.names import Names

_PAGES = {"designs": "designs.page", "models": "models.page"}
"""Tables whose rows have a page of their own, by key."""

_TARGETS = {"model": "models", "generation": "generations", "family": "families", "maker": "makers"}
_NAMING = {
    "came_on": ("design", "position", "generation", "model"),
    "design_measures": ("design", "measure"),
    "lot_measures": ("lot", "measure"),
    "positions": ("generation", "model", "position"),
    "wanted": ("model",),
    "build_parts": ("build", "position", "design"),
}
"""Tables whose rows have no name of their own, with the columns that name one."""


def titled(row: page_rows.RowView, names: Names) -> str:
    """What people call a row."""
    cells = row.cells
    if row.table == "rules":
        target = next((names.ref(ref, cells[name]) for name, ref in _TARGETS.items() if cells[name]), "")
        part = names.design(cells["design"]) if cells["design"] else names.kind(cells["kind"])
        return f"{part} on {target}: {words.words(cells['verdict'])}"
    if row.table in _NAMING:
        said = (cell_text(row.table, name, cells, names) for name in _NAMING[row.table])
        return ", ".join(text for text in said if text)
    if row.table in {"generations", "models"}:
        return names.ref(row.table, cells["key"])
    if row.table == "measures":
        return f"{cells['name']} ({names.kind(cells['kind'])})"
    if row.table == "numbers":
        return f"{cells['number']} ({names.maker(cells['maker'])})"
    return cells.get("name") or " ".join(text for text in row.identity if text) or row.table


def cell_text(table: str, name: str, cells: Mapping[str, str], names: Names) -> str:
    """Say one cell of a row as people read it.

    Args:
        table: The table.
        name: The column.
        cells: ``{column: text}`` of the row.
        names: Names of one snapshot.
    """
    column, text = TABLE_BY_NAME[table].column(name), cells.get(name, "")
    kind = kind_of_measure(table, name, cells, names)
    if kind:
        return names.measure(kind, text)
    if column.cell is Cell.LIST:
        return ", ".join(" or ".join(_one(column, each, names) for each in item) for item in list_items(text))
    return _one(column, text, names)


def _one(column: Column, text: str, names: Names) -> str:
    if column.choices:
        return words.words(text)
    if column.name == "companions":
        return names.item((text,))
    return names.ref(column.ref, text) if column.ref and text else text


def told(row: page_rows.RowView, names: Names) -> str:
    """What a rule or a mate says, as a sentence; "" for rows that are no claim."""
    key, catalogue = row.cells.get("key", ""), names.catalogue
    if row.table == "mates" and key in catalogue.mate:
        return mate_sentence(catalogue, catalogue.mate[key])
    rule = catalogue.rulebook.rule(key) if row.table == "rules" else None
    return rule_sentence(catalogue, rule) if rule is not None else ""


def href(row: page_rows.RowView) -> str:
    """Where a row is shown: its own page, or its form."""
    page = _PAGES.get(row.table)
    return url_for(page, key=row.identity[0]) if page else edit_url(row.table, row.identity)


def own_page(table: str, key: str) -> str:
    """The page of its own that a row has; "" for none."""
    page = _PAGES.get(table)
    return url_for(page, key=key) if page else ""


def edit_url(table: str, identity: tuple[str, ...]) -> str:
    """Where a row's form is."""
    names = TABLE_BY_NAME[table].identity
    return address("catalogue.edit", {"table": table, **dict(zip(names, identity, strict=True))})


def found_in(found: HealthFinding, names: Names) -> tuple[str, str]:
    """What a finding of the catalogue's health is about, by name, and where that is shown."""
    catalogue = names.catalogue
    first, last = found.of[0], found.of[-1]
    on_model = last if last in catalogue.model else ""
    where = names.model(last) if on_model else names.generation(last)
    if len(found.of) == len(("design", "position", "model")):
        shown = {"design": first, "model": last, "position": found.of[1]}
        known = on_model and found.of[1] in catalogue.positions[last] and first in catalogue.design
        link = address("charts.why", shown) if known else url_for("catalogue.listed", table=found.table, design=first)
        return f"{names.design(first)}, {found.of[1]} of {where}", link
    if found.table == "positions":
        return f"{last} of {names.model(first)}", address_of("model", first)
    if found.table == "numbers":
        return first, url_for("catalogue.listed", table="numbers", q=first)
    title = names.design(first) if found.table == "designs" else names.ref(found.table, first)
    return title, own_page(found.table, first) or edit_url(found.table, (first,))


def row_said(table: str, identity: str, names: Names) -> str:
    """Say which row of a table the ledger speaks of.

    Args:
        table: The table.
        identity: The texts of its identity cells, parted by U+001F.
        names: Names of one snapshot.
    """
    parts = identity.split("\x1f")
    if table not in TABLE_BY_NAME or len(parts) != len(TABLE_BY_NAME[table].identity):
        return " ".join(parts)
    cells = dict(zip(TABLE_BY_NAME[table].identity, parts, strict=True))
    if table == "measures":
        return f"{names.measure(cells['kind'], cells['key'])} ({names.kind(cells['kind'])})"
    if len(parts) == 1:
        return names.ref(table, parts[0])
    return ", ".join(text for text in (cell_text(table, name, cells, names) for name in cells) if text)


def teach(app: Flask) -> None:
    """Give the templates the names of rows and cells."""
    app.jinja_env.globals.update(cell_text=cell_text, titled=titled, told=told, found_in=found_in, row_said=row_said)
