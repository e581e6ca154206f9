"""Which part may be used without asking its owner again, and why not.

Source: project decision (what counts as usable, the order of conditions, points of condition).
"""

from __future__ import annotations

from stash.fit.facts import Kind
from stash.kernel.tables import CONDITIONS, VERDICTS

USABLE_VERDICTS = frozenset({"bolts_on", "likely", "with_companions"})
CONDITION_POINTS = {"new": 0, "excellent": 1, "good": 2, "serviceable": 3, "needs_work": 5, "unknown": 5}
"""How much worse than new a part is; conditions that are never used have none."""

_SOUND = frozenset({"new", "excellent", "good", "serviceable"})
_SEEN_WORKING = frozenset({"measured", "ran"})
_VERDICT_REFUSALS = {
    "with_work": "fits only with work",
    "unknown": "nobody knows whether it fits",
    "disputed": "disputed: settle whether it fits",
    "wont_fit": "won't fit",
}
_CONDITION_REFUSALS = {
    "needs_work": "needs work first",
    "core": "only a core to rebuild",
    "pattern": "kept as a pattern",
    "scrap": "scrap",
}


def verdict_refusal(verdict: str, *, work: bool = False) -> str:
    """Return why a part of this verdict is not used by itself, "" when it is.

    Args:
        verdict: One of the verdicts.
        work: Whether fitting with work is allowed.
    """
    if verdict in USABLE_VERDICTS or (work and verdict == "with_work"):
        return ""
    return _VERDICT_REFUSALS[verdict]


def condition_refusal(kind: Kind | None, condition: str, checked: str, *, work: bool = False) -> str:
    """Return why a part in this condition is not used by itself, "" when it is.

    A safety-critical part must be new, or sound and measured or seen running.

    Args:
        kind: The part's kind, None when unknown.
        condition: One of the conditions.
        checked: How the condition is known: looked, measured, ran or "".
        work: Whether work on a part is allowed.
    """
    if condition in _CONDITION_REFUSALS and not (work and condition == "needs_work"):
        return _CONDITION_REFUSALS[condition]
    if kind is None or not kind.safety_critical or condition == "new":
        return ""
    if condition in _SOUND and checked in _SEEN_WORKING:
        return ""
    return "inspect first: safety-critical, and neither new nor measured or seen running"


def verdict_rank(verdict: str) -> int:
    """Return 0 for the best verdict, larger for worse."""
    return VERDICTS.index(verdict)


def condition_rank(condition: str) -> int:
    """Return the order in which conditions are preferred; unknown is last of those that may be used."""
    order = ("new", "excellent", "good", "serviceable", "needs_work", "unknown")
    return order.index(condition) if condition in order else len(order) + CONDITIONS.index(condition)
