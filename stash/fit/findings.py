"""A finding: the verdict for one part at one site over some years, with everything it rests on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from stash.fit.beating import Heard, joined
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Claim
from stash.fit.companions import CompanionSet
from stash.fit.mates import MateState, ToMeasure
from stash.fit.wording import VERDICT_WORDS, design_name
from stash.kernel.years import Years


@dataclass(frozen=True, slots=True)
class Finding:
    """The verdict for one part at one site over some years.

    Args:
        verdict: One of the verdicts.
        years: The years it holds for.
        heard: Every claim, those that count first, then the beaten.
        mates: How each mate stands.
        companions: What must change too by the search, where what the sizes say counts; what counting rules demand
            is in ``demanded``.
        note: One sentence that is not a claim, such as "find the year".
    """

    verdict: str
    years: Years
    heard: tuple[Heard, ...]
    mates: tuple[MateState, ...]
    companions: CompanionSet | None = None
    note: str = ""

    @property
    def counting(self) -> tuple[Claim, ...]:
        """The claims that count."""
        return tuple(heard.claim for heard in self.heard if not heard.beaten_by)

    @property
    def demanded(self) -> tuple[tuple[str, ...], ...]:
        """Companions that the counting rules demand, each a tuple of alternatives, without doubles."""
        return tuple(dict.fromkeys(item for claim in self.counting for item in claim.companions))

    @property
    def work(self) -> str:
        """The work the counting claims ask for."""
        return "; ".join(dict.fromkeys(claim.work for claim in self.counting if claim.work))

    @property
    def minutes(self) -> int | None:
        """The longest time a counting claim asks for; None when none says."""
        return max((claim.minutes for claim in self.counting if claim.minutes is not None), default=None)

    @property
    def open(self) -> tuple[ToMeasure, ...]:
        """What to measure to settle the open mates, without doubles."""
        return tuple(dict.fromkeys(ask for state in self.mates for ask in state.to_measure))


def merged(findings: Iterable[Finding]) -> list[Finding]:
    """Merge neighbours in time that are equal: verdict, companions, work and minutes."""
    runs: list[list[Finding]] = []
    for finding in findings:
        if runs and _alike(runs[-1][-1], finding):
            runs[-1].append(finding)
        else:
            runs.append([finding])
    return [_run(run) for run in runs]


def over_all_years(catalogue: Catalogue, found: list[Finding], years: Years) -> Finding:
    """Return the one answer for a machine whose year nobody knows.

    The verdict common to all its model's years, or ``unknown`` with the note to find the year.
    """
    if len(found) == 1:
        return found[0]
    agreed = len({finding.verdict for finding in found}) == 1
    same = len({finding.companions for finding in found}) == 1
    said = "; ".join(f"{finding.years}: {_in_short(catalogue, finding)}" for finding in found)
    return Finding(
        verdict=found[0].verdict if agreed else "unknown",
        years=years,
        heard=joined(heard for finding in found for heard in finding.heard),
        mates=tuple(dict.fromkeys(state for finding in found for state in finding.mates)),
        companions=found[0].companions if agreed and same else None,
        note=f"Find the year: what it takes depends on it ({said})."
        if agreed
        else f"Find the year: it decides ({said}).",
    )


def _in_short(catalogue: Catalogue, finding: Finding) -> str:
    changes = (
        ", ".join(
            f"{design_name(catalogue, change.design)} at the {change.position}" for change in finding.companions.changes
        )
        if finding.companions
        else ""
    )
    return VERDICT_WORDS[finding.verdict] + (f" {changes}" if changes else "")


def _run(run: list[Finding]) -> Finding:
    if len(run) == 1:
        return run[0]
    return replace(
        run[0],
        years=Years(run[0].years.from_year, run[-1].years.to_year),
        heard=joined(heard for finding in run for heard in finding.heard),
        mates=tuple(dict.fromkeys(state for finding in run for state in finding.mates)),
    )


def _alike(a: Finding, b: Finding) -> bool:
    return (a.verdict, a.demanded, a.companions, a.work, a.minutes) == (
        b.verdict,
        b.demanded,
        b.companions,
        b.work,
        b.minutes,
    )
