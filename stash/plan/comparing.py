"""Two plans side by side: what allowing more gains, loses and costs."""

from __future__ import annotations

from dataclasses import dataclass

from stash.plan.answer import Plan, major, units


@dataclass(frozen=True, slots=True)
class Difference:
    """What a second plan has over a first.

    Args:
        gained: Builds that only the second completes, in the second's order.
        lost: Builds that only the first completes, in the first's order.
        value_u: Worth more, in millionths; less below 0, as in what follows.
        money_minor: Money more, minor units.
        minutes: Minutes of work more.
        condition: Condition points more; more is worse.
        bought: ``(design, how many more)`` that the second buys, in order of key.
        stripped: Donors that only the second strips, in order of code.
        proven: Both plans are proven best, so that the difference is.
    """

    gained: tuple[str, ...]
    lost: tuple[str, ...]
    value_u: int
    money_minor: int
    minutes: int
    condition: int
    bought: tuple[tuple[str, int], ...]
    stripped: tuple[str, ...]
    proven: bool

    def as_dict(self) -> dict[str, object]:
        """The difference as plain data for JSON, money in major units."""
        return {
            "gained": list(self.gained),
            "lost": list(self.lost),
            "value": units(self.value_u),
            "money": major(self.money_minor),
            "minutes": self.minutes,
            "condition": self.condition,
            "bought": [{"design": design, "quantity": quantity} for design, quantity in self.bought],
            "stripped": list(self.stripped),
            "proven": self.proven,
        }


def compare(first: Plan, second: Plan) -> Difference:
    """Compare two plans over the same builds."""
    before, after = bought_in(first), bought_in(second)
    more = ((design, quantity - before.get(design, 0)) for design, quantity in sorted(after.items()))
    return Difference(
        gained=tuple(key for key in second.completed if key not in first.completed),
        lost=tuple(key for key in first.completed if key not in second.completed),
        value_u=second.value_u - first.value_u,
        money_minor=second.money_minor - first.money_minor,
        minutes=second.minutes - first.minutes,
        condition=second.condition - first.condition,
        bought=tuple((design, quantity) for design, quantity in more if quantity > 0),
        stripped=tuple(sorted(_stripped(second) - _stripped(first))),
        proven=first.status == second.status == "optimal",
    )


def bought_in(plan: Plan) -> dict[str, int]:
    """Return ``{design: how many}`` that a plan buys."""
    found: dict[str, int] = {}
    for build in plan.builds:
        for part in build.parts:
            if part.buy:
                found[part.design] = found.get(part.design, 0) + part.quantity
    return found


def _stripped(plan: Plan) -> set[str]:
    return {note.machine for note in plan.donors if note.stripped}
