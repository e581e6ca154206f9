"""A new design from a part in the hand: its number and its measures, and the lot becomes one of it."""

from __future__ import annotations

from collections.abc import Mapping

from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import CellProblem, InvalidInput
from stash.exchange import RawTable
from stash.services.handling import lot_row
from stash.services.load_writes import write
from stash.services.new_rows import enter_new, free_key, raw
from stash.services.parts import numbers_like
from stash.services.tables import examined

DESIGN = ("key", "name", "maker", "generation", "price", "note")
"""What one says of the design itself; its kind is the lot's."""


def design_from_lot(
    store: Store,
    lot: str,
    cells: Mapping[str, str],
    measures: Mapping[str, str],
    number: str = "",
    *,
    who: str,
    version: int | None = None,
) -> str:
    """Make a design of a part in the hand, and the lot one of it.

    Args:
        store: The database.
        lot: The lot's code; it may be identified as another design so far.
        cells: ``{column of designs: cell text}``; an empty key is made of the name.
        measures: ``{measure: value text}`` of the design; empty texts are left out. What was measured on the lot
            itself stays on the lot.
        number: The part number it carries, "" for none; it belongs to the design's maker.
        who: Who does it.
        version: The version the form was made from.

    Returns:
        The new design's key.

    Raises:
        NotFound: No lot has the code.
        InvalidInput: A cell is wrong, the key is taken, or the number names another design; carries every problem.
        Conflict: The lot was changed in the meantime.
    """
    number = number.strip()
    row = {name: cells.get(name, "").strip() for name in DESIGN}
    _refuse_known_number(store, number, row["maker"])

    def act(work: Work) -> str:
        held = lot_row(work.session, lot, version)
        row["key"] = row["key"] or free_key(row["name"], store.catalogue().design)
        tables: dict[str, RawTable] = {"designs": raw([{**row, "kind": held.kind}])}
        values = [
            {"design": row["key"], "measure": measure, "value": text}
            for measure, text in measures.items()
            if text.strip()
        ]
        if values:
            tables["design_measures"] = raw(values)
        if number:
            tables["numbers"] = raw([{"number": number, "maker": row["maker"], "design": row["key"]}])
        key = enter_new(work, tables, "designs")
        work.session.flush()
        seen = held.number_seen or number
        write(work, examined(work.session, {"lots": raw([{"code": held.code, "design": key, "number_seen": seen}])}))
        return key

    return store.write(who, "design from a part in the hand", act)


def _refuse_known_number(store: Store, number: str, maker: str) -> None:
    if not number:
        return
    if not maker:
        raise _wrong("maker", "", "is needed", "A number belongs to a maker; say whose number it is.")
    known = [row for row in numbers_like(store.catalogue(), number) if row.maker == maker and row.design]
    if known:
        hint = f"It names {known[0].design}: say that the lot is one of that, or leave the number out."
        raise _wrong("number", number, "is a design's already", hint)


def _wrong(column: str, value: str, problem: str, hint: str) -> InvalidInput:
    return InvalidInput(f"{column} {problem}", hint, (CellProblem("designs", 1, column, value, problem, hint),))
