"""``find``: a code, a scanned address, a part number or words."""

from __future__ import annotations

import click

from stash.cli.edge import command, no, opened, say_json, with_json, with_store
from stash.cli.show import table


@command("find", "stash find 52B VMY\nstash find carburettor 14")
@click.argument("text", nargs=-1, required=True)
@with_store
@with_json
def find(text: tuple[str, ...], *, db: str | None, as_json: bool) -> None:
    """Look for a thing by its code, a part number or words; every word must occur.

    A typed code may have spaces, dashes or small letters, and O for 0. The answer is no (exit 1) when nothing is found.
    """
    from stash.services.find import find as ask

    asked = " ".join(text).strip()
    if not asked:
        raise click.UsageError("Say what to look for: a code, a number or a word.")
    hits = ask(opened(db), asked)
    if as_json:
        say_json([hit.as_dict() for hit in hits])
    elif hits:
        click.echo(
            table(("what", "code", "title", "where"), [(hit.type, hit.code, hit.title, hit.detail) for hit in hits])
        )
    else:
        click.echo("Nothing found. Try fewer words, or part of the number.")
    if not hits:
        no()
