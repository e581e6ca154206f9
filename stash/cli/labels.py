"""``labels`` and ``read``: codes out on paper, and back in from a photo."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stash.cli.edge import command, me, no, opened, say_json, with_json, with_store
from stash.cli.show import count, table
from stash.errors import InvalidInput, NotFound, StorageError

if TYPE_CHECKING:
    from stash.services.label_kit import Printer
    from stash.services.labels import Printing
    from stash.services.open import Store
    from stash.services.reading import PhotoRead

_EXAMPLE = (
    "stash labels --not-printed\n"
    "stash labels 52BVMY --stock roll-50x30 --to bag.pdf\n"
    "stash labels --stocks\n"
    "stash labels --calibration --stock a4-64x34"
)
_PDF = click.Path(path_type=Path, dir_okay=False)


def _with_choice(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options that say what to print."""
    for option in reversed(
        (
            click.option("--inside", multiple=True, metavar="CODE", help="A place and everything in it."),
            click.option("--not-printed", is_flag=True, help="Everything that never had a label."),
            click.option("--changed", is_flag=True, help="Everything whose label says something else by now."),
            click.option("--off", default="", metavar="CODE", help="Everything that came off this machine."),
        )
    ):
        function = option(function)
    return function


def _with_printing(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options that say how to print."""
    for option in reversed(
        (
            click.option("--stock", default="", metavar="KEY", help="What to print on; --stocks lists them."),
            click.option("--first", type=click.IntRange(1), default=1, help="First free label on a used sheet."),
            click.option("--copies", type=click.IntRange(1), default=1, help="Of each label."),
            click.option("--right", type=float, metavar="MM", help="Shift, as the calibration page says."),
            click.option("--down", type=float, metavar="MM", help="Shift, as the calibration page says."),
            click.option("--scale", type=float, help="Wanted length divided by measured length."),
            click.option("--printer", metavar="NAME", help="Keep these three under a name, or use those kept."),
            click.option("--outlines", is_flag=True, help="Also draw the labels' edges, to cut plain paper by."),
        )
    ):
        function = option(function)
    return function


@command("labels", _EXAMPLE)
@click.argument("codes", nargs=-1)
@_with_choice
@_with_printing
@click.option(
    "--address", metavar="URL", help="Where a scan leads, such as http://stash.local:8470; kept from then on."
)
@click.option("--to", "file", type=_PDF, default=Path("labels.pdf"), show_default=True, help="The PDF to write.")
@click.option("--preview", is_flag=True, help="Do not note the labels as printed.")
@click.option("--calibration", is_flag=True, help="Write a page to measure the printer by instead.")
@click.option("--stocks", is_flag=True, help="List the label stocks instead.")
@with_store
def labels(
    codes: tuple[str, ...],
    *,
    inside: tuple[str, ...],
    not_printed: bool,
    changed: bool,
    off: str,
    address: str | None,
    file: Path,
    preview: bool,
    calibration: bool,
    stocks: bool,
    db: str | None,
    **how: Any,
) -> None:
    """Write labels for places, machines and lots into a PDF; print it at 100 %.

    Name things by their CODES, or choose by what they are. The answer is no (exit 1) when there is nothing to print.
    """
    if not (codes or inside or not_printed or changed or off or calibration or stocks):
        raise click.UsageError("Say what to print: CODES, --inside, --not-printed, --changed or --off.")
    store = opened(db)
    if stocks:
        _say_stocks(store)
        return
    printing = _printing(store, **how)
    if calibration:
        _calibrate(store, printing, file)
        return
    from stash.services.labels import Choice, chosen, set_label_address

    if address:
        set_label_address(store, address, who=me())
    found = chosen(store, Choice(codes, inside, not_printed, changed, off))
    if not found:
        click.echo("Nothing to print.")
        no()
    _print(store, found, printing, file, preview=preview)


def _printing(
    store: Store,
    *,
    stock: str,
    first: int,
    copies: int,
    right: float | None,
    down: float | None,
    scale: float | None,
    printer: str | None,
    outlines: bool,
) -> Printing:
    from stash.services.label_kit import Printer, save_printer
    from stash.services.labels import DEFAULT_STOCK, Printing

    used = Printer(printer or "", right or 0.0, down or 0.0, 1.0 if scale is None else scale)
    if printer and (right, down, scale) == (None, None, None):
        used = _kept_printer(store, printer)
    elif printer:
        save_printer(store, used, who=me())
    key = stock or DEFAULT_STOCK
    return Printing(key, first, copies, used.offset_x_mm, used.offset_y_mm, used.scale, outlines)


def _kept_printer(store: Store, name: str) -> Printer:
    from stash.services.label_kit import printers

    kept = {printer.name: printer for printer in printers(store)}
    if name not in kept:
        known = f"Kept are: {', '.join(kept)}." if kept else "None is kept yet."
        raise NotFound(f"No printer is kept as {name!r}", f"{known} Give --right, --down or --scale to keep one.")
    return kept[name]


def _calibrate(store: Store, printing: Printing, file: Path) -> None:
    from stash.services.page_labels import calibration, calibration_steps

    _write(file, calibration(printing, store))
    for step in calibration_steps(printing.stock, store):
        click.echo(f"- {step}")


def _print(store: Store, codes: tuple[str, ...], printing: Printing, file: Path, *, preview: bool) -> None:
    from stash.services.label_kit import next_free
    from stash.services.labels import label_address, sheet

    now = None if preview else dt.datetime.now(dt.UTC)
    _write(file, sheet(store, codes, printing, who=me(), now=now))
    click.echo(f"{count(len(codes), 'label')} on {printing.stock}; a scan leads to {label_address(store)}.")
    free = next_free(store, printing.stock)
    if not preview and free > 1:
        click.echo(f"The rest of the last sheet is free: --first {free} the next time.")


def _write(file: Path, data: bytes) -> None:
    try:
        file.write_bytes(data)
    except OSError as error:
        raise StorageError(f"{file} can't be written: {error.strerror}", "Give another file with --to.") from error
    click.echo(f"Written: {file}. Print it at 100 %, not fitted to the page.")


def _say_stocks(store: Store) -> None:
    from stash.services.labels import label_stocks

    rows = [(key, stock.name, stock.labels_a_page, stock.note) for key, stock in label_stocks(store).items()]
    click.echo(table(("key", "stock", "on a page", "note"), rows))


@command("read", "stash read shelf.jpg\nstash read shelf.jpg --json")
@click.argument("photo", type=_PDF)
@with_store
@with_json
def read(photo: Path, *, db: str | None, as_json: bool) -> None:
    """List every label on a photo of a shelf, with what fills a gap on top.

    The answer is no (exit 1) when there is no label of yours on it.
    """
    from stash.services.reading import read as ask

    found = ask(opened(db), _photo(photo))
    if as_json:
        say_json([seen.as_dict() for seen in found.seen])
    else:
        _say_photo(found)
    if not found.seen:
        no()


def _photo(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except FileNotFoundError as error:
        raise NotFound(f"There is no photo {file}", "Check its name.") from error
    except OSError as error:
        raise InvalidInput(f"{file} can't be read: {error.strerror}", "Give a JPEG, PNG, WebP or HEIC file.") from error


def _say_photo(found: PhotoRead) -> None:
    rows = [
        (
            seen.code,
            seen.thing.type if seen.thing else "",
            seen.thing.title if seen.thing else "nothing has this code",
            ", ".join(dict.fromkeys(gap.key for use in seen.uses for gap, _, _ in use.gaps)),
        )
        for seen in found.seen
    ]
    if rows:
        click.echo(table(("code", "what", "title", "fills a gap of"), rows))
    else:
        click.echo("No label of yours was read. Go closer: 3 pixels for each square of the code is enough.")
    if found.foreign or found.unread:
        click.echo(f"\nAlso {count(found.foreign, 'code')} of others, and {len(found.unread)} that could not be read.")
