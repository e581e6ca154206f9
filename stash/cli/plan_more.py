"""What goes with a plan: what more would give, what to take and to buy, and reserving it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import click

from stash.cli.edge import me
from stash.cli.show import table

if TYPE_CHECKING:
    from stash.plan.comparing import Difference
    from stash.services.open import Store
    from stash.services.plan_lists import Errands, For, Purchase
    from stash.services.plan_questions import Made

More = list[tuple[str, str, "Difference"]]
"""What was typed, what it says, and what it changes."""


def donors_of(store: Store, typed: Iterable[str]) -> frozenset[str]:
    """Read the codes of donors that may be stripped.

    Raises:
        InvalidInput: A code is none, or no donor's.
    """
    from stash.errors import InvalidInput
    from stash.kernel.codes import require_code

    machines = store.stock().machines
    codes = frozenset(str(require_code(code)) for code in typed)
    for code in sorted(codes):
        if code not in machines or machines[code].state != "donor":
            raise InvalidInput(f"{code} is no donor", "`stash find donor` lists machines; a donor's state is donor.")
    return codes


def asked(store: Store, made: Made, typed: Iterable[str], stopped: Callable[[], bool]) -> More:
    """Plan again for each thing that might be allowed.

    Raises:
        InvalidInput: Nothing of the kind can be allowed.
    """
    from stash.plan.comparing import compare
    from stash.services.plan_questions import make, what_if

    found: More = []
    for text in typed:
        word, _, amount = text.partition("=")
        question, said = what_if(made, word, amount)
        found.append((text, said, compare(made.plan, make(store, question, cancelled=stopped).plan)))
    return found


def as_dict(made: Made, more: More) -> dict[str, object]:
    """The plan, its lists and what more would give as plain data for JSON."""
    return {
        **made.plan.as_dict(),
        **_errands(made).as_dict(),
        "what_if": [{"more": text, "said": said, **difference.as_dict()} for text, said, difference in more],
    }


def say(made: Made, more: More, *, lists: bool) -> None:
    """Print what more would give, and the lists where they are wanted."""
    from stash.plan.answer import major, units

    rows = [
        (
            said,
            ", ".join(difference.gained) or "nothing",
            ", ".join(difference.lost),
            f"{units(difference.value_u):+}",
            f"{major(difference.money_minor):+.2f}",
            f"{difference.minutes:+}",
        )
        for _, said, difference in more
    ]
    if rows:
        click.echo("\nWhat if\n" + table(("and if", "gained", "lost", "worth", "money", "minutes"), rows))
    if lists:
        _say_lists(_errands(made))


def keep(store: Store, made: Made) -> None:
    """Reserve every loose part of the plan."""
    from stash.services.plan_reserve import reserve

    click.echo(reserve(store, made.catalogue, made.stock, made.plan, who=me()).said, err=True)


def _errands(made: Made) -> Errands:
    from stash.services.plan_lists import errands

    return errands(made.catalogue, made.stock, made.plan)


def _say_lists(todo: Errands) -> None:
    walk = [(stop.place, stop.lot, stop.quantity, stop.title, _uses(stop.uses)) for stop in todo.walk]
    if walk:
        click.echo("\nOn the way along the bins\n" + table(("place", "lot", "how many", "take", "for"), walk))
    off = [(each.donor, each.position, each.quantity, each.title, _uses(each.uses)) for each in todo.donors]
    if off:
        click.echo("\nOff donors\n" + table(("donor", "where", "how many", "take", "for"), off))
    for title, found in (("To buy", todo.buy), ("Would finish what the plan can't", todo.would_finish)):
        if found:
            click.echo(f"\n{title}")
        for each in found:
            _say_purchase(each)


def _say_purchase(each: Purchase) -> None:
    from stash.plan.answer import major

    price = "no price noted" if each.cost_minor is None else f"{major(each.cost_minor):.2f}"
    click.echo(f"  {each.quantity} x {each.title}, {price}, for {_uses(each.uses)}")
    numbers = " or ".join(each.numbers) or "no number known"
    click.echo(f"    ask for: {numbers}" + (f" (replaces {', '.join(each.older)})" if each.older else ""))
    for text in each.measures:
        click.echo(f"    check:   {text}")
    for text in each.alike:
        click.echo(f"    not:     {text}")
    for text in each.cautions:
        click.echo(f"    mind:    {text}")


def _uses(uses: Iterable[For]) -> str:
    return ", ".join(f"{use.position} of {use.build}" for use in uses)
