"""From a file's bytes to what would be done with every row: the pure part between reading and writing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from stash.db.models import Code
from stash.db.store import Store
from stash.exchange.flat.columns import LEFT_OUT, MANY, REASON, Guess, fingerprint, guess_columns
from stash.exchange.flat.files import Grid, read_flat
from stash.exchange.flat.vocabulary import plain
from stash.exchange.flat.words import Conventions, guess_decimal, guess_order
from stash.fit.catalogue import Catalogue
from stash.kernel.codes import parse_code
from stash.plan.facts import Stock
from stash.services.flat_asking import Asking
from stash.services.flat_designs import DesignFinder
from stash.services.flat_facts import Choices, Doubt, Offer
from stash.services.flat_identity import Identifier
from stash.services.flat_kinds import KindFinder
from stash.services.flat_lots import Compared, compare, said_by, stored_lots
from stash.services.flat_memory import Memory, Taken, best_keys, remembered, row_keys
from stash.services.flat_places import PlaceFinder
from stash.services.flat_rows import Reading, RowReader
from stash.services.flat_sizes import SizeFinder
from stash.services.gaps import judge
from stash.services.titles import counted

HOLD, NEW, DESIGN = "hold", "new", "design:"


@dataclass(frozen=True, slots=True)
class Planned:
    """One row, ready to be shown or written.

    Args:
        reading: What it says.
        compared: That beside its lot.
        lot: The code of the lot it is; "" for a new one.
        code: A code the sheet gives a new lot, "" to draw one.
        keys: The marks it is remembered by.
        held: It is kept out.
        wrong: Why it can't come in, "" otherwise.
    """

    reading: Reading
    compared: Compared
    lot: str
    code: str
    keys: tuple[str, ...]
    held: bool
    wrong: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole sheet, ready to be shown or written."""

    grid: Grid
    fingerprint: str
    columns: tuple[Guess, ...]
    memory: Memory
    asking: Asking
    rows: tuple[Planned, ...]
    catalogue: Catalogue
    stock: Stock
    whole: bool

    @property
    def stores(self) -> Iterator[Planned]:
        """The rows that come in."""
        return (row for row in self.rows if not row.held and not row.wrong)


def make_plan(store: Store, session: Session, name: str, data: bytes, choices: Choices) -> Plan:
    """Read a sheet and plan what to do with every row.

    Args:
        store: The database.
        session: An open transaction of it.
        name: The file's name.
        data: Its bytes.
        choices: What the person said so far.

    Raises:
        InvalidInput: It can't be read as a sheet.
    """
    grid = read_flat(name, data, encoding=choices.encoding, sheet=choices.sheet)
    mark = fingerprint(grid.header)
    memory = remembered(session, mark)
    columns = guess_columns(grid, choices.columns, memory.columns)
    asking = Asking({**memory.answers, **choices.answers})
    catalogue, stock = store.catalogue(), store.stock()
    cells = _Cells(grid, columns)
    reader = _reader(store, catalogue, stock, cells, asking)
    readings = [reader.read(number, row, _row_design(choices, number, catalogue)) for number, row in grid.rows]
    keys = _keys(cells, memory, asking)
    planner = _RowPlanner(session, memory, asking, choices, readings, keys)
    whole = not any(plain(header) == plain(REASON) for header in grid.header)
    return Plan(grid, mark, columns, memory, asking, planner.plan(), catalogue, stock, whole)


class _Cells:
    """A sheet's cells by field."""

    def __init__(self, grid: Grid, columns: Sequence[Guess]) -> None:
        self.grid = grid
        self.columns = columns
        self.at = {guess.field: guess.at for guess in columns if guess.field not in {MANY, LEFT_OUT}}
        self.notes = [guess.at for guess in columns if guess.field == MANY]

    def of(self, *fields: str) -> list[str]:
        """All filled texts of some fields."""
        places = [self.at[field] for field in fields if field in self.at]
        return [row[at] for _, row in self.grid.rows for at in places if row[at]]

    @property
    def telling(self) -> list[dict[str, str]]:
        """Each row's texts by field; all remarks together are its note."""
        return [
            {**{field: row[at] for field, at in self.at.items()}, MANY: " ".join(row[at] for at in self.notes)}
            for _, row in self.grid.rows
        ]


def _reader(store: Store, catalogue: Catalogue, stock: Stock, cells: _Cells, asking: Asking) -> RowReader:
    conventions = _conventions(cells, asking)
    designs = DesignFinder(catalogue, judge(store))
    identifier = Identifier(catalogue, KindFinder(catalogue), designs, asking)
    places = PlaceFinder(stock, _nesting(cells, asking), asking)
    sizes = SizeFinder(catalogue, conventions)
    return RowReader(cells.columns, conventions, asking, identifier, designs, places, sizes, stock)


def _conventions(cells: _Cells, asking: Asking) -> Conventions:
    mark, sure = guess_decimal(cells.of("size", "paid"))
    marks = (Offer(",", "37,95", "a comma before the decimals"), Offer(".", "37.95", "a point before the decimals"))
    told = asking.answer("decimal") in {",", "."}
    decimal = mark
    if not sure or told:
        text = "Decimals are written both with a comma and with a point. Which is it where either could be?"
        decimal = asking.ask("decimal", text, marks, guess=mark, answered=told)
    order, certain = guess_order(cells.of("date"))
    orders = tuple(Offer(each, label) for each, label in (("dmy", "day, month, year"), ("mdy", "month, day, year")))
    told = asking.answer("order") in {"dmy", "mdy"}
    if not certain or told:
        text = "In some dates day and month could be either. Which comes first?"
        order = asking.ask("order", text, orders, guess=order, answered=told)
    return Conventions(decimal, order, cells.grid.typed)


