"""``identify``: which design is this thing in my hand, and what to measure next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, no, opened, say_json, with_json, with_store
from stash.cli.show import table

if TYPE_CHECKING:
    from stash.key.identify import Identification
    from stash.services.open import Store

_SHOWN = 8
_LEAST = 0.001
_PAIR = "NAME=VALUE"


@command("identify", "stash identify piston --measure skirt_mm=37.93 --tell window=yes")
@click.argument("kind")
@click.option(
    "--measure", "-m", "measures", multiple=True, metavar=_PAIR, help="What was measured, such as pin_bore_mm=12."
)
@click.option("--tell", "-t", "tells", multiple=True, metavar=_PAIR, help="What was seen, such as window=yes.")
@with_store
@with_json
def identify(kind: str, measures: tuple[str, ...], tells: tuple[str, ...], *, db: str | None, as_json: bool) -> None:
    """Say which designs of a KIND a thing could be, and what to measure next to be sure.

    The answer is no (exit 1) when it is most likely no design on record.
    """
    from stash.services.identify import identification_dict
    from stash.services.identify import identify as ask

    store = opened(db)
    found = ask(store, kind, _pairs(measures, "--measure"), _pairs(tells, "--tell"))
    if as_json:
        say_json(identification_dict(found))
    else:
        _say(store, found)
    if found.stop == "none":
        no()


def _pairs(given: tuple[str, ...], option: str) -> dict[str, str]:
    pairs = [text.partition("=") for text in given]
    for name, equals, value in pairs:
        if not (name.strip() and equals and value.strip()):
            raise click.BadOptionUsage(option, f"{option} takes {_PAIR}, not {name + equals + value!r}.")
    return {name.strip(): value.strip() for name, _, value in pairs}


def _say(store: Store, found: Identification) -> None:
    from stash.fit.wording import design_name

    catalogue = store.catalogue()
    rows = [
        (f"{probability:.1%}", design, design_name(catalogue, design))
        for design, probability in found.ranking[:_SHOWN]
        if probability >= _LEAST
    ]
    rows.append((f"{found.none_of_these:.1%}", "", "none of these"))
    click.echo(table(("likely", "design", "name"), rows))
    for line in (found.said, *found.notes, *(each.text for each in found.tie_breaks)):
        if line:
            click.echo(f"\n{line}")
