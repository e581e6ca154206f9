"""What catalogue rows lean on: a rule on its designs, a design on its kind and maker, and so on to the end."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from stash.errors import InvalidInput
from stash.kernel.cells import list_items
from stash.kernel.tables import TABLE_BY_NAME

Rows = Sequence[Mapping[str, str]]
Tables = Mapping[str, Rows]
Chosen = dict[str, list[Mapping[str, str]]]

_ALONG: tuple[tuple[str, str, str], ...] = (
    ("kinds", "measures", "kind"),
    ("designs", "design_measures", "design"),
    ("designs", "numbers", "design"),
    ("designs", "came_on", "design"),
)
"""``(table, rows that come along with it, their column)``: what a row is not understood without."""


def needed(
    tables: Tables,
    families: Sequence[str],
    kinds: Sequence[str],
    designs: Sequence[str],
    rules: Sequence[str],
    mates: Sequence[str],
) -> Chosen:
    """Return the rows that are asked for and all they lean on, in the order they stand in their tables.

    Args:
        tables: ``{table: rows as cell texts}`` of the whole catalogue.
        families: Families of which everything is wanted.
        kinds: Kinds of which everything is wanted.
        designs: Designs wanted.
        rules: Rules wanted.
        mates: Mates wanted.

    Raises:
        InvalidInput: A key is not in the catalogue.
    """
    if not any((families, kinds, designs, rules, mates)):
        return {name: list(rows) for name, rows in tables.items()}
    asked = {"families": families, "kinds": kinds, "designs": designs, "rules": rules, "mates": mates}
    for name, keys in asked.items():
        for key in keys:
            if not any(row["key"] == key for row in tables[name]):
                raise InvalidInput(f"There is no {key!r} in {name}", "Choose from the catalogue.")
    needs = _Needs(tables)
    for name, keys in asked.items():
        for key in keys:
            needs.add(name, key)
    for name, row in _about_families(tables, frozenset(families)):
        needs.take(name, row)
    for name, row in _about_kinds(tables, frozenset(kinds)):
        needs.take(name, row)
    needs.settle()
    return needs.chosen()


class _Needs:
    def __init__(self, tables: Tables) -> None:
        self._tables = tables
        self._by_key = {
            name: {row["key"]: row for row in rows}
            for name, rows in tables.items()
            if "key" in TABLE_BY_NAME[name].names
        }
        self._taken: dict[str, set[int]] = {name: set() for name in tables}
        self._ahead: list[tuple[str, Mapping[str, str]]] = []

    def add(self, table: str, key: str) -> None:
        row = self._by_key.get(table, {}).get(key)
        if row is not None and table != "measures":
            self.take(table, row)

    def take(self, table: str, row: Mapping[str, str]) -> None:
        if id(row) not in self._taken[table]:
            self._taken[table].add(id(row))
            self._ahead.append((table, row))

    def settle(self) -> None:
        while self._ahead:
            table, row = self._ahead.pop()
            for column in TABLE_BY_NAME[table].columns:
                if column.ref in self._tables and row[column.name]:
                    self.add(column.ref, row[column.name])
            if table == "rules":
                for each in (each for item in list_items(row["companions"]) for each in item):
                    self.add("designs", each)
                    self.add("kinds", each)
            if table == "numbers" and row["replaced_by"]:
                self._replacement(row)
            if table == "came_on":
                self._position(row)
            self._along(table, row)

    def _along(self, table: str, row: Mapping[str, str]) -> None:
        for owner, following, column in _ALONG:
            for each in self._tables[following] if owner == table else ():
                if each[column] == row["key"]:
                    self.take(following, each)

    def _position(self, came_on: Mapping[str, str]) -> None:
        """Take the rows that say there is such a position: the model's own, or its generation's."""
        generations = {came_on["generation"]}
        if came_on["model"]:
            generations.add(self._by_key["models"][came_on["model"]]["generation"])
        for each in self._tables["positions"]:
            same_model = bool(each["model"]) and each["model"] == came_on["model"]
            if each["position"] == came_on["position"] and (same_model or (each["generation"] or None) in generations):
                self.take("positions", each)

    def _replacement(self, row: Mapping[str, str]) -> None:
        for each in self._tables["numbers"]:
            if (each["number"], each["maker"]) == (row["replaced_by"], row["maker"]):
                self.take("numbers", each)

    def chosen(self) -> Chosen:
        found = {name: [row for row in rows if id(row) in self._taken[name]] for name, rows in self._tables.items()}
        return {name: rows for name, rows in found.items() if rows}


def _about_families(tables: Tables, families: frozenset[str]) -> Iterator[tuple[str, Mapping[str, str]]]:
    generations = {row["key"] for row in tables["generations"] if row["family"] in families}
    models = {row["key"] for row in tables["models"] if row["generation"] in generations}
    for name in ("generations", "models", "positions", "came_on", "rules"):
        for row in tables[name]:
            own = row["key"] if name in {"generations", "models"} else ""
            if (
                own in generations | models
                or row.get("generation", "") in generations
                or row.get("model", "") in models
                or row.get("family", "") in families
            ):
                yield name, row


def _about_kinds(tables: Tables, kinds: frozenset[str]) -> Iterator[tuple[str, Mapping[str, str]]]:
    for name in ("designs", "mates", "rules"):
        for row in tables[name]:
            if {row.get("kind", ""), row.get("kind_a", ""), row.get("kind_b", "")} & kinds:
                yield name, row
