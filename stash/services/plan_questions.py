"""What a plan was asked for, and what it would be if more were allowed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from stash.db.store import Store
from stash.errors import InvalidInput
from stash.fit.catalogue import Catalogue
from stash.kernel.cells import Fault, read_cell
from stash.kernel.exact import money_text
from stash.kernel.tables import Cell, Column
from stash.plan.answer import Plan
from stash.plan.facts import Stock
from stash.plan.solve import Progress
from stash.plan.wares import Allowed, donor_cost_minor
from stash.services.page_plan import make_plan
from stash.services.titles import machine_title

_LONGER = 6
"""How many times as long a plan that is not proven best may think when it is asked again."""
_LONGEST_S = 600.0

_MONEY = Column("amount", Cell.MONEY, low=0, high=100_000_000)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question to the planner.

    Args:
        allowed: What may be used beyond the shelf.
        with_gaps: Plan the gaps too.
        seconds: Time to think.
    """

    allowed: Allowed
    with_gaps: bool = False
    seconds: float = 10.0


@dataclass(frozen=True, slots=True)
class Made:
    """A plan with what it was made from.

    Args:
        asked: The question.
        plan: The answer.
        catalogue: The facts then.
        stock: What was owned then.
    """

    asked: Asked
    plan: Plan
    catalogue: Catalogue
    stock: Stock


@dataclass(frozen=True, slots=True)
class Offer:
    """A donor that might be stripped: its code, what it is, what that would cost in minor units."""

    donor: str
    title: str
    cost_minor: int


def make(
    store: Store,
    asked: Asked,
    *,
    progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    planner: Callable[..., Plan] = make_plan,
) -> Made:
    """Answer a question; see ``make_plan``."""
    catalogue, stock = store.catalogue(), store.stock()
    plan = planner(
        store,
        asked.allowed,
        with_gaps=asked.with_gaps,
        seconds=asked.seconds,
        progress=progress,
        cancelled=cancelled,
    )
    return Made(asked, plan, catalogue, stock)


def offers(made: Made) -> tuple[Offer, ...]:
    """Return the donors that the question did not allow to be stripped, in order of code."""
    busy = {build.machine for build in made.plan.builds if build.machine}
    return tuple(
        Offer(code, machine_title(made.catalogue, machine), donor_cost_minor(machine))
        for code, machine in sorted(made.stock.machines.items())
        if machine.state == "donor" and code not in busy and not made.asked.allowed.may_strip(code)
    )


def what_if(made: Made, more: str, amount: str = "") -> tuple[Asked, str]:
    """Allow one thing more, or more time to think.

    Args:
        made: The plan as it stands.
        more: ``work``, ``donors``, ``buy``, ``longer``, or ``strip:CODE`` for one donor.
        amount: For ``buy``: at most so much money over all builds, "" for no limit.

    Returns:
        The new question, and what is different about it in words.

    Raises:
        InvalidInput: Nothing of the kind can be allowed, or the amount is none.
    """
    allowed, (word, _, donor) = made.asked.allowed, more.partition(":")
    if word == "longer":
        longer = replace(made.asked, seconds=min(_LONGEST_S, made.asked.seconds * _LONGER))
        return longer, f"it may think for {longer.seconds:g} seconds"
    if word == "work":
        allowed, said = replace(allowed, work=True), "work is allowed"
    elif word == "donors":
        allowed, said = replace(allowed, donors=True), "every donor may be stripped"
    elif word == "buy":
        purse = purse_of(amount)
        allowed = replace(allowed, buy=True, purse_minor=purse)
        said = "buying is allowed" if purse is None else f"up to {money_text(purse)} may be spent"
    elif word == "strip" and any(offer.donor == donor for offer in offers(made)):
        allowed = replace(allowed, strip=allowed.strip | {donor})
        said = f"{machine_title(made.catalogue, made.stock.machines[donor])} ({donor}) may be stripped"
    else:
        raise InvalidInput(f"{more!r} is nothing a plan can be allowed", "Use work, donors, buy, longer or strip:CODE.")
    return replace(made.asked, allowed=allowed), said


def purse_of(amount: str) -> int | None:
    """Read an amount of money as minor units, None for "".

    Raises:
        InvalidInput: It is no amount of money.
    """
    if not amount.strip():
        return None
    found = read_cell(_MONEY, amount.strip())
    if isinstance(found, Fault):
        raise InvalidInput(f"{amount!r} {found.problem}", found.hint)
    return int(str(found))
