"""``load`` and ``export``: tables in from a folder, a zip or a spreadsheet, and out again."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from stash.cli.edge import bad_input, command, me, opened, say_json, say_problems, with_json, with_store
from stash.cli.show import count, table


@command("load", "stash load my-parts.xlsx --dry-run\nstash load my-parts.xlsx\nstash load --starter")
@click.argument("path", type=click.Path(path_type=Path), required=False)
@click.option("--dry-run", is_flag=True, help="Check everything and say what would change; write nothing.")
@click.option("--starter", is_flag=True, help="Load the starter vocabulary: common kinds of parts, measures, mates.")
@with_store
@with_json
def load(path: Path | None, *, dry_run: bool, starter: bool, db: str | None, as_json: bool) -> None:
    """Load tables from a folder of CSV files, a zip of them, an .xlsx or an .ods.

    Any subset of the tables will do. A row whose key is known changes that row; a new key adds one; rows that are not
    in the file stay as they are. With any error nothing is written.
    """
    if starter == (path is not None):
        raise click.UsageError("Name one thing to load: a PATH, or --starter.")
    report = _loaded(path, dry_run=dry_run, db=db)
    if as_json:
        say_json(report)
    else:
        _say_report(report, dry_run=dry_run)
    if report["errors"]:
        bad_input()


def _loaded(path: Path | None, *, dry_run: bool, db: str | None) -> dict[str, Any]:
    from stash.services.demo import load_starter
    from stash.services.tables import load_path

    store = opened(db, make=True)
    if path is None:
        return load_starter(store, who=me(), dry_run=dry_run).as_dict()
    return load_path(store, path, me(), dry_run=dry_run).as_dict()


def _say_report(report: dict[str, Any], *, dry_run: bool) -> None:
    if report["errors"]:
        click.echo(f"stash: {count(len(report['errors']), 'problem')}; nothing was written.", err=True)
        say_problems(report["errors"], sys.stderr)
        return
    rows = [(name, counts["added"], counts["changed"], counts["same"]) for name, counts in report["tables"].items()]
    click.echo(table(("table", "new", "changed", "as before"), rows))
    click.echo("\nA dry run: nothing was written." if dry_run else "\nLoaded.")


@command("export", "stash export my-stash.xlsx\nstash export my-stash/")
@click.argument("path", type=click.Path(path_type=Path))
@with_store
def export(path: Path, *, db: str | None) -> None:
    """Write all tables to PATH: .xlsx, .ods, .zip, or else a folder of CSV files."""
    from stash.services.tables import export_path

    export_path(opened(db), path)
    click.echo(f"Written: {path}")
