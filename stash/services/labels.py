"""Printing labels: what to print, what each says, and what was printed before."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass, field, replace
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from sqlalchemy import select

from stash.db.models import Printed, Setting
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput, NotFound
from stash.kernel.codes import grouped, require_code
from stash.plan.facts import Place, Stock
from stash.services import label_kit
from stash.services.gaps import judge
from stash.services.label_texts import label_texts

if TYPE_CHECKING:
    from labels.stocks import Stock as LabelStock
    from labels.text import LabelText

DEFAULT_ADDRESS = "HTTP://STASH.LOCAL"
"""What a scanned label opens unless the owner says otherwise."""
DEFAULT_STOCK = "a4-64x34"


@dataclass(frozen=True, slots=True)
class Choice:
    """What to print.

    Args:
        codes: These things.
        inside: Everything in these places, and the places themselves, however deep.
        not_printed: Everything that never had a label.
        changed: Everything whose label says something else by now.
        machine: What came off this machine.
    """

    codes: Sequence[str] = ()
    inside: Sequence[str] = ()
    not_printed: bool = False
    changed: bool = False
    machine: str = ""


@dataclass(frozen=True, slots=True)
class Printing:
    """How to print.

    Args:
        stock: Key of a label stock.
        first: First free label of the first page, from 1.
        copies: Of each label.
        offset_x_mm: The printer's shift to the right.
        offset_y_mm: The printer's shift downwards.
        scale: The printer's scale, 1 = true.
        outlines: Draw the labels' edges.
        address: Where a scan leads, "" for the owner's setting.
    """

    stock: str = DEFAULT_STOCK
    first: int = 1
    copies: int = 1
    offset_x_mm: float = 0.0
    offset_y_mm: float = 0.0
    scale: float = 1.0
    outlines: bool = False
    address: str = field(default="")


def label_address(store: Store) -> str:
    """Return where a scanned label leads: the owner's setting, else the default."""
    with store.reading() as session:
        row = session.get(Setting, "label_address")
        return row.value if row else DEFAULT_ADDRESS


def web_address(text: str) -> str:
    """Return the address of a web server, without the slash at its end.

    Raises:
        InvalidInput: It is none: no http:// or https://, no name, no port where one is begun, or more than a phone
            should be sent to, such as a password, a question or blanks.
    """
    plain = text.strip().rstrip("/")
    try:
        parts = urlsplit(plain)
        named = parts.scheme in {"http", "https"} and parts.hostname and (parts.port is None or parts.port > 0)
        named = named and not re.search(r"[\s@?#\\<>\"]", plain)
    except ValueError:
        named = False
    if not named:
        raise InvalidInput(f"{text!r} is not an address", "Give it like http://stash.local or http://192.0.2.7:8300.")
    return plain


def set_label_address(store: Store, address: str, *, who: str) -> str:
    """Keep where scanned labels lead.

    Raises:
        InvalidInput: It is not the address of a web server.
    """
    plain = web_address(address).upper()

    def act(work: Work) -> str:
        session = work.session
        row = session.get(Setting, "label_address")
        if row is None:
            session.add(Setting(key="label_address", value=plain))
        else:
            row.value = plain
        return plain

    return store.write(who, "label address", act)


def chosen(store: Store, choice: Choice) -> tuple[str, ...]:
    """Return the codes to print, in an order that suits the hand: a place, then what is in it.

    Raises:
        NotFound: One of the codes is on nothing.
        InvalidInput: One of them is not a code.
    """
    catalogue, stock = store.catalogue(), store.stock()
    everything = [*walk(stock), *sorted(stock.machines)]
    wanted: set[str] = {_known(stock, code) for code in choice.codes}
    for code in choice.inside:
        wanted |= set(walk(stock, _known(stock, code)))
    if choice.machine:
        machine = _known(stock, choice.machine)
        wanted |= {lot.code for lot in stock.loose if lot.from_machine == machine}
    if choice.not_printed or choice.changed:
        said = _printed(store)
        texts = label_texts(catalogue, stock, everything, DEFAULT_ADDRESS, judge(store))
        for text in texts:
            before = said.get(text.code)
            if (choice.not_printed and before is None) or (choice.changed and before not in {None, _digest(text)}):
                wanted.add(text.code)
    return tuple(code for code in everything if code in wanted)


def walk(stock: Stock, inside: str = "") -> list[str]:
    """Return places and the lots in them, each place before what it holds; of one place or of all."""
    within: dict[str, list[Place]] = {}
    for place in sorted(stock.places.values(), key=lambda row: (row.name, row.code)):
        within.setdefault(place.inside, []).append(place)
    found: list[str] = []

    def visit(code: str) -> None:
        found.extend([code] if code else [])
        found.extend(lot.code for lot in stock.lots_in.get(code, ()))
        for place in within.get(code, []):
            visit(place.code)

    visit(inside)
    return found


def sheet(store: Store, codes: Sequence[str], printing: Printing, *, who: str, now: dt.datetime | None = None) -> bytes:
    """Draw labels as a PDF.

    Args:
        store: The database.
        codes: What to print, in order.
        printing: How.
        who: Who prints.
        now: The moment to remember as printed; None for a preview that is not remembered.

    Returns:
        The PDF's bytes.

    Raises:
        InvalidInput: The stock is unknown, or a label can't be drawn on it.
        NotFound: A code is on nothing.
    """
    from labels.errors import LabelError
    from labels.sheet import draw

    catalogue, stock = store.catalogue(), store.stock()
    stocks = label_stocks(store)
    if printing.stock not in stocks:
        raise InvalidInput(f"There is no label stock {printing.stock!r}", "Use one of: " + ", ".join(stocks) + ".")
    known = [_known(stock, code) for code in codes]
    address = printing.address or label_address(store)
    texts = label_texts(catalogue, stock, known, address, judge(store))
    try:
        pdf = draw(
            texts,
            stocks[printing.stock],
            first=printing.first,
            copies=printing.copies,
            offset_x_mm=printing.offset_x_mm,
            offset_y_mm=printing.offset_y_mm,
            scale=printing.scale,
            outlines=printing.outlines,
        )
    except LabelError as error:
        raise InvalidInput(error.message, error.hint) from error
    if now is not None:
        _remember(store, texts, stocks[printing.stock], printing, who, now)
    return pdf


def label_stocks(store: Store | None = None) -> Mapping[str, LabelStock]:
    """Return the label stocks by key: those that come along, and with a store the owner's own."""
    from labels.stocks import bundled

    return bundled() if store is None else label_kit.stocks(store)


def _known(stock: Stock, text: str) -> str:
    code = str(require_code(text))
    if code not in stock.lots and code not in stock.machines and code not in stock.places:
        raise NotFound(f"Nothing has the code {grouped(code)}", "Scan it again, or look for it.")
    return code


def _digest(text: LabelText) -> str:
    """Return what tells whether a label says something else by now; where it leads does not count."""
    words = "\x1f".join(astuple(replace(text, address="")))
    return hashlib.sha256(words.encode()).hexdigest()


def _printed(store: Store) -> dict[str, str]:
    with store.reading() as session:
        return {row.code: row.digest for row in session.execute(select(Printed)).scalars()}


def _remember(
    store: Store, texts: Sequence[LabelText], stock: LabelStock, printing: Printing, who: str, now: dt.datetime
) -> None:
    def act(work: Work) -> None:
        for text in texts:
            work.session.merge(Printed(code=text.code, printed_at=now, digest=_digest(text)))
        label_kit.note_used(work, stock, printing.first, len(texts) * printing.copies)

    store.write(who, "labels printed", act)