def _nesting(cells: _Cells, asking: Asking) -> str:
    texts = cells.of("place")
    found = [each for each in ("/", ">") if any(each in text for text in texts)]
    if not found:
        return ""
    sample = next(text for text in texts if found[0] in text)
    offers = (
        Offer("no", sample, "one place of that name"),
        *(
            Offer(each, " \u203a ".join(p.strip() for p in sample.split(each)), "one inside the other")
            for each in found
        ),
    )
    told = asking.answer("nesting") in {"no", *found}
    answer = asking.ask("nesting", "Are these places inside one another?", offers, guess="no", answered=told)
    return "" if answer == "no" else answer


def _keys(cells: _Cells, memory: Memory, asking: Asking) -> list[tuple[str, int]]:
    """Return each row's mark, by the fields that tell rows apart; asks which those are."""
    rows, there = cells.telling, [*cells.at, MANY]
    best = ";".join(best_keys(rows, there))
    given = [each for each in asking.answer("keys").split(";") if each in there]
    text = "Which columns tell that a row is the same one as before, when the sheet comes again?"
    offers = (Offer(best, best.replace(";", " + "), "the fewest that tell all rows apart"),)
    if "code" not in cells.at or not all(row["code"] for row in rows):
        asking.ask("keys", text, offers, guess=best, sure=memory.known, answered=bool(given), free=True)
    return row_keys(rows, given or best.split(";"))


def _row_design(choices: Choices, number: int, catalogue: Catalogue) -> str:
    design = choices.rows.get(number, "").removeprefix(DESIGN)
    return design if choices.rows.get(number, "").startswith(DESIGN) and design in catalogue.design else ""


class _RowPlanner:
    def __init__(
        self,
        session: Session,
        memory: Memory,
        asking: Asking,
        choices: Choices,
        readings: Sequence[Reading],
        keys: Sequence[tuple[str, int]],
    ) -> None:
        self._memory = memory
        self._asking = asking
        self._choices = choices
        self._rows = list(zip(readings, keys, strict=True))
        wanted = {taken.lot for taken in memory.rows.values()} | {code for code in map(_own_code, readings) if code}
        wanted |= {str(code) for code in map(parse_code, choices.rows.values()) if code is not None}
        self._stored = stored_lots(session, wanted)
        types = select(Code.code, Code.type).where(Code.type != "lot")
        given = any(_own_code(reading) for reading in readings)
        self._taken = {row.code: row.type for row in session.execute(types)} if given else {}
        self._by_lot: Counter[str] = Counter()
        self._taken_before = memory.by_lot

    def plan(self) -> tuple[Planned, ...]:
        return tuple(self._one(reading, key, before) for reading, (key, before) in self._rows)

    def _one(self, reading: Reading, key: str, before: int) -> Planned:
        marked = reading.fields.get("row", "")
        keys = tuple(dict.fromkeys(each for each in (marked, key) if each))
        said = self._choices.rows.get(reading.number, "")
        code = _own_code(reading)
        lot, named = self._lot(said, code, self._memory.rows.get(keys[0]))
        wrong = reading.wrong or self._wrong_code(code, lot)
        if lot and not wrong:
            self._by_lot[lot] += 1
            if self._by_lot[lot] > 1:
                wrong = f"another row above is the lot {lot} as well"
        now, says, before_it = self._stored.get(lot), said_by(reading), self._taken_before.get(lot)
        wrote = before_it.wrote if before_it else None
        if now is not None and named and (wrote is None or wrote.get("note", "") != says["note"]):
            says["note"] = reading.note_beside(now["note"])
        compared = compare(says, now, wrote, lot, self._asking)
        reading = self._looked_at(reading, key_before=before, compared=compared)
        for doubt in compared.doubts:
            self._asking.touch(doubt.question, reading.number)
        unclear = any(self._is_open(doubt.question) for doubt in reading.doubts)
        held = said == HOLD or (unclear and self._asking.answer("unclear") == HOLD)
        return Planned(reading, compared, lot, "" if lot else code, keys, held, wrong)

    def _lot(self, said: str, code: str, taken: Taken | None) -> tuple[str, bool]:
        """Return the lot a row is, and whether it is named by its code rather than remembered."""
        chosen = parse_code(said) if said not in {"", HOLD, NEW} else None
        if chosen is not None and str(chosen) in self._stored:
            return str(chosen), True
        if said == NEW:
            return "", False
        if code in self._stored:
            return code, True
        return (taken.lot, False) if taken and taken.lot in self._stored and not code else ("", False)

    def _wrong_code(self, code: str, lot: str) -> str:
        if code and not lot and code in self._taken:
            return f"{code} is the code of a {self._taken[code]}"
        return ""

    def _looked_at(self, reading: Reading, *, key_before: int, compared: Compared) -> Reading:
        doubts = list(reading.doubts) + list(compared.doubts)
        if key_before:
            doubts.append(
                Doubt("row", f"reads the same as {counted(key_before, 'row')} above: told apart by their order")
            )
        return replace(reading, doubts=tuple(doubts))

    def _is_open(self, question: str) -> bool:
        return question == "row" or (bool(question) and self._asking.is_open(question))


def _own_code(reading: Reading) -> str:
    code = parse_code(reading.fields.get("code", ""))
    return str(code) if code is not None else ""
