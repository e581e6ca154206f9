"""Who says what about a part at a position: the factory, rules, and (from ``mates``) the sizes.

Source: project decision (what a claim is, how evidence ranks).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from stash.fit.catalogue import Catalogue
from stash.fit.facts import NO_VALUES, Design, Fitted, Lot, Machine, Model, Rule
from stash.fit.intervals import Interval, Known
from stash.fit.scopes import Scope, rule_scope
from stash.kernel.tables import EVIDENCE

SIZES = "mates"
"""The origin of a claim that follows from the sizes, and its key."""


@dataclass(frozen=True, slots=True)
class Part:
    """The part in question: a design, or a lot whose own measures override its design's.

    Args:
        kind: Kind key.
        design: Design key, "" for a lot nobody has identified.
        lot: Lot code, "" when the question is about the design as such.
        values: ``{measure: value}``, own measures already laid over the design's.
        own: The measures that are of this very part: taken on the lot itself, or told by what stands on it. With the
            design they tell it from every other part.
    """

    kind: str
    design: str = ""
    lot: str = ""
    values: dict[str, Known] = field(default_factory=dict, hash=False)
    own: frozenset[str] = frozenset()

    @property
    def title(self) -> str:
        """What to measure to know more: the lot if there is one, else the design."""
        return self.lot or self.design


def part_of_design(design: Design) -> Part:
    """Return the part a design stands for."""
    return Part(design.kind, design.key, values=dict(design.values))


def part_of_lot(catalogue: Catalogue, lot: Lot) -> Part:
    """Return the part a lot stands for."""
    design = catalogue.design.get(lot.design)
    values = {**(design.values if design else NO_VALUES), **lot.values}
    return Part(lot.kind, lot.design, lot.code, values, frozenset(lot.values))


def part_of_fitted(catalogue: Catalogue, kind: str, fitted: Fitted) -> Part:
    """Return the part a machine carries at a position of a kind, its own measures laid over its design's."""
    design = catalogue.design.get(fitted.design)
    values = {**(design.values if design else NO_VALUES), **fitted.values}
    return Part(kind, fitted.design, values=values, own=frozenset(fitted.values))


@dataclass(frozen=True, slots=True)
class Site:
    """Where the part would go: a position of a model, or of one machine as built."""

    model: Model
    position: str
    machine: Machine | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """One thing said about a part at a site.

    Args:
        verdict: One of the verdicts.
        evidence: bench, book, measured or word.
        origin: ``came_on``, ``rule`` or ``mates``.
        key: Names the claim: ``rule:KEY``, ``came_on:DESIGN``, ``mates``.
        scope: What it is about.
        source: Whose word it is.
        reason: Why, in words.
        companions: Items, each a tuple of alternatives (design or kind keys).
        work: What must be done, for ``with_work``.
        minutes: How long that takes.
        because_mate: The mate it rests on, "" if none.
        tell: How to see it.
        said_on: ISO date, "" if unknown.
    """

    verdict: str
    evidence: str
    origin: str
    key: str
    scope: Scope
    source: str = ""
    reason: str = ""
    companions: tuple[tuple[str, ...], ...] = ()
    work: str = ""
    minutes: int | None = None
    because_mate: str = ""
    tell: str = ""
    said_on: str = ""


def strength(evidence: str) -> int:
    """Rank evidence: larger is stronger."""
    return len(EVIDENCE) - EVIDENCE.index(evidence)


def factory_claims(catalogue: Catalogue, part: Part, site: Site) -> Iterator[Claim]:
    """Yield what ``came_on`` says: the design, or one it replaces, came on this model and position."""
    if not part.design:
        return
    older = catalogue.forerunners.get(part.design, frozenset())
    if part.design in catalogue.same_part and not _is_as_designed(catalogue, part):
        older = frozenset()
    for row in catalogue.stock_rows[site.model.key].get(site.position, ()):
        if row.design != part.design and row.design not in older:
            continue
        scope = Scope(
            design=part.design,
            model=row.model,
            generation=row.generation,
            position=row.position,
            years=row.years,
        )
        source, reason = _factory_words(catalogue, part.design, row.design)
        yield Claim("bolts_on", "book", "came_on", f"came_on:{row.design}", scope, source=source, reason=reason)


def _is_as_designed(catalogue: Catalogue, part: Part) -> bool:
    """Tell whether nothing was found on the part itself that its design is not: else no standard vouches for it."""
    values = catalogue.design[part.design].values
    return all(_may_be_one(part.values[key], values.get(key)) for key in part.own)


def _may_be_one(found: Known, known: Known | None) -> bool:
    if isinstance(found, Interval):
        return not isinstance(known, Interval) or (found.low_u <= known.high_u and known.low_u <= found.high_u)
    return found == known


def _factory_words(catalogue: Catalogue, design: str, stock: str) -> tuple[str, str]:
    """Whose word it is, and why, that a design goes where a stock one came on."""
    if design == stock:
        return "stock sheet", "it came on it from the factory"
    came = f"{_name(catalogue, stock)}, which came on it from the factory"
    same = catalogue.same_part.get(design)
    if same is not None and stock in same.designs:
        return f"stock sheet; {same.source}", f"as {same.name} it is the same standard part as {came}"
    return "stock sheet", f"its number replaces that of {came}"


def rule_claims(catalogue: Catalogue, part: Part, site: Site) -> Iterator[Claim]:
    """Yield what the rules say whose part and target columns match, in any year."""
    rules = (*catalogue.rules_by_design.get(part.design, ()), *catalogue.rules_by_kind.get(part.kind, ()))
    for rule in rules:
        if _part_matches(catalogue, rule, part) and _target_matches(catalogue, rule, site):
            yield claim_of(rule)


def claim_of(rule: Rule) -> Claim:
    """Return what a rule says, as a claim."""
    return Claim(
        rule.verdict,
        rule.evidence,
        "rule",
        f"rule:{rule.key}",
        rule_scope(rule),
        source=rule.source,
        reason=rule.reason,
        companions=rule.companions,
        work=rule.work,
        minutes=rule.minutes,
        because_mate=rule.because_mate,
        tell=rule.tell,
        said_on=rule.said_on,
    )


def _part_matches(catalogue: Catalogue, rule: Rule, part: Part) -> bool:
    design = catalogue.design.get(part.design)
    return (
        rule.design in {"", part.design}
        and rule.kind in {"", part.kind}
        and (not rule.part_maker or (design is not None and design.maker == rule.part_maker))
        and (not rule.part_generation or (design is not None and design.generation == rule.part_generation))
    )


def _target_matches(catalogue: Catalogue, rule: Rule, site: Site) -> bool:
    return (
        catalogue.is_about(rule, site.model)
        and rule.position in {"", site.position}
        and (not rule.machine or (site.machine is not None and site.machine.code == rule.machine))
    )


def _name(catalogue: Catalogue, design: str) -> str:
    known = catalogue.design.get(design)
    return known.name if known and known.name else design
