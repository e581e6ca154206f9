"""``share`` and ``receive``: what is known, handed from one stash to another."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, me, opened, say_json, with_json, with_store
from stash.cli.show import count, table

if TYPE_CHECKING:
    from stash.services.bundles import Bundle

_FILE = click.Path(path_type=Path, dir_okay=False)
_SHOWN = 40


@command(
    "share",
    "stash share for-odile.zip --family engine-a\nstash share my-rules.zip --rule straight-head-a2-on-a1 --by Odile",
)
@click.argument("file", type=_FILE)
@click.option("--family", "families", multiple=True, metavar="KEY", help="Everything about the models of a family.")
@click.option("--kind", "kinds", multiple=True, metavar="KEY", help="Everything about a kind of part.")
@click.option("--design", "designs", multiple=True, metavar="KEY", help="One design with its sizes and numbers.")
@click.option("--rule", "rules", multiple=True, metavar="KEY", help="One rule.")
@click.option("--mate", "mates", multiple=True, metavar="KEY", help="One pair of measures that must agree.")
@click.option(
    "--by", default="", metavar="NAME", help="Whose word claims without a source are. Default: your name here."
)
@with_store
def share(
    file: Path,
    *,
    families: tuple[str, ...],
    kinds: tuple[str, ...],
    designs: tuple[str, ...],
    rules: tuple[str, ...],
    mates: tuple[str, ...],
    by: str,
    db: str | None,
) -> None:
    """Write what you know into a FILE for somebody else: rules, mates and designs, with all they lean on.

    Nothing of what you own goes along. Without a choice the whole catalogue does.
    """
    from stash.services.bundles import Pick, bundle
    from stash.services.people_lists import save

    pick = Pick(families, kinds, designs, rules, mates)
    save(file, bundle(opened(db), pick, by=by or me(), now=dt.datetime.now(dt.UTC)))
    click.echo(f"Written: {file}")


@command("receive", "stash receive for-me.zip --from Odile\nstash receive for-me.zip --from Odile --accept")
@click.argument("file", type=_FILE)
@click.option(
    "--from", "whose", required=True, metavar="NAME", help="Who it is from; the source of claims that name none."
)
@click.option("--accept", is_flag=True, help="Take it in, as one entry of the history; without it nothing is written.")
@click.option("--theirs", multiple=True, metavar="TABLE", help="A table where their row replaces yours if they differ.")
@click.option("--hearsay", is_flag=True, help="Their claims count as heard only, whatever they call them.")
@with_store
@with_json
def receive(
    file: Path,
    *,
    whose: str,
    accept: bool,
    theirs: tuple[str, ...],
    hearsay: bool,
    db: str | None,
    as_json: bool,
) -> None:
    """Look at what somebody shared: what it adds, where it contradicts you, which verdicts would change.

    Rules that disagree with yours stand beside them, each with its source; other rows stay as you have them.
    """
    from stash.services.bundles import Picked, compare, take
    from stash.services.flat_sheet import read_file

    store, data = opened(db, make=True), read_file(file)
    picked = Picked(whose, theirs, hearsay)
    found = compare(store, file.name, data, picked)
    done = take(store, file.name, data, picked, me()) if accept else None
    if as_json:
        say_json({**found.as_dict(), "accepted": done is not None})
        return
    _say_bundle(found)
    click.echo(done.said if done else "\nNothing was written; --accept takes it in.")


def _say_bundle(found: Bundle) -> None:
    if found.by:
        click.echo(f"Made by {found.by} on {found.made}.")
    adds = ", ".join(f"{name} {number}" for name, number in found.adds.items()) or "none"
    click.echo(f"New rows: {adds}; {count(found.same, 'row')} known already.")
    if found.claims:
        claims = [(e.said, e.reason, e.evidence, e.source) for e in found.claims[:_SHOWN]]
        click.echo("\nClaims it adds\n" + table(("says", "because", "known by", "whose word"), claims))
        _say_more(len(found.claims))
    if found.contradictions:
        rows = [(e.table, e.key, e.column, e.here, e.there, e.kept) for e in found.contradictions[:_SHOWN]]
        click.echo("\nContradicts you\n" + table(("table", "row", "column", "here", "there", "kept"), rows))
        _say_more(len(found.contradictions))
    if found.verdicts:
        rows = [(e.design, e.model, e.position, e.years, e.before, e.after) for e in found.verdicts[:_SHOWN]]
        click.echo("\nVerdicts that would change\n" + table(("design", "model", "where", "years", "now", "then"), rows))
        _say_more(len(found.verdicts))
    if found.unsure:
        click.echo("The catalogue is too large to compare every verdict: there may be more.")


def _say_more(number: int) -> None:
    if number > _SHOWN:
        click.echo(f"... and {number - _SHOWN} more.")
