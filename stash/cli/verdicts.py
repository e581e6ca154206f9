"""``fits`` and ``check``: what goes where, and whether a machine is right."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, no, opened, say_json, with_json, with_store
from stash.cli.show import table, years

if TYPE_CHECKING:
    from stash.fit.claims import Claim
    from stash.fit.facts import Model
    from stash.services.checks import Check
    from stash.services.fits import Companion, Fit, FitsAnswer

YES = ("bolts_on", "with_companions", "with_work", "likely")
"""Verdicts by which a part can be used."""
_ASKED = 2


@command("fits", "stash fits FN-21.380-B\nstash fits 52BVMY --json\nstash fits --all")
@click.argument("ref", required=False)
@click.option("--all", "every", is_flag=True, help="Every design, a line each.")
@click.option("--full", is_flag=True, help="Every reason whole, instead of its beginning.")
@with_store
@with_json
def fits(ref: str | None, *, every: bool, full: bool, db: str | None, as_json: bool) -> None:
    """Say what a part fits, with which companions, and on whose word.

    REF is the code of a lot, the key of a design or a part number; MAKER:NUMBER where two makers share one. The answer
    is no (exit 1) when nothing is known to take it.
    """
    ref = (ref or "").strip()
    if every == bool(ref):
        raise click.UsageError("Name one part by REF, or ask for --all.")
    if not ref:
        _fits_all(db, as_json=as_json)
        return
    from stash.services.fits import fits as ask

    answer = ask(opened(db), ref)
    if as_json:
        say_json(answer.as_dict())
    else:
        say_fits(answer, full=full)
    if not any(fit.verdict in YES for fit in (*answer.fits, *answer.machines)):
        no()


def _fits_all(db: str | None, *, as_json: bool) -> None:
    if as_json:
        from stash.services.fits import fits_all

        say_json([answer.as_dict() for answer in fits_all(opened(db))])
        return
    from stash.fit.claims import part_of_design
    from stash.fit.wording import VERDICT_WORDS
    from stash.services.gaps import judge
    from stash.services.uses import models_by_verdict

    store = opened(db)
    catalogue, referee = store.catalogue(), judge(store)
    known = catalogue.model
    rows = []
    for design in catalogue.design.values():
        models, stopped = models_by_verdict(catalogue, referee, part_of_design(design))
        said = [
            f"{VERDICT_WORDS[verdict]}: {_names(known, keys)}"
            for verdict, keys in models.items()
            if verdict != "unknown"
        ]
        if stopped:
            said.append(f"STOP, runs too fast there: {_names(known, stopped)}")
        rows.append((design.key, design.kind, "; ".join(said)))
    click.echo(table(("design", "kind", "fits"), rows))


def _names(known: Mapping[str, Model], keys: Iterable[str]) -> str:
    return ", ".join(known[key].name for key in keys)


@command("check", "stash check R1M3NY\nstash check job-1-kittle-ii --json\nstash check --catalogue")
@click.argument("ref", required=False)
@click.option("--catalogue", is_flag=True, help="Look the catalogue over for contradictions instead.")
@with_store
@with_json
def check(ref: str | None, *, catalogue: bool, db: str | None, as_json: bool) -> None:
    """Say whether a machine, or a build as planned, goes together, and what to do about it.

    REF is a machine's code or a build's key. With --catalogue it says instead what the catalogue contradicts itself in,
    what can never matter, and what nobody has measured. The answer is no (exit 1) when something is dangerous or does
    not go together. A sum is arithmetic, not permission: law and safety are your local rules' and a licensed shop's.
    """
    if catalogue == (ref is not None):
        raise click.UsageError("Name a machine or build by REF, or ask for --catalogue.")
    if ref is None:
        _check_catalogue(db, as_json=as_json)
        return
    from stash.services.checks import check as ask

    answer = ask(opened(db), ref)
    if as_json:
        say_json(answer.as_dict())
    else:
        _say_check(answer)
    if not answer.ok:
        no()


def _check_catalogue(db: str | None, *, as_json: bool) -> None:
    from stash.services.health import health, health_dict

    found = health(opened(db))
    if as_json:
        say_json(health_dict(found))
    elif found:
        rows = [(LEVELS[each.level], f"{each.table} {each.key}", each.text, each.do) for each in found]
        click.echo(table(("how bad", "where", "what", "do"), rows))
    else:
        click.echo("Nothing to mend.")
    if any(each.level == "wrong" for each in found):
        no()


LEVELS = {"stop": "STOP", "wrong": "wrong", "ask": "find out", "note": "note"}
"""How bad a finding is, as it is said."""


def _say_check(answer: Check) -> None:
    rows = [(LEVELS[found.level], found.position, found.text, found.do) for found in answer.findings]
    if rows:
        click.echo(table(("how bad", "where", "what", "do"), rows))
    if answer.sums:
        sums = [
            (name.replace("_", " "), values["now"], values["stock"], values["unit"], values.get("note", ""))
            for name, values in answer.sums.items()
        ]
        click.echo("\n" + table(("sum", "now", "from the factory", "unit", "note"), sums))
    open_ends = any(found.level == "ask" for found in answer.findings)
    if not answer.ok:
        click.echo("\nIt is not right: see above.")
    else:
        click.echo(
            "\nNothing is known to be wrong; some things are to be found out." if open_ends else "It goes together."
        )


def say_fits(answer: FitsAnswer, *, full: bool = False) -> None:
    """Print what a part fits: models, then machines, those that are answered alike in one row.

    Args:
        answer: The answer.
        full: Every reason whole, instead of its beginning.
    """
    click.echo(_title(answer))
    models = [(_model(fit, answer.fits), fit) for fit in answer.fits if _worth_saying(fit)]
    machines = [(_machine(fit), fit) for fit in answer.machines if _worth_saying(fit)]
    for title, rows in (("models", models), ("your machines", machines)):
        if rows:
            click.echo("\n" + table(("verdict", title, "where", "why"), _alike(rows, answer, full=full)))
    if not models and not machines:
        click.echo("\nNothing is known about what it fits. Measure it, or note what the bench says.")


def _alike(rows: Iterable[tuple[str, Fit]], answer: FitsAnswer, *, full: bool) -> list[tuple[str, str, str, str]]:
    """Rows with best verdicts first; names with the same verdict for the same reason stand together."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for name, fit in _best_first(rows):
        verdict, why = _said(fit, answer, full=full)
        groups.setdefault((verdict, fit.position, why), []).append(name)
    return [(verdict, ", ".join(names), position, why) for (verdict, position, why), names in groups.items()]


