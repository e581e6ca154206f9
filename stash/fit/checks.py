"""Checking a machine as built: what is wrong, what to ask, what to test after a swap.

Untouched stock parts are facts and not judged; everything that is not stock is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_fitted
from stash.fit.companions import NO_SHELF, Shelf
from stash.fit.facts import Fitted, Machine
from stash.fit.intervals import Outcome
from stash.fit.mates import stock_designs
from stash.fit.speed import overspeed
from stash.fit.verdicts import Finding, judge_machine
from stash.fit.wording import asking_sentence, design_name, mate_sentence
from stash.kernel.years import ALL_YEARS

LEVELS = ("stop", "wrong", "ask", "note")
"""Worst to mildest: dangerous, doesn't go together, not known, worth knowing."""


@dataclass(frozen=True, slots=True)
class CheckFinding:
    """One thing found on a machine.

    Args:
        level: stop, wrong, ask or note.
        position: Where.
        text: What.
        do: What to do about it.
        mate: The mate in question, "" if none.
    """

    level: str
    position: str
    text: str
    do: str
    mate: str = ""


def check_machine(catalogue: Catalogue, machine: Machine, shelf: Shelf = NO_SHELF) -> tuple[CheckFinding, ...]:
    """Check a machine as built.

    Args:
        catalogue: The facts.
        machine: The machine; a planned one has the planned parts in ``fitted``.
        shelf: What lies on the shelf, for choosing among companions.

    Returns:
        Findings, worst first, then by position.
    """
    sheet = catalogue.positions[machine.model]
    findings: list[CheckFinding] = []
    for position in sheet.values():
        fitted = machine.fitted.get(position.name)
        if fitted is None:
            continue
        if fitted.state != "present":
            findings.append(_not_there(catalogue, position.name, position.kind, fitted))
            continue
        findings.extend(_too_fast(catalogue, machine, position.name))
        if is_changed(catalogue, machine, position.name):
            finding = judge_machine(
                catalogue, fitted_part(catalogue, machine, position.name), machine, position.name, shelf
            )
            findings.extend(_changed(catalogue, position.name, position.kind, finding))
    distinct = dict.fromkeys(findings)
    return tuple(sorted(distinct, key=lambda found: (LEVELS.index(found.level), found.position)))


def is_changed(catalogue: Catalogue, machine: Machine, position: str) -> bool:
    """Tell whether what is fitted is known not to be what the position left the factory with."""
    fitted = machine.fitted.get(position)
    if fitted is None or fitted.state != "present":
        return False
    stock = stock_designs(catalogue, machine.model, position, machine.year)
    return bool(fitted.values) or (bool(fitted.design) and fitted.design not in stock)


def fitted_part(catalogue: Catalogue, machine: Machine, position: str) -> Part:
    """Return the part fitted at a position, its own measures laid over its design's."""
    return part_of_fitted(catalogue, catalogue.positions[machine.model][position].kind, machine.fitted[position])


def _not_there(catalogue: Catalogue, position: str, kind: str, fitted: Fitted) -> CheckFinding:
    critical = catalogue.kind[kind].safety_critical if kind in catalogue.kind else False
    if fitted.state == "unknown":
        return CheckFinding("ask", position, "nobody knows what is fitted here", "Look, and note what it is.")
    level = "wrong" if critical else "note"
    word = "is missing" if fitted.state == "missing" else "is faulty"
    do = "Do not run it before a good one is fitted." if critical else "Fit a good one; its gap lists the candidates."
    return CheckFinding(level, position, word, do)


def _too_fast(catalogue: Catalogue, machine: Machine, position: str) -> Iterator[CheckFinding]:
    said = overspeed(catalogue, machine.model, fitted_part(catalogue, machine, position))
    if said:
        yield CheckFinding(
            "stop",
            position,
            said,
            "Flywheel, chain and clutch may burst. Fit one whose limit is known and at or below the rated speed.",
        )


def _changed(catalogue: Catalogue, position: str, kind: str, finding: Finding) -> Iterator[CheckFinding]:
    broken = [state for state in finding.mates if state.outcome is Outcome.BREAKS]
    for state in broken:
        text = mate_sentence(catalogue, kind, state)
        yield CheckFinding("wrong", position, text, _mend(catalogue, finding), state.mate.key)
    for state in finding.mates:
        if state.outcome is Outcome.OPEN:
            yield CheckFinding(
                "ask",
                position,
                mate_sentence(catalogue, kind, state),
                asking_sentence(catalogue, kind, state),
                state.mate.key,
            )
    told = _VERDICTS.get(finding.verdict)
    if told is not None and not (broken and finding.verdict in {"wont_fit", "with_companions"}):
        level, text, do = told
        said = "; ".join(dict.fromkeys(claim.reason or claim.source for claim in finding.counting))
        yield CheckFinding(
            level, position, f"{text}: {said}" if said else text, finding.note or _do(catalogue, do, finding)
        )
    known = catalogue.kind.get(kind)
    if known is not None and known.safety_critical:
        do = known.caution or "Inspect it, and test every control before riding."
        yield CheckFinding("note", position, "a safety-critical part is not stock", do)


_VERDICTS = {
    "wont_fit": ("wrong", "it is said not to fit", "Take it off, or note on the bench that it does fit."),
    "disputed": ("ask", "it is disputed whether it fits", "Try it on the bench and note what you found."),
    "unknown": ("ask", "nobody knows whether it fits", "Measure what is open, or note what you found on the bench."),
    "with_work": ("ask", "it fits with work", "See that the work was done: {work}."),
    "with_companions": ("ask", "it needs other parts changed too", "See that these are fitted: {companions}."),
}


def _do(catalogue: Catalogue, text: str, finding: Finding) -> str:
    items = [" or ".join(design_name(catalogue, key) for key in item) for item in finding.demanded]
    return text.format(work=finding.work or "what the rule says", companions=", ".join(items) or "what the rule says")


def _mend(catalogue: Catalogue, finding: Finding) -> str:
    if finding.companions is None:
        return "Take it off; no known change of other parts lets it in."
    changes = ", ".join(
        f"{design_name(catalogue, each.design)} at the {each.position}" for each in finding.companions.changes
    )
    return f"Change too: {changes}."


def planned_machine(
    catalogue: Catalogue, model: str, machine: Machine | None, parts: dict[str, Fitted], code: str
) -> Machine:
    """Return the machine a build would become: what is there now, with the decided parts in place.

    Args:
        catalogue: The facts.
        model: Model key of a build from nothing; ignored where there is a machine.
        machine: The machine the build is on, None for a build from nothing.
        parts: ``{position: part}`` that the owner has decided.
        code: What to call it.
    """
    if machine is not None:
        return Machine(code, machine.model, machine.year, machine.state, {**machine.fitted, **parts})
    years = catalogue.model[model].years
    year = years.from_year if years != ALL_YEARS and years.from_year == years.to_year else None
    nothing = {name: Fitted("unknown") for name in catalogue.positions[model] if name not in parts}
    return Machine(code, model, year, "project", {**nothing, **parts})
