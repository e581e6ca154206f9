"""Settling a doubt at the bench: what was found becomes a rule with evidence ``bench``, and the verdict follows."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from stash.db.models import Rule
from stash.db.store import Store
from stash.db.unit import Work
from stash.errors import InvalidInput
from stash.kernel.tables import RULE_VERDICTS
from stash.services.handling import Done, done, machine_row
from stash.services.parts import resolve_part


@dataclass(frozen=True, slots=True)
class BenchFinding:
    """What somebody found by trying.

    Args:
        verdict: bolts_on, with_companions, with_work or wont_fit.
        work: The work it needed.
        minutes: How long that took.
        companions: What had to change too: design keys, ``;`` between items, ``|`` between alternatives.
        reason: What decided, in words.
    """

    verdict: str
    work: str = ""
    minutes: int | None = None
    companions: str = ""
    reason: str = ""


def settle(store: Store, ref: str, machine: str, position: str, found: BenchFinding, *, who: str, on: dt.date) -> Done:
    """Note what was found by trying a part on a machine.

    Args:
        store: The database.
        ref: The part: a lot's code, a design's key or a number.
        machine: The machine's code.
        position: The position it was tried at.
        found: What was found.
        who: Whose word it is.
        on: The day.

    Returns:
        What was done; the claim is about this design on this very machine, in the year it has.

    Raises:
        InvalidInput: The part has no design yet, the position takes another kind, or the verdict is none.
    """
    catalogue, stock = store.catalogue(), store.stock()
    part = resolve_part(catalogue, stock, ref)
    if found.verdict not in RULE_VERDICTS:
        raise InvalidInput(f"{found.verdict!r} is nothing one finds", "Use one of: " + ", ".join(RULE_VERDICTS) + ".")
    if not part.design:
        raise InvalidInput(
            "Nobody knows which design this part is", "Identify it, or give it a design of its own first."
        )

    def act(work: Work) -> Done:
        owner = machine_row(work.session, machine)
        spot = catalogue.positions[owner.model].get(position)
        if spot is None or spot.kind != part.kind:
            raise InvalidInput(f"A {owner.model} takes no {part.kind} at {position!r}", "Choose one of its positions.")
        rule = Rule(
            key=_free_key(work, f"bench-{part.design}-{owner.code.lower()}"),
            verdict=found.verdict,
            design=part.design,
            model=owner.model,
            position=position,
            machine=owner.code,
            companions=found.companions or None,
            work=found.work or None,
            minutes=found.minutes,
            reason=found.reason or None,
            evidence="bench",
            source=who,
            said_on=on,
        )
        work.session.add(rule)
        return done(work, f"Noted as rule {rule.key}.")

    return store.write(who, "noted at the bench", act)


def _free_key(work: Work, start: str) -> str:
    key, count = start, 1
    while work.session.get(Rule, key) is not None:
        count += 1
        key = f"{start}-{count}"
    return key
