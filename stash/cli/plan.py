"""``plan``: which builds can be finished, best over all of them at once."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, no, opened, say_json, with_json, with_store
from stash.cli.show import count, table
from stash.cli.stopping import stoppable

if TYPE_CHECKING:
    from stash.plan.answer import Missing, Plan, PlannedBuild, PlannedPart
    from stash.plan.solve import Progress
    from stash.services.open import Store


@command(
    "plan",
    "stash plan\nstash plan --work --donors --buy\nstash plan --up-to 50 --lists\n"
    "stash plan --what-if work --what-if buy=25\nstash plan --gaps --seconds 30 --json",
)
@click.option("--donors", is_flag=True, help="Donors may be stripped; each costs what it is worth.")
@click.option("--buy", is_flag=True, help="Designs with a price may be bought, within each build's budget.")
@click.option("--up-to", metavar="MONEY", default="", help="As --buy, but at most so much over all builds.")
@click.option("--strip", metavar="CODE", multiple=True, help="This donor may be stripped though the others may not.")
@click.option("--work", is_flag=True, help="Parts that fit only with work, or need work, may be used.")
@click.option("--gaps", is_flag=True, help="Plan every gap too, not the open builds alone.")
@click.option("--seconds", type=click.FloatRange(0.1, 3600), default=10.0, show_default=True, help="Time to think.")
@click.option("--lists", is_flag=True, help="Print what to take on the way along the bins, and what to buy.")
@click.option(
    "--what-if",
    metavar="MORE",
    multiple=True,
    help="Show what more would give: work, donors, buy, buy=MONEY, longer or strip:CODE; may be given several times.",
)
@click.option("--reserve", "keep", is_flag=True, help="Promise every loose part of the plan to its build.")
@with_store
@with_json
def plan(
    *,
    donors: bool,
    buy: bool,
    up_to: str,
    strip: tuple[str, ...],
    work: bool,
    gaps: bool,
    seconds: float,
    lists: bool,
    what_if: tuple[str, ...],
    keep: bool,
    db: str | None,
    as_json: bool,
) -> None:
    """Plan all open builds together, best overall and not first come first served.

    Best means, in this order: the worth of what is completed, money, minutes of work, condition of the parts. It says
    whether that is proven best, or how far at most it can be from it. Ctrl-C stops the thinking and shows the best
    so far. The answer is no (exit 1) when nothing can be completed.
    """
    from stash.cli import plan_more
    from stash.plan.wares import Allowed
    from stash.services.plan_questions import Asked, make, purse_of

    store = opened(db)
    told = _progress if sys.stderr.isatty() else None
    purse = purse_of(up_to)
    allowed = Allowed(donors, buy or purse is not None, work, plan_more.donors_of(store, strip), purse)
    with stoppable() as stopped:
        made = make(store, Asked(allowed, gaps, seconds), progress=told, cancelled=stopped)
        more = plan_more.asked(store, made, what_if, stopped)
    if as_json:
        say_json(plan_more.as_dict(made, more))
    elif made.plan.builds:
        _say_plan(store, made.plan)
        plan_more.say(made, more, lists=lists)
    else:
        click.echo("There is no open build to plan. `stash plan --gaps` plans what your machines are short of.")
    if keep:
        plan_more.keep(store, made)
    if not made.plan.completed:
        no()


def _progress(step: Progress) -> None:
    """Overwrite one line on the terminal; a person waits, a program does not look."""
    click.echo(f"\r\033[K{step.goal}: {step.best}, at best {step.bound} ", err=True, nl=False)


def _say_plan(store: Store, made: Plan) -> None:
    if sys.stderr.isatty():
        click.echo("\r\033[K", err=True, nl=False)
    say_completed(store, made)
    _say_unfinished(store, [build for build in made.builds if not build.complete])
    for note in made.donors:
        click.echo(f"\nDonor {note.machine}: {note.why}")
    if made.best_arrival:
        arrival = made.best_arrival
        name = _design(store, arrival.design)
        click.echo(
            f"\nOne thing to look out for: {arrival.quantity} x {name}. It completes {', '.join(arrival.completes)}."
        )
    if made.surplus:
        click.echo(f"\n{count(len(made.surplus), 'lot')} that nothing here needs; --json lists them.")


def _in_short(made: Plan) -> str:
    from stash.plan.answer import major, units

    done = len(made.completed)
    lines = [f"Completes {done} of {count(len(made.builds), 'build')}, worth {units(made.value_u)}."]
    if made.money_minor or made.minutes:
        lines.append(f"It costs {major(made.money_minor):.2f} and {count(made.minutes, 'minute')} of work.")
    if made.status == "optimal":
        lines.append("Proven: nothing better can be done.")
    else:
        open_goals = ", ".join(goal for goal, proven in made.proven if not proven)
        lines.append(f"Not proven best ({open_goals}): at most worth {units(made.bound_u)}. More --seconds may tell.")
    if made.naive_value_u < made.value_u:
        lost = units(made.value_u - made.naive_value_u)
        lines.append(
            f"One after the other in order, {len(made.naive_completed)} would be completed, worth {lost} less."
        )
    return "\n".join(lines)


def say_completed(store: Store, made: Plan) -> None:
    """Print how good the plan is, and what to take from where for each build it completes."""
    click.echo(_in_short(made))
    rows = [
        (_title(store, build) if index == 0 else "", part.position, part.quantity, *_taken(store, part))
        for build in made.builds
        for index, part in enumerate(build.parts)
    ]
    if rows:
        headers = ("build", "where", "how many", "take", "from", "verdict")
        click.echo("\nTo be completed\n" + table(headers, rows))


def _taken(store: Store, part: PlannedPart) -> tuple[str, str, str]:
    """What to take, where from, and by what verdict it goes in."""
    from stash.fit.wording import VERDICT_WORDS
    from stash.plan.answer import major
    from stash.services.titles import place_path

    if part.lot:
        path = place_path(store.stock(), part.place)
        source = f"{part.lot} in {path}" if path else part.lot
    elif part.donor:
        source = f"donor {part.donor}" + (", nobody has looked yet" if part.assumed else "")
    else:
        source = f"buy, {major(part.price_minor):.2f}"
    verdict = VERDICT_WORDS.get(part.verdict, part.verdict)
    return _design(store, part.design), source, f"{verdict}; {part.flag}" if part.flag else verdict


def _say_unfinished(store: Store, builds: list[PlannedBuild]) -> None:
    rows = [
        (_title(store, build) if index == 0 else "", *row)
        for build in builds
        for index, row in enumerate(_lacks(build))
    ]
    if rows:
        click.echo("\nNot to be completed\n" + table(("build", "still missing", "how many", "why"), rows))


def _lacks(build: PlannedBuild) -> list[tuple[str, int | str, str]]:
    refused = [(position, "", f"your decision can't be followed: {why}") for position, why in build.refused]
    return [*refused, *((each.position, each.quantity, _why(each)) for each in build.missing)] or [("", "", "")]


def _why(missing: Missing) -> str:
    looks = [f"{lot}: {why_not}" for lot, why_not in missing.look_at]
    return "; ".join([missing.why, *looks])


def _title(store: Store, build: PlannedBuild) -> str:
    from stash.services.titles import machine_title, model_title

    stock = store.stock()
    if build.build in stock.builds:
        return f"{stock.builds[build.build].name} ({build.build})"
    machine = stock.machines.get(build.machine or "")
    title = machine_title(store.catalogue(), machine) if machine else model_title(store.catalogue(), build.model)
    return f"{title} ({build.machine or 'wanted'})"


def _design(store: Store, key: str) -> str:
    from stash.fit.wording import design_name

    return design_name(store.catalogue(), key) if key else "not identified"
