"""What comes in: new loose parts, places and machines get a code; what is known of a lot is written down with it."""

from __future__ import annotations

from collections.abc import Mapping

from stash.db.models import LotMeasure
from stash.db.store import Store
from stash.db.unit import Work
from stash.exchange import RawTable, RawTables
from stash.kernel.codes import grouped, require_code
from stash.services.codes import new_code
from stash.services.handling import Done, done, lot_row
from stash.services.load_writes import write
from stash.services.tables import examined

_WHAT = {"places": "place", "machines": "machine", "lots": "lot"}


def arrive(
    store: Store, table: str, cells: Mapping[str, str], measures: Mapping[str, str] | None = None, *, who: str
) -> Done:
    """Add a place, a machine or a lot.

    Args:
        store: The database.
        table: places, machines or lots.
        cells: ``{column: cell text}``; an empty ``code`` draws a new one, a given one is on a label already.
        measures: For a lot: ``{measure: value text}`` measured on it; empty texts are left out.
        who: Who brings it.

    Returns:
        What was done, with the code.

    Raises:
        InvalidInput: A cell is wrong; carries every problem.
    """
    why = {"lots": "received", "places": "place added", "machines": "machine added"}[table]

    return store.write(who, why, lambda work: enter(work, table, cells, measures))


def enter(work: Work, table: str, cells: Mapping[str, str], measures: Mapping[str, str] | None = None) -> Done:
    """Add a place, a machine or a lot in an open transaction; see ``arrive``."""
    code = cells.get("code", "").strip() or new_code(work.session)
    row = {**cells, "code": code}
    incoming = examined(work.session, {table: _one(row), **_measured(code, measures or {})})
    write(work, incoming)
    plain = str(require_code(code))
    return done(work, f"The new {_WHAT[table]} is {grouped(plain)}.", plain)


def describe(
    store: Store, lot: str, cells: Mapping[str, str], measures: Mapping[str, str], *, who: str, version: int | None
) -> Done:
    """Change what is known of a lot: everything but its quantity and place.

    Args:
        store: The database.
        lot: Its code.
        cells: ``{column: cell text}``; columns left out stay.
        measures: ``{measure: value text}``; an empty text removes what was measured, measures left out stay.
        who: Who does it.
        version: The version the form was made from.

    Raises:
        InvalidInput: A cell is wrong; carries every problem.
        Conflict: The lot was changed in the meantime.
    """

    def act(work: Work) -> Done:
        row = lot_row(work.session, lot, version)
        for measure, text in measures.items():
            known = None if text.strip() else work.session.get(LotMeasure, (row.code, measure))
            if known is not None:
                work.session.delete(known)
        work.session.flush()
        kept = {name: text for name, text in cells.items() if name not in {"code", "quantity", "place"}}
        incoming = examined(work.session, {"lots": _one({**kept, "code": row.code}), **_measured(row.code, measures)})
        write(work, incoming)
        return done(work, f"{grouped(row.code)} saved.")

    return store.write(who, "described", act)


def _one(row: Mapping[str, str]) -> RawTable:
    return RawTable(tuple(row), [(1, list(row.values()))])


def _measured(lot: str, measures: Mapping[str, str]) -> RawTables:
    rows = [(lot, measure, text) for measure, text in measures.items() if text.strip()]
    table = RawTable(("lot", "measure", "value"), [(number, list(row)) for number, row in enumerate(rows, 1)])
    return {"lot_measures": table} if rows else {}
