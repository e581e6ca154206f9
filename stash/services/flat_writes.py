"""Writing what a sheet brings: kinds, places, lots and their measures, through the same checks as any load."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Code
from stash.db.unit import Work
from stash.errors import StorageError
from stash.exchange import RawTable, RawTables
from stash.kernel.codes import ALPHABET, PAYLOAD_LENGTH, code_from_payload
from stash.kernel.tables import TABLE_BY_NAME
from stash.services.flat_lots import MEASURE, stored_lots
from stash.services.flat_places import PlaceRef
from stash.services.flat_plan import Plan, Planned
from stash.services.load_writes import write
from stash.services.tables import examined

_FULLEST = 0.9
"""How full the namespace of codes may get before drawing takes too long. Source: project decision."""


@dataclass(frozen=True, slots=True)
class Written:
    """What was written.

    Args:
        added: New lots.
        changed: Changed lots.
        same: Lots that needed nothing.
        codes: The new lots' codes, in order of the rows.
        rows: ``{key: (lot, cells the sheet gave it)}``.
    """

    added: int
    changed: int
    same: int
    codes: tuple[str, ...]
    rows: Mapping[str, tuple[str, Mapping[str, str]]]


def write_rows(work: Work, plan: Plan) -> Written:
    """Write the rows that come in; see ``flat_sheet.accept``."""
    rows = list(plan.stores)
    making = {row.reading.place: None for row in rows if row.reading.place.missing}
    given = {row.code for row in rows if row.code}
    wanted = sum(ref.missing for ref in making) + sum(1 for row in rows if not row.lot and not row.code)
    drawn = iter(new_codes(work.session, wanted, given))
    places = _new_places(making, drawn)
    codes = [row.lot or row.code or next(drawn) for row in rows]
    changing = [(row, code) for row, code in zip(rows, codes, strict=True) if not row.lot or row.compared.changes]
    now = stored_lots(work.session, (row.lot for row, _ in changing if row.lot))
    lots = [_lot(row, code, now.get(row.lot, {}), places.cells) for row, code in changing]
    measures = [
        (code, column.removeprefix(MEASURE), text)
        for row, code in changing
        for column, text in row.compared.changes.items()
        if column.startswith(MEASURE)
    ]
    tables: RawTables = {
        "kinds": _table(("key", "name"), _new_kinds(rows)),
        "places": _table(("code", "name", "inside"), places.rows),
        "lots": _table(TABLE_BY_NAME["lots"].names, lots),
        "lot_measures": _table(("lot", "measure", "value"), measures),
    }
    write(work, examined(work.session, {name: table for name, table in tables.items() if table.rows}))
    new = tuple(code for row, code in changing if not row.lot)
    remembered = {
        key: (code, _with_place(row.compared.says, places.cells))
        for row, code in zip(rows, codes, strict=True)
        for key in row.keys
    }
    return Written(len(new), len(changing) - len(new), len(rows) - len(changing), new, remembered)


def new_codes(session: Session, count: int, given: Iterable[str] = ()) -> list[str]:
    """Draw codes that no place, machine or lot has.

    Args:
        session: The transaction they will be used in.
        count: How many.
        given: Codes that are about to be used besides.

    Raises:
        StorageError: Nearly all codes are taken.
    """
    if not count:
        return []
    taken = {*session.execute(select(Code.code)).scalars(), *given}
    if len(taken) + count > _FULLEST * len(ALPHABET) ** PAYLOAD_LENGTH:
        raise StorageError("No free code is left", "Remove places, machines or lots that are no longer needed.")
    drawn: list[str] = []
    while len(drawn) < count:
        code = code_from_payload("".join(secrets.choice(ALPHABET) for _ in range(PAYLOAD_LENGTH)))
        if code is not None and str(code) not in taken:
            taken.add(str(code))
            drawn.append(str(code))
    return drawn


@dataclass(frozen=True, slots=True)
class _Places:
    """Rows of new places, and ``{text that stood for one: its code}``."""

    rows: list[tuple[str, str, str]]
    cells: dict[str, str]


def _new_places(wanted: Iterable[PlaceRef], drawn: Iterator[str]) -> _Places:
    made: dict[tuple[str, str], str] = {}
    found = _Places([], {})
    for ref in wanted:
        inside = ref.inside
        for name in ref.names[-ref.missing :]:
            mark = (inside, name.casefold())
            if mark not in made:
                made[mark] = next(drawn)
                found.rows.append((made[mark], name, inside))
            inside = made[mark]
        found.cells[ref.cell] = inside
    return found


def _new_kinds(rows: Sequence[Planned]) -> list[tuple[str, str]]:
    kinds = {row.reading.identity.kind: row.reading.identity.new_kind for row in rows if row.reading.identity.new_kind}
    return list(kinds.items())


def _lot(row: Planned, code: str, now: Mapping[str, str], places: Mapping[str, str]) -> tuple[str, ...]:
    cells = _with_place({**now, **row.compared.changes, "code": code}, places)
    return tuple(cells.get(name, "") for name in TABLE_BY_NAME["lots"].names)


def _with_place(cells: Mapping[str, str], places: Mapping[str, str]) -> dict[str, str]:
    place = cells.get("place", "")
    return {**cells, "place": places[place]} if place in places else dict(cells)


def _table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> RawTable:
    return RawTable(tuple(header), [(number, list(row)) for number, row in enumerate(rows, 1)])
