"""Any flat sheet in: proposed row by row, asked about once, and taken in as one batch that an undo takes back.

Nothing is kept between the calls: the screen or command sends the file again with what was chosen so far.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput, NotFound
from stash.exchange.flat.columns import CODE, FIELDS, LEFT_OUT, REASON, ROW, name_columns
from stash.exchange.flat.files import read_flat
from stash.exchange.flat.listing import Heading, Listing, render
from stash.exchange.flat.vocabulary import plain
from stash.exchange.raw import refuse_large
from stash.services.flat_facts import Choices, Doubt, Gone, Offer, Proposal, Question, Row, Value
from stash.services.flat_memory import remember
from stash.services.flat_plan import Plan, Planned, make_plan
from stash.services.flat_writes import write_rows
from stash.services.handling import Done, done
from stash.services.tables import copy_before_load
from stash.services.titles import lot_title, place_path

__all__ = [
    "Choices",
    "Doubt",
    "Offer",
    "Proposal",
    "Question",
    "Row",
    "accept",
    "propose",
    "read_file",
    "rejects",
    "with_columns",
]


def propose(store: Store, name: str, data: bytes, choices: Choices | None = None) -> Proposal:
    """Say what taking a sheet in would do; nothing is written.

    Args:
        store: The database.
        name: The file's name; what it is is told by its content.
        data: Its bytes.
        choices: What the person said so far; what is left out is guessed, or remembered from the same sheet before.

    Returns:
        The proposal: every row with what it is taken for, and the questions it raises.

    Raises:
        InvalidInput: It can't be read as a sheet; says why and how to mend it.
    """
    with store.reading() as session:
        return _shown(name, make_plan(store, session, name, data, choices or Choices()))


def accept(store: Store, name: str, data: bytes, choices: Choices | None, who: str) -> Done:
    """Take a sheet in: new lots, changed lots, places and kinds, in one batch.

    Rows that are wrong or held stay out. Rows with open questions come in with what is sure, as unidentified lots
    where need be, unless ``answers["unclear"]`` is ``hold``.

    Args:
        store: The database.
        name: The file's name.
        data: Its bytes.
        choices: As for ``propose``.
        who: Who does it.

    Returns:
        What was done, with the codes of new lots in the order of the rows.

    Raises:
        InvalidInput: It can't be read, or a cell can't be stored; nothing was written.
    """
    chosen = choices or Choices()

    def act(work: Work) -> Done:
        plan = make_plan(store, work.session, name, data, chosen)
        copy_before_load(store, work)
        written = write_rows(work, plan)
        columns = dict(zip(name_columns(plan.grid.header), (guess.field for guess in plan.columns), strict=True))
        own = {plain(each) for each in (CODE, REASON, ROW)}
        fields = {column: field for column, field in columns.items() if column not in own}
        answers = {each.key: each.answer for each in plan.asking.questions if each.answer and _lasting(each)}
        remember(work, plan.fingerprint, name, fields, {**plan.memory.answers, **answers}, written.rows, plan.memory)
        said = f"{written.added} lots new, {written.changed} changed, {written.same} as before"
        out = sum(1 for row in plan.rows if row.held or row.wrong)
        return done(work, f"{said}{f', {out} rows left out' if out else ''}.", *written.codes)

    return store.write(who, f"took in {name}", act)


def _lasting(question: Question) -> bool:
    """Whether an answer holds for the next version of the sheet; what tells rows apart must, even as guessed."""
    return question.key == "keys" or (not question.open and not question.key.startswith("both:"))


def rejects(proposal: Proposal, ending: str = ".csv") -> bytes:
    """Return the rows that need a look as a sheet of their own, each with why; mended, it is loaded like any other.

    Args:
        proposal: As proposed; after an acceptance, propose again for the codes of what came in.
        ending: ``.csv`` or ``.xlsx``.
    """
    header = [*proposal.header, REASON, CODE, ROW]
    own = {plain(each) for each in (REASON, CODE, ROW)}
    kept = [at for at, name in enumerate(proposal.header) if plain(name) not in own]
    rows = [
        (*(row.cells[at] for at in kept), row.reason, row.lot, row.key)
        for row in proposal.rows
        if row.state in {"unclear", "wrong", "held"}
    ]
    names = [header[at] for at in kept] + [REASON, CODE, ROW]
    headings = tuple(Heading(str(at), name) for at, name in enumerate(names))
    return render(Listing("needs a look", headings, rows), ending)


def read_file(path: Path) -> bytes:
    """Return a sheet's bytes.

    Raises:
        NotFound: There is no such file.
        InvalidInput: It is too large or can't be read.
    """
    try:
        refuse_large(path.name, path.stat().st_size)
        return path.read_bytes()
    except FileNotFoundError:
        raise NotFound(f"There is no file {path}", "Check the name.") from None
    except OSError as error:
        raise InvalidInput(f"{path} can't be read: {error.strerror}", "Give a .csv, .xlsx or .ods.") from error


def with_columns(name: str, data: bytes, choices: Choices, fields: Mapping[str, str]) -> Choices:
    """Return choices that say what columns are by their headers.

    Args:
        name: The file's name.
        data: Its bytes.
        choices: What was chosen so far; says how the file is read.
        fields: ``{header: field}``, the headers in any case.

    Raises:
        InvalidInput: There is no such column or field.
    """
    if not fields:
        return choices
    header = read_flat(name, data, encoding=choices.encoding, sheet=choices.sheet).header
    places = {plain(each): at for at, each in reversed(list(enumerate(header)))}
    columns = dict(choices.columns)
    for said, field in fields.items():
        if plain(said) not in places:
            raise InvalidInput(
                f"There is no column {said!r}", f"They are {', '.join(each for each in header if each)}."
            )
        if field not in FIELDS and field != LEFT_OUT:
            raise InvalidInput(
                f"{field!r} is nothing a column can be", f"Use one of {', '.join(FIELDS)} or {LEFT_OUT}."
            )
        columns[places[plain(said)]] = field
    return replace(choices, columns=columns)


def _shown(name: str, plan: Plan) -> Proposal:
    grid = plan.grid
    asking = plan.asking
    rows = tuple(_row(row, plan) for row in plan.rows)
    places = {row.reading.place.shown: None for row in plan.stores if not row.reading.place.code}
    kinds = {(row.reading.identity.kind, row.reading.identity.new_kind): None for row in plan.stores}
    return Proposal(
        name,
        grid.name,
        grid.sheets,
        plan.fingerprint,
        plan.memory.known,
        grid.encoding,
        grid.separator,
        grid.notes,
        grid.header,
        plan.columns,
        asking.questions,
        rows,
        tuple(path for path in places if path),
        tuple((key, new) for key, new in kinds if new),
        _gone(plan),
    )


def _row(row: Planned, plan: Plan) -> Row:
    reading, compared, asking = row.reading, row.compared, plan.asking
    does = "" if row.wrong else "new" if not row.lot else "changed" if compared.changes else "same"
    asks = [doubt for doubt in reading.doubts if doubt.question == "row" or asking.is_open(doubt.question)]
    state = "wrong" if row.wrong else "held" if row.held else "unclear" if asks else does
    reason = row.wrong or "; ".join(doubt.text for doubt in asks) or ("held back" if row.held else "")
    return Row(
        reading.number,
        reading.cells,
        state,
        does,
        row.lot,
        reading.identity.title,
        tuple(_named(value, plan) for value in compared.values),
        reading.doubts,
        reading.offers,
        reason,
        row.keys[0],
    )


def _named(value: Value, plan: Plan) -> Value:
    """Return a field with places by their names."""
    if value.column != "place":
        return value
    text, before = (place_path(plan.stock, each) or each for each in (value.text, value.before))
    return replace(value, text=text, before=before)


def _gone(plan: Plan) -> tuple[Gone, ...]:
    if not plan.whole:
        return ()
    here = {row.lot for row in plan.rows}
    lots: Mapping[str, None] = {taken.lot: None for taken in plan.memory.rows.values()}
    there = (plan.stock.lots[code] for code in lots if code in plan.stock.lots and code not in here)
    return tuple(Gone(lot.code, lot_title(plan.catalogue, lot)) for lot in there if lot.quantity)
