"""The ``stash`` group: its commands in the order a person meets them."""

from __future__ import annotations

from difflib import get_close_matches

import click

import stash
from stash.cli.accounts import accounts
from stash.cli.demo import demo
from stash.cli.find import find
from stash.cli.gaps import gaps
from stash.cli.identify import identify
from stash.cli.keep import archive, restore, verify
from stash.cli.labels import labels, read
from stash.cli.plan import plan
from stash.cli.serve import serve
from stash.cli.sharing import receive, share
from stash.cli.sheets import list_, sheet
from stash.cli.tables import export, load
from stash.cli.verdicts import check, fits

_COMMANDS: tuple[click.Command, ...] = (
    demo,
    serve,
    accounts,
    fits,
    gaps,
    plan,
    check,
    identify,
    find,
    labels,
    read,
    sheet,
    list_,
    load,
    export,
    share,
    receive,
    archive,
    restore,
    verify,
)


class Ordered(click.Group):
    """A group that lists its commands in the order they were added."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the names in order."""
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find a command; where there is none, name those that are nearly written so."""
        near = get_close_matches(args[0], self.commands) if args[0] not in self.commands else []
        if near:
            raise click.UsageError(f"No such command {args[0]!r}. Did you mean {' or '.join(near)}?", ctx)
        return super().resolve_command(ctx, args)


@click.group(cls=Ordered, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(stash.__version__, prog_name="stash")
def main() -> None:
    """Which loose part fits which machine, where it lies, and what it could finish.

    Start with: stash demo
    """


for _command in _COMMANDS:
    main.add_command(_command)