def _model(fit: Fit, fits: Iterable[Fit]) -> str:
    """The model's name, with the years where they decide."""
    name = fit.model.name
    eras = sum(other.model is fit.model and other.position == fit.position for other in fits)
    return f"{name} {years(fit.finding.years.from_year, fit.finding.years.to_year)}" if eras > 1 else name


def _machine(fit: Fit) -> str:
    """The machine's code and what it is."""
    if fit.machine is None:
        return fit.model.name
    year = f" {fit.machine.year}" if fit.machine.year else ""
    return f"{fit.machine.code} ({fit.model.name}{year})"


def _worth_saying(fit: Fit) -> bool:
    return bool(fit.verdict != "unknown" or fit.finding.heard or fit.finding.open)


def _title(answer: FitsAnswer) -> str:
    from stash.fit.wording import design_name

    part = answer.part
    unknown = "not identified" if part.lot else "by its sizes; no design on record"
    name = design_name(answer.catalogue, part.design) if part.design else unknown
    key = f" ({part.design})" if part.design and name != part.design else ""
    return f"{part.kind}: {name}{key}" + (f", lot {part.lot}" if part.lot else "")


def _best_first(rows: Iterable[tuple[str, Fit]]) -> list[tuple[str, Fit]]:
    from stash.kernel.tables import VERDICTS

    return sorted(rows, key=lambda row: VERDICTS.index(row[1].verdict))


def _said(fit: Fit, answer: FitsAnswer, *, full: bool) -> tuple[str, str]:
    """The verdict and why, in words."""
    from stash.fit.wording import EVIDENCE_WORDS, VERDICT_WORDS

    finding = fit.finding
    reasons = [f"STOP: {fit.danger}"] if fit.danger else []
    reasons += [
        f"{_reason(claim, full=full)} ({EVIDENCE_WORDS.get(claim.evidence, claim.evidence)})"
        for claim in finding.counting
    ]
    reasons += [f"also {_companion(each, answer)}" for each in fit.companions]
    if finding.work:
        reasons.append(f"work: {finding.work}" + (f", {finding.minutes} min" if finding.minutes else ""))
    if fit.settle:
        reasons.append(_to_find_out(fit, answer, full=full))
    if finding.note:
        reasons.append(finding.note)
    return VERDICT_WORDS[finding.verdict], "; ".join(dict.fromkeys(reasons))


def _reason(claim: Claim, *, full: bool) -> str:
    """Why; without ``full`` the first of several sizes that meet, and how many more there are."""
    reason = claim.reason or claim.source or "no reason given"
    first, *more = reason.split("; ")
    return reason if full or not more else f"{first}, and {len(more)} more"


def _to_find_out(fit: Fit, answer: FitsAnswer, *, full: bool) -> str:
    """What to find out, most telling first; without ``full`` the first few."""
    from stash.fit.wording import measurement_sentence

    shown = fit.settle[: None if full else _ASKED]
    said = ", then ".join(measurement_sentence(answer.catalogue, answer.part, each) for each in shown)
    more = f", and {len(fit.settle) - len(shown)} more" if len(fit.settle) > len(shown) else ""
    why = "before you trust it, find out" if fit.verdict == "with_companions" else "to settle it, find out"
    return f"{why}: {said}{more}"


def _companion(companion: Companion, answer: FitsAnswer) -> str:
    from stash.fit.wording import design_name

    names = " or ".join(design_name(answer.catalogue, key) for key in companion.designs) or companion.kind
    where = ", ".join(f"{lot.code} in {lot.place}" if lot.place else lot.code for lot in companion.lots[:3])
    return f"{names} ({'in hand: ' + where if where else 'to find'})"
