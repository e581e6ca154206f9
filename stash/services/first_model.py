"""The first model of a collection in one step: its maker, family and generation with it, and a sheet to begin with."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import CellProblem, InvalidInput
from stash.exchange import RawTable
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Family, Generation, Maker
from stash.services.new_rows import enter_new, free_key, raw

ASKED = ("maker", "family", "generation", "model")
"""The names one is asked for; a generation left empty is the first one."""
_FIRST = "first"


def first_model(
    store: Store, names: Mapping[str, str], years: tuple[str, str], kinds: Sequence[str], *, who: str
) -> str:
    """Add a model by names alone; what is there by that name already is used, what is not is added.

    Args:
        store: The database.
        names: ``{maker, family, generation, model: what people call it}``.
        years: First and last year as typed, "" for open.
        kinds: Kinds of part that its generation takes, one each; they become its sheet, under the kinds' names.
        who: Who adds it.

    Returns:
        The model's key.

    Raises:
        InvalidInput: A name is missing or a cell is wrong; carries every problem.
    """
    said = {name: names.get(name, "").strip() for name in ASKED}
    said["generation"] = said["generation"] or _FIRST
    empty = [name for name in ASKED if not said[name]]
    if empty:
        hint = "Any name will do; it can be changed later."
        problems = tuple(CellProblem("models", 1, name, "", "is needed", hint) for name in empty)
        raise InvalidInput(str(problems[0]), hint, problems)
    catalogue = store.catalogue()
    tables = _around(catalogue, said)
    maker = _key(tables, "makers") or _named(catalogue.makers, said["maker"])
    generation = _key(tables, "generations") or _era(catalogue, said)
    row = {"key": free_key(said["model"], catalogue.model), "name": said["model"], "maker": maker}
    dated = {"generation": generation, "from_year": years[0], "to_year": years[1]}
    tables["models"] = raw([{**row, **dated}])
    known = {each.position for each in catalogue.position_rows if each.generation == generation}
    sheet = [
        {"generation": generation, "position": catalogue.kind[kind].name, "kind": kind}
        for kind in kinds
        if kind in catalogue.kind and catalogue.kind[kind].name not in known
    ]
    if sheet:
        tables["positions"] = raw(sheet)

    def act(work: Work) -> str:
        return enter_new(work, tables, "models")

    return store.write(who, "first model", act)


def _around(catalogue: Catalogue, said: Mapping[str, str]) -> dict[str, RawTable]:
    """The maker, family and generation that are not there yet."""
    tables = {}
    if not _named(catalogue.makers, said["maker"]):
        tables["makers"] = raw([{"key": free_key(said["maker"], catalogue.maker), "name": said["maker"]}])
    family = _named(catalogue.families, said["family"])
    if not family:
        family = free_key(said["family"], catalogue.family)
        tables["families"] = raw([{"key": family, "name": said["family"]}])
    if not _era(catalogue, said):
        before = [row.ordinal for row in catalogue.generations if row.family == family]
        key = free_key(f"{family} {said['generation']}", catalogue.generation)
        row = {"key": key, "family": family, "ordinal": str(max(before, default=0) + 1), "name": said["generation"]}
        tables["generations"] = raw([row])
    return tables


def _era(catalogue: Catalogue, said: Mapping[str, str]) -> str:
    family = _named(catalogue.families, said["family"])
    return _named((row for row in catalogue.generations if row.family == family), said["generation"]) if family else ""


def _named(rows: Iterable[Maker | Family | Generation], name: str) -> str:
    """The key of the row that goes by a name, in any case; "" for none."""
    return next((row.key for row in rows if row.name.casefold() == name.casefold()), "")


def _key(tables: Mapping[str, RawTable], table: str) -> str:
    return tables[table].rows[0][1][0] if table in tables else ""
