"""What the owner prints labels with: their own stocks, their printers' corrections, half-used sheets.

Kept among the settings of the database, so that they travel in its archive.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from stash.db.models import Setting
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput, NotFound

if TYPE_CHECKING:
    from labels.stocks import Stock

_STOCK, _PRINTER, _USED = "label_stock:", "printer:", "label_used:"


@dataclass(frozen=True, slots=True)
class Printer:
    """A printer's corrections, as its calibration page says.

    Args:
        name: What the owner calls it.
        offset_x_mm: Shift to the right.
        offset_y_mm: Shift downwards.
        scale: Wanted length divided by measured length.
    """

    name: str
    offset_x_mm: float = 0.0
    offset_y_mm: float = 0.0
    scale: float = 1.0


def stocks(store: Store) -> Mapping[str, Stock]:
    """Return every label stock by key: those that come along, then the owner's own in order of key."""
    from labels.stocks import bundled, parse

    own = {key: parse(json.loads(value)) for key, value in _settings(store, _STOCK).items()}
    return {**bundled(), **own}


def own_stocks(store: Store) -> Mapping[str, dict[str, str]]:
    """Return the owner's own stocks as ``{key: {column: text}}``."""
    return {key: json.loads(value) for key, value in _settings(store, _STOCK).items()}


def stock_columns() -> tuple[str, ...]:
    """Return the columns a stock is described by."""
    from labels.stocks import COLUMNS

    return tuple(COLUMNS)


def checked_stock(row: Mapping[str, str]) -> Stock:
    """Read a stock from texts.

    Args:
        row: ``{column: text}``; see ``stock_columns``.

    Raises:
        InvalidInput: It runs off its page, overlaps, or cannot hold its symbol; says every problem.
    """
    from labels.errors import LabelError
    from labels.stocks import parse

    try:
        return parse(row)
    except LabelError as error:
        raise InvalidInput(error.message, error.hint) from error


def save_stock(store: Store, row: Mapping[str, str], *, who: str) -> Stock:
    """Keep a stock of the owner's own; one of the same key is replaced.

    Raises:
        InvalidInput: As for ``checked_stock``, or its key is that of a stock that comes along.
    """
    from labels.stocks import bundled

    stock = checked_stock(row)
    if stock.key in bundled():
        raise InvalidInput(f"{stock.key!r} is a stock that comes along", "Give yours another key.")
    _keep(store, _STOCK + stock.key, json.dumps(dict(row)), f"label stock {stock.key}", who)
    return stock


def remove_stock(store: Store, key: str, *, who: str) -> None:
    """Forget a stock of the owner's own.

    Raises:
        NotFound: There is none of that key.
    """
    _forget(store, _STOCK + key, f"label stock {key}", who)


def printers(store: Store) -> tuple[Printer, ...]:
    """Return the owner's printers in order of name."""
    return tuple(Printer(**json.loads(value)) for value in _settings(store, _PRINTER).values())


def save_printer(store: Store, printer: Printer, *, who: str) -> None:
    """Keep a printer's corrections; one of the same name is replaced.

    Raises:
        InvalidInput: It has no name, or a correction no printer needs.
    """
    from labels.errors import LabelError
    from labels.sheet import Placing

    if not printer.name.strip():
        raise InvalidInput("The printer has no name", "Call it something, such as laser upstairs.")
    try:
        Placing(printer.offset_x_mm, printer.offset_y_mm, printer.scale)
    except LabelError as error:
        raise InvalidInput(error.message, error.hint) from error
    _keep(store, _PRINTER + printer.name.strip(), json.dumps(asdict(printer)), f"printer {printer.name}", who)


def remove_printer(store: Store, name: str, *, who: str) -> None:
    """Forget a printer.

    Raises:
        NotFound: There is none of that name.
    """
    _forget(store, _PRINTER + name, f"printer {name}", who)


def next_free(store: Store, stock: str) -> int:
    """Return the first free label of the sheet that was printed on last, 1 for a fresh one."""
    return int(_settings(store, _USED).get(stock, "1"))


def note_used(work: Work, stock: Stock, first: int, count: int) -> None:
    """Remember in an open transaction how far a half-used sheet is used.

    Args:
        work: The unit of work.
        stock: What was printed on.
        first: The first label that was printed, from 1.
        count: How many labels were printed.
    """
    free = (first - 1 + count) % stock.labels_a_page + 1
    work.session.merge(Setting(key=_USED + stock.key, value=str(free)))


def _settings(store: Store, start: str) -> dict[str, str]:
    with store.reading() as session:
        query = select(Setting).where(Setting.key.startswith(start, autoescape=True)).order_by(Setting.key)
        return {row.key.removeprefix(start): row.value for row in session.execute(query).scalars()}


def _keep(store: Store, key: str, value: str, why: str, who: str) -> None:
    def act(work: Work) -> Any:
        work.session.merge(Setting(key=key, value=value))

    store.write(who, why, act)


def _forget(store: Store, key: str, what: str, who: str) -> None:
    def act(work: Work) -> None:
        row = work.session.get(Setting, key)
        if row is None:
            raise NotFound(f"There is no {what}", "It may have been removed already.")
        work.session.delete(row)

    store.write(who, f"removed {what}", act)
