"""The loose lots that could fill a position, and why some of them may not be used as they are."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from stash.fit.facts import Lot, Machine
from stash.fit.findings import Finding
from stash.fit.intervals import Outcome
from stash.plan.filling import Choice
from stash.plan.shelf import Sort
from stash.plan.usable import condition_rank, verdict_rank, verdict_refusal


@dataclass(frozen=True, slots=True)
class Candidate:
    """A loose lot that could fill a position.

    Args:
        lot: Lot code.
        design: Its design, "" when nobody knows.
        verdict: On the machine as built, or on the wanted model (the best of its years).
        place: Where it lies.
        condition: Its condition.
        quantity: How many there are.
        usable: It may go in as it is.
        why_not: Why it may not, in words; "" when it may.
        years: The years of a wanted model for which it is so, "" for all.
    """

    lot: str
    design: str
    verdict: str
    place: str
    condition: str
    quantity: int
    usable: bool
    why_not: str
    years: str = ""

    def as_dict(self) -> dict[str, object]:
        """The candidate as plain data for JSON."""
        return {
            **{name: getattr(self, name) for name in self.__slots__},
            "design": self.design or None,
            "place": self.place or None,
        }


@dataclass(frozen=True)
class Answer:
    """A sort judged at one position: its findings by years, and each of its lots with why it may not be used."""

    sort: Sort
    findings: tuple[Finding, ...]
    lots: tuple[tuple[Lot, str], ...]

    def choice(self, finding: Finding) -> Choice[Sort]:
        """Return the sort as a choice for filling, with the companions a rule demands."""
        supply = sum(lot.quantity for lot, why_not in self.lots if not why_not)
        return Choice(
            self.sort, self.sort.part, supply, finding.demanded if finding.verdict == "with_companions" else ()
        )


def best_finding(findings: Collection[Finding]) -> Finding:
    """Return the finding with the best verdict, the earliest of equal ones."""
    return min(findings, key=lambda finding: verdict_rank(finding.verdict))


def candidates(answers: Collection[Answer], machine: Machine | None) -> tuple[Candidate, ...]:
    """List every lot of the answers, best first: verdict, whether usable, condition, code."""
    found = []
    for answer in answers:
        finding = best_finding(answer.findings)
        refused = refusal(finding, machine)
        years = str(finding.years) if len(answer.findings) > 1 else ""
        found += [
            Candidate(
                lot=lot.code,
                design=lot.design,
                verdict=finding.verdict,
                place=lot.place,
                condition=lot.condition,
                quantity=lot.quantity,
                usable=not (refused or why_not),
                why_not=refused or why_not,
                years=years,
            )
            for lot, why_not in answer.lots
        ]
    return tuple(sorted(found, key=_preference))


def refusal(finding: Finding, machine: Machine | None) -> str:
    """Return why a verdict does not let a part go in as it is, "" when it does.

    On a machine, what stays on it must go with the part.
    """
    refused = verdict_refusal(finding.verdict)
    if finding.verdict == "with_work" and finding.work:
        return f"{refused}: {finding.work}"
    if refused or machine is None:
        return refused
    against = dict.fromkeys(state.position for state in finding.mates if state.outcome is Outcome.BREAKS)
    return "does not go with what is fitted at: " + ", ".join(against) if against else ""


def _preference(candidate: Candidate) -> tuple[int, bool, int, str]:
    return (
        verdict_rank(candidate.verdict),
        not candidate.usable,
        condition_rank(candidate.condition),
        candidate.lot,
    )
