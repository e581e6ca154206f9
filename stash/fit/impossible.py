"""Why no change of other positions lets a part in: the mate that nothing can satisfy."""

from __future__ import annotations

from dataclasses import dataclass

from stash.fit.change_problem import Problem
from stash.fit.pairing import bits


@dataclass(frozen=True, slots=True)
class Change:
    """One position and the design that goes in there."""

    position: str
    design: str


@dataclass(frozen=True, slots=True)
class Impossible:
    """No change helps.

    Args:
        mate: Key of the mate that nothing can satisfy.
        position: The position at its other end.
        also: Mates that could be satisfied there, but not together with it.
        refused: Designs that would satisfy all of them there and are refused outright.
        beside: Changes, as good as any, with which it was found that nothing goes in there.
    """

    mate: str
    position: str
    also: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    beside: tuple[Change, ...] = ()


def explain(problem: Problem) -> Impossible:
    """Follow forced changes, taking the first part that goes in each time, to the position where nothing does.

    Args:
        problem: A question with no answer.
    """
    changed: dict[str, int] = {}
    while True:
        forced = problem.forced(changed)
        viable = {position: _viable(problem, position, changed) for position in forced}
        position = min(forced, key=lambda name: (viable[name].bit_count(), name))
        if not viable[position]:
            return _dead_end(problem, position, changed)
        changed[position] = min(bits(viable[position]), key=lambda group: problem.choice(position, group)[1].key)


def _viable(problem: Problem, position: str, changed: dict[str, int]) -> int:
    mask = problem.around.allowed(position)
    for good in _satisfying(problem, position, changed).values():
        mask &= good
    return mask


def _satisfying(problem: Problem, position: str, changed: dict[str, int]) -> dict[tuple[str, str], int]:
    """``{(mate, fixed position): groups at the position that it lets in}``."""
    every = problem.around.groups(position).all
    found: dict[tuple[str, str], int] = {}
    for far, touch in problem.around.links(position):
        if far == problem.home:
            split = problem.beside_part(touch.back)
            good = split.holds if (touch.mate.key, position) in problem.must_hold else every & ~split.breaks
        elif far in changed:
            good = every & ~problem.around.beside_group(far, changed[far], touch.back).breaks
        else:
            continue
        found[touch.mate.key, far] = found.get((touch.mate.key, far), every) & good
    return found


def _dead_end(problem: Problem, position: str, changed: dict[str, int]) -> Impossible:
    beside = tuple(Change(name, problem.choice(name, group)[1].key) for name, group in sorted(changed.items()))
    satisfying = _satisfying(problem, position, changed)
    every = problem.around.groups(position).all
    alone = sorted(mate for (mate, _), good in satisfying.items() if not good)
    if alone:
        return Impossible(alone[0], position, beside=beside)
    together = every
    for good in satisfying.values():
        together &= good
    picky = {mate for (mate, _), good in satisfying.items() if good != every}
    mates = sorted(picky or {mate for mate, _ in satisfying})
    if not together:
        return Impossible(mates[0], position, also=tuple(mates[1:]), beside=beside)
    members = problem.around.groups(position).members
    refused = sorted(row.key for group in bits(together) for row in members[group])
    return Impossible(mates[0], position, refused=tuple(refused), beside=beside)
