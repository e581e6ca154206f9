"""``archive``, ``restore`` and ``verify``: backups that are proven, and a database that is."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, no, opened, say_json, with_json, with_store
from stash.cli.show import count

if TYPE_CHECKING:
    from stash.services.archive import Archived
    from stash.services.verify import Verified

_ZIP = click.Path(path_type=Path, dir_okay=False)


@command("archive", "stash archive stash-backup.zip")
@click.argument("file", type=_ZIP)
@with_store
def archive(file: Path, *, db: str | None) -> None:
    """Write everything into one FILE: tables, history, photos, and a checksum of each.

    Others may go on working meanwhile. Keep it on another disk, and try it with `stash verify FILE`.
    """
    from stash.services.archive import archive as write

    click.echo(f"Written: {file}, with {_holding(write(opened(db), file, now=dt.datetime.now(dt.UTC)))}.")


@command("restore", "stash restore stash-backup.zip --db new-stash.sqlite")
@click.argument("file", type=_ZIP)
@with_store
def restore(file: Path, *, db: str | None) -> None:
    """Fill an empty database from an archive, on the same or the other kind of database.

    Every checksum is compared first; a database with anything in it is refused and left as it is. What was wrong with
    the stash that was archived is told, and the answer is then no (exit 1).
    """
    from stash.services.archive import restore as fill
    from stash.services.verify import verify as look

    store = opened(db, make=True)
    click.echo(f"Restored: {_holding(fill(store, file))}.")
    found = look(store)
    for problem in found.problems:
        click.echo(problem, err=True)
    if not found.ok:
        click.echo("\nThat was wrong when it was archived.", err=True)
        no()


@command("verify", "stash verify\nstash verify stash-backup.zip")
@click.argument("file", type=_ZIP, required=False)
@with_store
@with_json
def verify(file: Path | None, *, db: str | None, as_json: bool) -> None:
    """Prove a database, or an archive: counts add up, codes are single, photos are whole, references resolve.

    An archive is restored into a database that is thrown away afterwards. Nothing is changed. The answer is no (exit 1)
    when something is wrong.
    """
    found = _verified(db) if file is None else _verified_archive(file)
    if as_json:
        say_json(found.as_dict())
    else:
        for problem in found.problems:
            click.echo(problem)
        held = _counted(found.rows, found.movements, found.photos)
        click.echo(f"All is well: {held}." if found.ok else f"\n{count(len(found.problems), 'problem')} in {held}.")
    if not found.ok:
        no()


def _verified(db: str | None) -> Verified:
    from stash.services.verify import verify as look

    return look(opened(db))


def _verified_archive(file: Path) -> Verified:
    from stash.services.archive import restore as fill
    from stash.services.open import open_stash
    from stash.services.verify import verify as look

    with TemporaryDirectory() as folder:
        store = open_stash(str(Path(folder) / "tried.sqlite"))
        try:
            fill(store, file)
            return look(store)
        finally:
            store.close()


def _holding(archived: Archived) -> str:
    return _counted(archived.rows, archived.movements, archived.photos)


def _counted(rows: int, movements: int, photos: int) -> str:
    return f"{count(rows, 'row')}, {count(movements, 'movement')} and {count(photos, 'photo')}"
