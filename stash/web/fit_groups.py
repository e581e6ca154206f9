"""Verdicts in the order one reads them: best first, equal ones with equal reasons together, the silent ones short."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from stash.fit.beating import Heard
from stash.fit.claims import Part
from stash.kernel.tables import VERDICTS
from stash.services import fits
from stash.services.fits import Fit
from stash.services.open import Store
from stash.services.uses import InShort, in_short


@dataclass(frozen=True, slots=True)
class FitGroup:
    """Sites with one verdict for one and the same reason.

    Args:
        fits: In the order of the catalogue, at least one.
    """

    fits: tuple[Fit, ...]

    @property
    def first(self) -> Fit:
        """The one whose reasons stand for all."""
        return self.fits[0]

    @property
    def verdict(self) -> str:
        """Their verdict."""
        return self.first.verdict

    @property
    def same_sizes(self) -> bool:
        """Whether the same sizes meet at all of them."""
        return len({fit.finding.mates for fit in self.fits}) == 1


@dataclass(frozen=True, slots=True)
class FitGroups:
    """Verdicts sorted for reading.

    Args:
        said: Those about which something is said or can be measured, best verdict first.
        silent: Those about which nothing is known.
    """

    said: tuple[FitGroup, ...]
    silent: tuple[Fit, ...]

    @property
    def tally(self) -> dict[str, int]:
        """``{verdict: how many sites}``, best first."""
        counts = {
            verdict: sum(len(group.fits) for group in self.said if group.verdict == verdict) for verdict in VERDICTS
        }
        return {verdict: count for verdict, count in counts.items() if count}


@dataclass(frozen=True, slots=True)
class PartPage:
    """What a page about a part says of what it fits.

    Args:
        short: What it fits, without reasons.
        models: The verdicts on models with their reasons; None where there are too many sites for one page.
        machines: The same on owned machines.
    """

    short: InShort
    models: FitGroups | None
    machines: FitGroups | None

    @property
    def part(self) -> Part:
        """The part."""
        return self.short.part

    @property
    def counts(self) -> dict[str, int]:
        """``{verdict: how many models}``, best first."""
        return {verdict: len(models) for verdict, models in self.short.models.items()}


MOST_EXPLAINED = 60
"""On how many models and machines a page explains a verdict by itself. Source: project decision."""


def part_page(store: Store, ref: str) -> PartPage:
    """Answer what a part fits, as far as a page can say it at once.

    Raises:
        NotFound: Nothing goes by that name.
        InvalidInput: A number of two makers.
    """
    short = in_short(store, ref)
    if short.sites > MOST_EXPLAINED:
        return PartPage(short, None, None)
    answer = fits.fits(store, ref)
    return PartPage(short, grouped_fits(answer.fits), grouped_fits(answer.machines))


def grouped_fits(found: Iterable[Fit]) -> FitGroups:
    """Sort verdicts for reading; equals keep their order."""
    groups: dict[Hashable, list[Fit]] = {}
    silent: list[Fit] = []
    for fit in found:
        if fit.verdict == "unknown" and not fit.finding.heard and not fit.finding.open:
            silent.append(fit)
        else:
            groups.setdefault(_same(fit), []).append(fit)
    said = (FitGroup(tuple(alike)) for alike in groups.values())
    return FitGroups(tuple(sorted(said, key=lambda group: VERDICTS.index(group.verdict))), tuple(silent))


def _same(fit: Fit) -> Hashable:
    """What two verdicts must share to stand together: all that is shown of them but where they hold."""
    finding = fit.finding
    return (
        fit.verdict,
        fit.danger,
        fit.companions,
        finding.note,
        fit.settle,
        tuple(_shown(heard) for heard in finding.heard),
    )


def _shown(heard: Heard) -> Hashable:
    claim = heard.claim
    words = (claim.reason, claim.source, claim.work, claim.tell, claim.said_on)
    return (claim.verdict, claim.evidence, words, claim.minutes, bool(heard.beaten_by))
