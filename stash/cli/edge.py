"""The edge: errors translated once, and the options that commands share.

Exit codes::

    0   done, or yes
    1   the answer is no: nothing fits, nothing found, a check that failed
    2   it could not be done: what came in is wrong, or the database would not
    3   a defect in the program itself
"""

from __future__ import annotations

import getpass
import json
import sys
import traceback
from collections.abc import Callable
from typing import IO, TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from stash.cli.show import table
from stash.errors import InvalidInput, StashError

if TYPE_CHECKING:
    from stash.services.open import Store

Function = TypeVar("Function", bound=Callable[..., Any])

NO, BAD_INPUT, DEFECT = 1, 2, 3
_PROBLEMS_SHOWN = 50


class Command(click.Command):
    """A command whose errors are told in words, with what to do about them.

    Args:
        example: Shell lines shown in the help, one command a line.
    """

    def __init__(self, *args: Any, example: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.example = example

    def get_short_help_str(self, limit: int = 45) -> str:  # noqa: ARG002 - click's signature
        """Return the whole first sentence of the help, which wraps rather than ends in dots."""
        return (self.help or "").split("\n", 1)[0]

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the examples below the options, as they are typed."""
        super().format_epilog(ctx, formatter)
        with formatter.section("Example" if "\n" not in self.example else "Examples"):
            for line in self.example.splitlines():
                formatter.write(f"{'':>{formatter.current_indent}}{line}\n")

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; tell an error once, here."""
        try:
            return super().invoke(ctx)
        except StashError as error:
            told(error, as_json=bool(ctx.params.get("as_json")))
            ctx.exit(BAD_INPUT)
        except (click.ClickException, click.Abort, click.exceptions.Exit, BrokenPipeError):
            raise
        except Exception:  # noqa: BLE001 - the outermost edge: a crash must not look like the answer "no"
            traceback.print_exc()
            click.echo("\nThis is a defect in stash. Your data was not changed by the step that failed.", err=True)
            ctx.exit(DEFECT)


def command(name: str, example: str) -> Callable[[Callable[..., Any]], Command]:
    """Make a function a command that translates errors and shows an example."""
    return click.command(name, cls=Command, example=example)


def with_store(function: Function) -> Function:
    """Add ``--db``; the function receives the address as ``db``, None for the user's own file."""
    return click.option(
        "--db",
        metavar="URL",
        envvar="STASH_DB",
        help="Database: a file, sqlite:///... or postgresql://... Default: $STASH_DB, else your own file.",
    )(function)


def with_json(function: Function) -> Function:
    """Add ``--json``; the function receives it as ``as_json``."""
    return click.option("--json", "as_json", is_flag=True, help="Answer as JSON on standard output.")(function)


def opened(db: str | None, *, make: bool = False) -> Store:
    """Open the store of an address, to be closed when the command ends.

    Args:
        db: The address, None for the user's own file.
        make: Make the file where there is none, instead of saying so.
    """
    from stash.services.audit import COMMAND_LINE, coming_from
    from stash.services.open import open_stash

    coming_from(COMMAND_LINE)
    store = open_stash(db, make=make)
    click.get_current_context().call_on_close(store.close)
    return store


def me() -> str:
    """The name that goes into the history: whoever is signed in on this computer."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # an account without a name, as in a container
        return "owner"


def say_json(value: object) -> None:
    """Print a value as JSON."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2))


def no() -> NoReturn:
    """End with the answer no."""
    sys.exit(NO)


def bad_input() -> NoReturn:
    """End with the answer that what came in could not be used."""
    sys.exit(BAD_INPUT)


def told(error: StashError, *, as_json: bool) -> None:
    """Tell an error on standard error in words and, if asked for, on standard output as JSON."""
    problems = error.problems if isinstance(error, InvalidInput) else ()
    click.echo(f"stash: {error.message}", err=True)
    if error.hint:
        click.echo(f"  {error.hint}", err=True)
    if problems:
        say_problems([problem.as_dict() for problem in problems], sys.stderr)
    if as_json:
        said = {"code": error.code, "message": error.message, "hint": error.hint}
        say_json({"error": said, "errors": [problem.as_dict() for problem in problems]})


def say_problems(problems: list[dict[str, Any]], file: IO[str]) -> None:
    """Print each wrong cell as a row of a table: where, what stood there, what is wrong, how to mend it."""
    rows = [
        (row["table"], row["row"] or "", row["column"], row["value"], row["problem"], row["hint"])
        for row in problems[:_PROBLEMS_SHOWN]
    ]
    click.echo(table(("table", "row", "column", "found", "problem", "mend"), rows, file), file=file)
    if len(problems) > _PROBLEMS_SHOWN:
        click.echo(f"... and {len(problems) - _PROBLEMS_SHOWN} more; mend these first.", file=file)
