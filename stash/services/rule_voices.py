"""What becomes of a rule where it speaks: it counts, says what is known already, is beaten, or is disputed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design
from stash.fit.facts import Machine, Rule
from stash.fit.findings import Finding
from stash.fit.wording import EVIDENCE_WORDS, VERDICT_WORDS, beaten_reason
from stash.plan.facts import Stock
from stash.plan.judging import Judge

_MOST_HEARD = 150
"""Places at which a rule is asked what becomes of it. Source: project decision, a second or two."""


@dataclass(frozen=True, slots=True)
class Voice:
    """What becomes of the rule itself where it speaks.

    Args:
        outcome: ``counts``, ``agrees`` (others say the same already), ``disputed`` or ``beaten``.
        why: Who says otherwise; "" when nobody does.
        places: How many designs at positions.
        example: The first of them: design, model, position.
    """

    outcome: str
    why: str
    places: int
    example: tuple[str, str, str]


def voices(after: Judge, before: Judge, stock: Stock, rule: Rule) -> tuple[tuple[Voice, ...], bool]:
    """Ask a rule what becomes of it wherever it speaks.

    Args:
        after: Answers for the catalogue with the rule.
        before: Answers for the catalogue as it is.
        stock: What is owned.
        rule: The rule.

    Returns:
        What becomes of it, most places first; and whether there are more places than were asked.
    """
    key = f"rule:{rule.key}"
    counted: dict[tuple[str, str], list[tuple[str, str, str]]] = {}
    asked = 0
    for part, model, position, machine in _where_it_speaks(after.catalogue, stock, rule):
        asked += 1
        if asked > _MOST_HEARD:
            break
        found = _judged(after, part, model, position, machine)
        old = {each.verdict for each in _judged(before, part, model, position, machine)}
        told = {_outcome(after.catalogue, finding, key, old) for finding in found}
        for outcome in sorted(each for each in told if each is not None):
            counted.setdefault(outcome, []).append((part.design, model, position))
    told_voices = (Voice(outcome, why, len(places), places[0]) for (outcome, why), places in counted.items())
    return tuple(sorted(told_voices, key=lambda each: (-each.places, each.outcome, each.why))), asked > _MOST_HEARD


def _judged(judge: Judge, part: Part, model: str, position: str, machine: Machine | None) -> tuple[Finding, ...]:
    if machine is not None:
        return (judge.on_machine(part, machine, position),)
    return judge.on_model(part, model, position)


def _where_it_speaks(catalogue: Catalogue, stock: Stock, rule: Rule) -> Iterator[tuple[Part, str, str, Machine | None]]:
    """Yield every part, model and position a rule is about; of a rule about one machine, that machine."""
    kind = catalogue.rulebook.kind_of(rule)
    machine = stock.machines.get(rule.machine) if rule.machine else None
    models = [model.key for model in catalogue.rulebook.models_about(rule)]
    for design in catalogue.designs_of_kind.get(kind, ()):
        if (
            rule.design in {"", design.key}
            and rule.part_maker in {"", design.maker}
            and rule.part_generation in {"", design.generation}
        ):
            for model in models if machine is None else [machine.model]:
                for position in catalogue.positions_of_kind[model].get(kind, ()):
                    if rule.position in {"", position}:
                        yield part_of_design(design), model, position, machine


def _outcome(catalogue: Catalogue, finding: Finding, key: str, old: set[str]) -> tuple[str, str] | None:
    """Tell what becomes of a claim in a finding, and who says otherwise; None when it is not said there."""
    heard = next((each for each in finding.heard if each.claim.key == key), None)
    if heard is None:
        return None
    if heard.beaten_by:
        return "beaten", beaten_reason(catalogue, heard, finding.heard)
    if finding.verdict == "disputed":
        others = (each for each in finding.counting if each.key != key and each.verdict != heard.claim.verdict)
        said = (
            f"{VERDICT_WORDS[each.verdict]} ({each.source or EVIDENCE_WORDS.get(each.evidence, each.evidence)})"
            for each in others
        )
        return "disputed", "against it stands: " + "; ".join(dict.fromkeys(said))
    return ("agrees" if old == {finding.verdict} else "counts"), ""
