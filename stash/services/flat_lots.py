"""A row beside the lot it is: what is new, what differs, and what was changed on both sides since."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import ROWS
from stash.kernel.cells import write_cell
from stash.kernel.tables import TABLE_BY_NAME
from stash.services.flat_asking import Asking
from stash.services.flat_facts import Doubt, Offer, Value
from stash.services.flat_identity import UNKNOWN_KIND
from stash.services.flat_rows import Reading

MEASURE = "measure:"
"""What a measure's column is called beside a lot's own."""
_LOTS = TABLE_BY_NAME["lots"]
_AT_ONCE = 500
_SHOWN = ("kind", "design", "quantity", "condition", "place", "number_seen", "acquired_on", "paid", "note")


def stored_lots(session: Session, codes: Iterable[str]) -> dict[str, dict[str, str]]:
    """Return ``{code: {column: cell text}}`` of lots, measures among the columns as ``measure:KEY``."""
    wanted = iter(sorted(set(codes)))
    lots, measures = ROWS["lots"].__table__, ROWS["lot_measures"].__table__
    found: dict[str, dict[str, str]] = {}
    while some := list(islice(wanted, _AT_ONCE)):
        for row in session.execute(select(lots).where(lots.c.code.in_(some))).mappings():
            found[row["code"]] = {column.name: write_cell(column, row[column.name]) for column in _LOTS.columns}
        for measured in session.execute(select(measures).where(measures.c.lot.in_(some))).mappings():
            found[measured["lot"]][MEASURE + measured["measure"]] = measured["value"]
    return found


@dataclass(frozen=True, slots=True)
class Compared:
    """A row beside its lot.

    Args:
        says: ``{column: cell text}`` as the sheet has it.
        changes: ``{column: cell text}`` to write; of a new lot everything.
        values: For showing.
        doubts: What was changed on both sides.
    """

    says: Mapping[str, str]
    changes: Mapping[str, str]
    values: tuple[Value, ...]
    doubts: tuple[Doubt, ...] = ()


def said_by(reading: Reading) -> dict[str, str]:
    """Return all columns a row fills, measures among them."""
    return {**reading.lot, **{MEASURE + key: value for key, value in reading.measures.items()}}


def compare(
    says: Mapping[str, str], now: Mapping[str, str] | None, wrote: Mapping[str, str] | None, lot: str, asking: Asking
) -> Compared:
    """Compare a row with its lot.

    What the sheet says as before is left as it is in the workshop; what it says otherwise is changed; what both sides
    changed is asked. An empty cell takes nothing away unless it was filled when the row was last taken in.

    Args:
        says: ``{column: cell text}`` of the row.
        now: The lot's cells, None for a new lot.
        wrote: What the row said when it was last taken in, None where that is not known.
        lot: The lot's code.
        asking: Takes the questions.
    """
    if now is None:
        whole = {**says, "condition": says.get("condition") or _LOTS.column("condition").default}
        return Compared(says, whole, tuple(_shown(whole, whole, {})))
    changes: dict[str, str] = {}
    doubts: list[Doubt] = []
    for column, text in says.items():
        before, last = now.get(column, ""), (wrote or {}).get(column, "")
        if text == before or (wrote is not None and text == last) or (not text and not last):
            continue
        if column == "kind" and text == UNKNOWN_KIND[0]:
            continue
        identified = column == "kind" and now.get("design") and not says.get("design")
        both = identified or (wrote is not None and before != last)
        if not both or _ask_both(asking, lot, column, before, text, doubts) == "sheet":
            changes[column] = text
    if says.get("design") and "design" in changes:
        changes["kind"] = says["kind"]
    elif "kind" in changes and now.get("design"):
        changes["design"] = ""
    changes = {name: text for name, text in changes.items() if text or not name.startswith(MEASURE)}
    return Compared(says, changes, tuple(_shown({**now, **changes}, changes, now)), tuple(doubts))


def _ask_both(asking: Asking, lot: str, column: str, here: str, sheet: str, doubts: list[Doubt]) -> str:
    key = f"both:{lot}:{column}"
    name = column.removeprefix(MEASURE).replace("_", " ")
    text = f"{name}: the sheet changed it to {sheet or 'nothing'!r}, the workshop to {here or 'nothing'!r}"
    given = asking.answer(key) in {"sheet", "here"}
    offers = (Offer("here", here or "nothing", "keep what is here"), Offer("sheet", sheet or "nothing", "take it"))
    answer = asking.ask(key, f"{text}. Which holds?", offers, guess="here", answered=given)
    if not given:
        doubts.append(Doubt(column, text, key))
    return answer


def _shown(cells: Mapping[str, str], changes: Mapping[str, str], now: Mapping[str, str]) -> Iterator[Value]:
    names = [*_SHOWN, *(name for name in cells if name.startswith(MEASURE)), "from_machine", "checked"]
    for name in names:
        text = cells.get(name, "")
        if text or name in changes:
            yield Value(name, text, now.get(name, "") if name in changes else "", changed=bool(now) and name in changes)
