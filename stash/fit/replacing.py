"""Which design replaces which, by the numbers. Replacement works forward only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from stash.errors import BadCatalogue
from stash.fit.facts import Number, SamePart

Name = tuple[str, str]
"""A number as such: (maker, number)."""


def forerunners(numbers: Iterable[Number]) -> Mapping[str, frozenset[str]]:
    """Return ``{design: designs it replaces}``, in any number of steps, itself not among them.

    A design replaces another when one of the other's numbers leads, by ``replaced_by`` within one maker, to one of
    its own numbers. Never the reverse.

    Raises:
        BadCatalogue: A number leads back to itself.
    """
    by_name = {(row.maker, row.number): row for row in numbers}
    groups: dict[str, set[str]] = defaultdict(set)
    for row in by_name.values():
        for step in _chain(by_name, row):
            later = by_name.get(step)
            if later is not None and later.design and row.design and later.design != row.design:
                groups[later.design].add(row.design)
    return {design: frozenset(older) for design, older in groups.items()}


def with_same_parts(older: Mapping[str, frozenset[str]], same: Iterable[SamePart]) -> Mapping[str, frozenset[str]]:
    """Return the same with designs that a standard makes one part: each replaces the others, and what they replace.

    Args:
        older: ``{design: designs it replaces}``.
        same: The standard parts.
    """
    beside = {design: row.designs for row in same for design in row.designs}
    if not beside:
        return older
    return {design: _reached(design, older, beside) for design in {*older, *beside}}


def _reached(design: str, older: Mapping[str, frozenset[str]], beside: Mapping[str, frozenset[str]]) -> frozenset[str]:
    """Everything that steps to an older design or to the same part lead to."""
    found: set[str] = set()
    waiting = [design]
    while waiting:
        at = waiting.pop()
        new = (older.get(at, frozenset()) | beside.get(at, frozenset())) - found
        found |= new
        waiting.extend(new)
    return frozenset(found - {design})


def circles(numbers: Iterable[Number]) -> tuple[tuple[Name, ...], ...]:
    """Return the circles in which numbers replace one another, each once, in order of maker and number."""
    by_name = {(row.maker, row.number): row for row in numbers}
    found: set[tuple[Name, ...]] = set()
    for name in by_name:
        seen: list[Name] = []
        at: Name | None = name
        while at is not None and at not in seen:
            seen.append(at)
            at = _next(by_name, at)
        if at is not None:
            found.add(tuple(sorted(seen[seen.index(at) :])))
    return tuple(sorted(found))


def _chain(by_name: Mapping[Name, Number], row: Number) -> Iterator[Name]:
    """Yield what a number is replaced by, step by step."""
    seen = {(row.maker, row.number)}
    at = _next(by_name, (row.maker, row.number))
    while at is not None:
        if at in seen:
            raise BadCatalogue(
                f"Number {row.number} of {row.maker} is replaced in a circle",
                "Clear replaced_by on the newest of: " + ", ".join(sorted(number for _, number in seen)),
            )
        seen.add(at)
        yield at
        at = _next(by_name, at)


def _next(by_name: Mapping[Name, Number], name: Name) -> Name | None:
    row = by_name.get(name)
    return (row.maker, row.replaced_by) if row is not None and row.replaced_by else None
