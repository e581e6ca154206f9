"""One row of a flat sheet as a lot: every cell either becomes a field or stays in the note, with what is doubtful."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stash.exchange.flat.columns import LEFT_OUT, MANY, Guess
from stash.exchange.flat.vocabulary import header_words, plain
from stash.exchange.flat.words import Conventions, either_order, read_count, read_day, read_decimal, read_grade
from stash.kernel.cells import Fault, read_cell
from stash.kernel.codes import parse_code
from stash.kernel.exact import decimal_text
from stash.kernel.tables import CONDITIONS, TABLE_BY_NAME
from stash.plan.facts import Stock
from stash.services.flat_asking import Asking
from stash.services.flat_designs import DesignFinder
from stash.services.flat_facts import Doubt, Offer
from stash.services.flat_identity import Identifier, Identity, Texts
from stash.services.flat_places import PlaceFinder, PlaceRef
from stash.services.flat_sizes import SizeFinder

_LOTS = TABLE_BY_NAME["lots"]


@dataclass(frozen=True, slots=True)
class Reading:
    """What a row says.

    Args:
        number: Its row number.
        cells: Its texts.
        fields: ``{field: text}``, remarks not among them.
        identity: What it is.
        place: Where it lies.
        lot: ``{column of lots: cell text}`` of what the sheet has columns for; the place as ``PlaceRef.cell``.
        measures: ``{measure: value text}``.
        doubts: Everything doubtful.
        offers: Designs it may be.
        remarks: What stands in the columns of remarks, None where the sheet has none.
        leftover: What stands in other cells and is no field's, without the words for what it is.
        wrong: Why it can't come in, "" otherwise.
    """

    number: int
    cells: tuple[str, ...]
    fields: Mapping[str, str]
    identity: Identity
    place: PlaceRef
    lot: Mapping[str, str]
    measures: Mapping[str, str]
    doubts: tuple[Doubt, ...]
    offers: tuple[Offer, ...]
    remarks: tuple[str, ...] | None
    leftover: tuple[str, ...]
    wrong: str

    def note_beside(self, note: str) -> str:
        """Return the note of a lot that was there before: the sheet's remarks, and what else is not in it yet."""
        base = note if self.remarks is None else "; ".join(self.remarks)
        more = [text for text in self.leftover if text not in base]
        return "; ".join([*([base] if base else []), *more])


