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


@command(
    "identify", "stash identify piston --measure skirt_mm=37.93 --tell window=yes\nstash identify --unidentified --json"
)
@click.argument("kind", required=False)
@click.option(
    "--measure", "-m", "measures", multiple=True, metavar=_PAIR, help="What was measured, such as pin_bore_mm=12."
)
@click.option("--tell", "-t", "tells", multiple=True, metavar=_PAIR, help="What was seen, such as window=yes.")
@click.option("--unidentified", "again", is_flag=True, help="Every loose lot nobody has identified, weighed anew.")
@with_store
@with_json
def identify(
    kind: str | None,
    measures: tuple[str, ...],
    tells: tuple[str, ...],
    *,
    again: bool,
    db: str | None,
    as_json: bool,
) -> None:
    """Say which designs of a KIND a thing could be, and what to measure next to be sure.

    With --unidentified it says of every loose lot nobody has identified what it is taken for by now, as the catalogue
    stands. The answer is no (exit 1) when the thing is most likely no design on record.
    """
    if again == (kind is not None):
        raise click.UsageError("Name a KIND, or ask for --unidentified.")
    if kind is None:
        _again(db, as_json=as_json)
        return
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


def _again(db: str | None, *, as_json: bool) -> None:
    from stash.kernel.codes import grouped
    from stash.services.unidentified import unidentified

    store = opened(db)
    catalogue, found = store.catalogue(), unidentified(store)
    rows = [each.as_dict(catalogue) for each in found]
    if as_json:
        say_json(rows)
        return
    if not rows:
        click.echo("Every loose part is identified.")
        return
    told = [
        (
            grouped(row["lot"]),
            row["kind"],
            row["name"] or "",
            "its number" if row["by_number"] else f"{row['probability']:.0%}" if row["probability"] else "",
            row["next"]["measure"] if row["next"] else "",
        )
        for row in rows
    ]
    click.echo(table(("lot", "kind", "best guess", "how sure", "measure next"), told))


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
