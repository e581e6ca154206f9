"""``demo``: the invented collection, told in the terminal and opened in a browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, opened
from stash.cli.plan import say_completed
from stash.cli.serve import LOOPBACK, PORT, Serving, bound_near, run
from stash.cli.show import count
from stash.cli.verdicts import say_fits

if TYPE_CHECKING:
    from stash.services.open import Store

SHOWN_PART = "FN-21.380-B"
"""The number whose answer the demo prints: a piston with a window, from a metre away like the one without."""

_SECONDS = 10.0


@command("demo", "stash demo\nstash demo --fresh --no-serve")
@click.option("--no-serve", is_flag=True, help="Say what there is to say, and end.")
@click.option("--fresh", is_flag=True, help="Forget what was tried in the demo, and start it over.")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=PORT, show_default=True, help="If taken, the next free one."
)
@click.option(
    "--db", metavar="URL", help="Another database for the demo, empty or its own. Default: a file of its own."
)
def demo(*, no_serve: bool, fresh: bool, port: int, db: str | None) -> None:
    """Open an invented collection, to look around and to try everything; Ctrl-C stops it.

    It lies in a file of its own beside yours, which it never touches. What you try in it stays until --fresh.
    """
    if fresh and db:
        raise click.UsageError("--fresh starts the demo's own file over; leave out --db.")
    store = _filled(db, fresh=fresh)
    _tell(store)
    if no_serve:
        return
    listening = bound_near(LOOPBACK, port)
    taken = listening.getsockname()[1]
    click.echo(f"\nPort {port} is taken; using {taken}." if taken != port else "")
    run(store, Serving((listening,)))


def _filled(db: str | None, *, fresh: bool) -> Store:
    from stash.services.demo import demo_file, ensure_demo, start_over

    file = demo_file()
    if fresh:
        start_over(file)
    store = opened(db or str(file), make=True)
    loaded = ensure_demo(store)
    where = _short(store.file) if store.file else "the database given"
    kept = "" if loaded else " What you tried in it is still there; --fresh starts it over."
    click.echo(f"The demo lies in {where}; your own stash is not touched.{kept}")
    return store


def _short(file: Path) -> str:
    return f"~/{file.relative_to(Path.home())}" if file.is_relative_to(Path.home()) else str(file)


def _tell(store: Store) -> None:
    """Say what the collection holds, what its shelf can finish, and what one part fits."""
    from stash.plan.wares import Allowed
    from stash.services.fits import fits
    from stash.services.page_plan import make_plan

    stock = store.stock()
    loose = [lot for lot in stock.lots.values() if lot.quantity]
    machines, lots, bins = len(stock.machines), len(loose), len(stock.places)
    click.echo(f"{count(machines, 'machine')}, {count(lots, 'lot')} of loose parts in {count(bins, 'place')}.\n")
    click.echo("What the shelf can finish: stash plan")
    say_completed(store, make_plan(store, Allowed(), with_gaps=False, seconds=_SECONDS))
    click.echo(f"\nWhat one part fits: stash fits {SHOWN_PART}")
    say_fits(fits(store, SHOWN_PART))