class RowReader:
    """Reads the rows of one sheet.

    Args:
        columns: What each column is.
        conventions: How the sheet writes numbers and dates.
        asking: Takes the questions.
        identifier: Tells what a row is.
        designs: Finds designs.
        places: Finds places.
        sizes: Places sizes.
        stock: The machines and lots there are.
    """

    def __init__(
        self,
        columns: Sequence[Guess],
        conventions: Conventions,
        asking: Asking,
        identifier: Identifier,
        designs: DesignFinder,
        places: PlaceFinder,
        sizes: SizeFinder,
        stock: Stock,
    ) -> None:
        self._at = {guess.field: guess.at for guess in columns if guess.field not in {MANY, LEFT_OUT}}
        self._notes = [(guess.at, _said_header(guess.header)) for guess in columns if guess.field == MANY]
        self._size_header = next((guess.header for guess in columns if guess.field == "size"), "")
        self._conventions = conventions
        self._asking = asking
        self._identifier = identifier
        self._designs = designs
        self._places = places
        self._sizes = sizes
        self._machines = {row.serial.casefold(): code for code, row in stock.machines.items() if row.serial}
        self._codes = frozenset(stock.machines)

    def read(self, number: int, cells: tuple[str, ...], design: str = "") -> Reading:
        """Read a row.

        Args:
            number: Its number.
            cells: Its texts.
            design: The design it is, where the person says so of this very row.
        """
        row = _Draft({field: cells[at] for field, at in self._at.items()})
        said = row.fields
        texts = Texts(*(said.get(name, "") for name in Texts._fields))
        identity = self._identifier.identify(texts._replace(design=design, number="", what="") if design else texts)
        place = self._places.find(said.get("place", ""))
        row.doubts += [*identity.doubts, *place.doubts]
        row.lot |= {"kind": identity.kind, "design": identity.design, "place": place.cell}
        for read in (self._count, self._grade, self._size, self._number, self._machine, self._paid, self._date):
            read(row, identity)
        self._note(row, cells, texts, identity)
        offers = identity.offers or self._offers(row, identity)
        if "place" not in said:
            del row.lot["place"]
        for doubt in row.doubts:
            if doubt.question:
                self._asking.touch(doubt.question, number)
        wrong = place.wrong or _wrong_code(said) or _wrong_cell(row.lot)
        return Reading(
            number,
            cells,
            said,
            identity,
            place,
            row.lot,
            row.measures,
            tuple(row.doubts),
            offers,
            None if row.remarks is None else tuple(row.remarks),
            tuple(row.note),
            wrong,
        )

    def _offers(self, row: _Draft, identity: Identity) -> tuple[Offer, ...]:
        """Return designs that the sizes, or the model it came off, leave possible."""
        if identity.design:
            return ()
        size, machine = row.fields.get("size", ""), row.fields.get("machine", "")
        return self._designs.possible(identity.kind, row.measures, size, machine)

    def _count(self, row: _Draft, _identity: Identity) -> None:
        text = row.fields.get("quantity", "")
        count = read_count(text)
        key = f"quantity:{plain(text)}"
        answer = self._asking.answer(key)
        number = count.number
        if count.doubt:
            usable = answer.isdigit() and int(answer) <= 1_000_000  # noqa: PLR2004 - what a lot holds at most
            offer = Offer(str(count.number), str(count.number), "as taken")
            self._asking.ask(key, f"{count.doubt}. How many is it?", (offer,), answered=usable, free=True)
            number = int(answer) if usable else number
            if not usable:
                row.doubts.append(Doubt("quantity", count.doubt, key))
            if text:
                row.note.append(f"quantity {text}")
        elif count.about:
            row.doubts.append(Doubt("quantity", f"{text!r} is only about so many: count them some day"))
            row.note.append(f"quantity {text}")
        row.lot["quantity"] = str(number)

    def _grade(self, row: _Draft, _identity: Identity) -> None:
        text = row.fields.get("condition", "")
        if "condition" not in row.fields:
            return
        grade = read_grade(text)
        condition = text if text in CONDITIONS else grade.condition
        if grade.doubt and text not in CONDITIONS:
            key = f"condition:{plain(text)}"
            answer = self._asking.answer(key)
            offers = tuple(Offer(each, each.replace("_", " ")) for each in CONDITIONS)
            self._asking.ask(key, f"{grade.doubt}. Which is it?", offers, answered=answer in CONDITIONS)
            condition = answer if answer in CONDITIONS else condition
            if answer not in CONDITIONS:
                row.doubts.append(Doubt("condition", grade.doubt, key))
        doubted = not text or (grade.doubt and condition == grade.condition)
        row.lot["condition"] = "" if doubted else condition
        row.lot["checked"] = grade.checked
        if text and plain(text) != plain(condition):
            row.note.append(text)

    def _size(self, row: _Draft, identity: Identity) -> None:
        text = row.fields.get("size", "")
        if not text:
            return
        placed = self._sizes.place(identity.kind, identity.design, text, self._size_header)
        row.measures |= placed.values
        if placed.doubt:
            row.doubts.append(Doubt("size", placed.doubt, "row" if placed.asks else ""))
        if placed.values:
            row.lot["checked"] = row.lot.get("checked") or "measured"
        else:
            row.note.append(f"size {text}")

    def _number(self, row: _Draft, _identity: Identity) -> None:
        if "number" in row.fields:
            row.lot["number_seen"] = row.fields["number"]

    def _machine(self, row: _Draft, _identity: Identity) -> None:
        text = row.fields.get("machine", "")
        if not text:
            return
        code = parse_code(text)
        known = str(code) if code is not None and str(code) in self._codes else self._machines.get(text.casefold(), "")
        if known:
            row.lot["from_machine"] = known
        else:
            row.note.append(f"off {text}")
            row.doubts.append(Doubt("machine", f"{text!r} is no machine's code or serial number: kept in the note"))

    def _paid(self, row: _Draft, _identity: Identity) -> None:
        text = row.fields.get("paid", "")
        if not text:
            return
        amount = read_decimal(text, self._conventions)
        if amount is None or isinstance(read_cell(_LOTS.column("paid"), decimal_text(amount)), Fault):
            row.note.append(f"paid {text}")
            row.doubts.append(Doubt("paid", f"{text!r} is no amount: kept in the note"))
        else:
            row.lot["paid"] = f"{amount:.2f}"

    def _date(self, row: _Draft, _identity: Identity) -> None:
        text = row.fields.get("date", "")
        day = read_day(text, self._conventions)
        if day.doubt:
            row.doubts.append(Doubt("date", day.doubt))
        if day.day is not None and either_order(text) and self._asking.is_open("order"):
            row.doubts.append(Doubt("date", f"{text!r} is taken as {day.day.isoformat()}"))
        if day.day is not None:
            row.lot["acquired_on"] = day.day.isoformat()
        elif text:
            row.note.append(f"bought {text}")

    def _note(self, row: _Draft, cells: tuple[str, ...], texts: Texts, identity: Identity) -> None:
        title = plain(identity.title.removesuffix(", not identified"))
        known = {"": "", texts.kind: identity.kind, texts.design: identity.design}
        said = [texts.what, *(text for text in (texts.kind, texts.design) if known[text] != text)]
        told = [text for text in said if text and plain(text) != title]
        remarks = [f"{header}: {cells[at]}" if header else cells[at] for at, header in self._notes if cells[at]]
        row.remarks = remarks if self._notes else None
        maker = [f"maker {texts.maker}"] if texts.maker and not identity.design else []
        row.lot["note"] = "; ".join(dict.fromkeys([*told, *maker, *row.note, *remarks]))


class _Draft:
    """A row in the making."""

    def __init__(self, fields: dict[str, str]) -> None:
        self.fields = fields
        self.lot: dict[str, str] = {}
        self.measures: dict[str, str] = {}
        self.doubts: list[Doubt] = []
        self.note: list[str] = []
        self.remarks: list[str] | None = None


def _said_header(header: str) -> str:
    """Return what is said before a remark: nothing where the header only says that it is one."""
    return "" if plain(header) in {plain(word) for word in header_words()[MANY]} else header


def _wrong_code(said: Mapping[str, str]) -> str:
    text = said.get("code", "")
    return f"{text!r} is no code of ours: look for a slip" if text and parse_code(text) is None else ""


def _wrong_cell(lot: Mapping[str, str]) -> str:
    for name, text in lot.items():
        if name in {"kind", "design", "place"}:
            continue
        fault = read_cell(_LOTS.column(name), text)
        if isinstance(fault, Fault):
            return f"{name} {fault.problem}. {fault.hint}"
    return ""
