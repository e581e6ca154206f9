"""``accounts``: who may sign in, and as what."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, me, opened, say_json, with_json, with_store
from stash.cli.show import count, table
from stash.errors import InvalidInput

if TYPE_CHECKING:
    from stash.services.accounts import Person
    from stash.services.open import Store

ROLES = ("owner", "helper", "guest")


@command(
    "accounts",
    "stash accounts\nstash accounts --add ruth\nstash accounts --add ben --role helper\n"
    "stash accounts --password ruth\nstash accounts --disable ben",
)
@click.option("--add", metavar="NAME", help="Make an account; its password is asked for.")
@click.option(
    "--role",
    type=click.Choice(ROLES),
    help="For --add and --change: owner does everything, helper changes stock, guest looks. Default: owner for the"
    " first account, helper afterwards.",
)
@click.option("--change", metavar="NAME", help="Give an account the role named with --role.")
@click.option("--password", metavar="NAME", help="Give an account another password, and sign it out everywhere.")
@click.option("--disable", metavar="NAME", help="Shut an account out.")
@click.option("--enable", metavar="NAME", help="Let an account in again.")
@click.option("--sign-out", metavar="NAME", help="Sign an account out everywhere.")
@with_store
@with_json
def accounts(*, db: str | None, as_json: bool, role: str | None, **named: str | None) -> None:
    """List who may sign in, or change one account.

    A password is asked for twice, unseen; where nobody sits at a terminal it is the first line of standard input.
    Whoever can open the database can do this without signing in: it is the way back in when a password is forgotten.
    """
    asked = [(what, name) for what, name in named.items() if name is not None]
    if len(asked) > 1:
        raise click.UsageError("Change one thing at a time: " + " or ".join(f"--{what}" for what, _ in asked) + ".")
    if role and (not asked or asked[0][0] not in {"add", "change"}):
        raise click.UsageError("--role goes with --add or --change.")
    store = opened(db, make=bool(asked))
    if asked:
        _changed(store, *asked[0], role)
    _listed(store, as_json=as_json)


def first_owner(store: Store, host: str) -> None:
    """Make sure that an owner may sign in before the network is let near; where somebody is there, ask for one.

    Raises:
        InvalidInput: Nobody may, and nobody is there.
    """
    from stash.services.accounts import add, any_owner

    if any_owner(store):
        return
    if not sys.stdin.isatty():
        raise InvalidInput(
            f"{host} can be reached from the network, and no owner has an account",
            "Make one with `stash accounts --add NAME` and start again, or leave out --lan and --host to open it on"
            " this computer alone.",
        )
    click.echo(
        "Others can reach it there, so you need an account first: a name, and a password of 10 characters or more."
    )
    name = click.prompt("Your name")
    add(store, name, "owner", _password(name), who=me())


def _changed(store: Store, what: str, name: str, role: str | None) -> None:
    from stash.services import accounts as service

    if what == "add":
        service.add(store, name, role or ("helper" if service.any_owner(store) else "owner"), _password(name), who=me())
    elif what == "password":
        service.set_password(store, name, _password(name), who=me())
    elif what == "change":
        if role is None:
            raise click.UsageError("--change needs the new role: --role owner, helper or guest.")
        service.set_role(store, name, role, who=me())
    elif what == "sign_out":
        service.sign_out_everywhere(store, name, who=me())
    else:
        service.set_disabled(store, name, disabled=what == "disable", who=me())


def _listed(store: Store, *, as_json: bool) -> None:
    from stash.services.accounts import accounts as everybody

    found = everybody(store)
    if as_json:
        say_json([each.as_dict() for each in found])
    elif found:
        click.echo(table(("name", "role", "may sign in", "signed in at"), [_row(each) for each in found]))
    else:
        click.echo("Nobody has an account: it opens without a password, on this computer alone.")


def _row(one: Person) -> tuple[str, str, str, str]:
    return one.name, one.role, "no" if one.disabled else "yes", count(one.signed_in, "browser")


def _password(name: str) -> str:
    """Ask for a password, unseen and twice; without a terminal take a line of standard input."""
    if sys.stdin.isatty():
        return str(click.prompt(f"New password for {name}", hide_input=True, confirmation_prompt="The same again"))
    return sys.stdin.readline().rstrip("\r\n")
