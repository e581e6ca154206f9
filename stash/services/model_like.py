"""A model like another one: its positions and stock lines come along, what differs is changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stash.db.store import Store
from stash.db.unit import Work
from stash.services import page_rows
from stash.services.new_rows import enter_new, free_key, raw
from stash.services.page_rows import RowView
from stash.services.titles import model_title

COMES_ALONG = ("positions", "came_on")
"""Tables whose rows of a model are copied. What people said of a model is not: nobody said it of the new one."""
_MOST = 5_000


@dataclass(frozen=True, slots=True)
class Pattern:
    """The model that another one is to be like.

    Args:
        cells: Its row.
        own: ``{table: its rows of its own}``, beside what its generation gives it.
        said: How many rules name it, which are not copied.
    """

    cells: Mapping[str, str]
    own: Mapping[str, tuple[RowView, ...]]
    said: int


def pattern(store: Store, key: str) -> Pattern:
    """Return a model as a pattern.

    Raises:
        NotFound: There is no such model.
    """
    row = page_rows.row(store, "models", (key,))
    own = {table: page_rows.rows(store, table, {"model": key}, size=_MOST).rows for table in COMES_ALONG}
    return Pattern(row.cells, own, sum(1 for rule in store.catalogue().rules if rule.model == key))


def model_like(store: Store, like: str, cells: Mapping[str, str], *, who: str) -> str:
    """Add a model like another one.

    Args:
        store: The database.
        like: Key of the model it is like.
        cells: ``{column: cell text}``; columns left out are the other model's, an empty key is made of the name.
        who: Who adds it.

    Returns:
        Its key.

    Raises:
        NotFound: There is no such model.
        InvalidInput: A cell is wrong or the key is taken; carries every problem.
    """
    known = pattern(store, like)
    row = {**known.cells, **cells}
    row["key"] = row["key"].strip() if "key" in cells else ""
    row["key"] = row["key"] or free_key(row["name"], store.catalogue().model)
    tables = {"models": raw([row])}
    for table, rows in known.own.items():
        if rows:
            tables[table] = raw([{**each.cells, "model": row["key"]} for each in rows])

    def act(work: Work) -> str:
        return enter_new(work, tables, "models")

    return store.write(who, f"added like {model_title(store.catalogue(), like)}", act)
