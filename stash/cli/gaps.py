"""``gaps``: what is missing, and what the shelf can finish."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, opened, say_json, with_json, with_store
from stash.cli.show import count, table

if TYPE_CHECKING:
    from stash.plan.candidates import Candidate
    from stash.plan.gaps import Gap, Short
    from stash.services.open import Store

_CANDIDATES_SHOWN = 3


@command("gaps", "stash gaps\nstash gaps --full")
@click.option("--full", is_flag=True, help="Every candidate for every position of what the shelf cannot finish.")
@with_store
@with_json
def gaps(*, full: bool, db: str | None, as_json: bool) -> None:
    """Say what your machines and wanted models are short of, and which loose lots would fill it.

    Each is taken by itself: two of them may want the same part.
    """
    from stash.services.gaps import gaps as ask

    store = opened(db)
    found = ask(store)
    if as_json:
        say_json([gap.as_dict() for gap in found])
    else:
        _say_gaps(store, found, full=full)


def _say_gaps(store: Store, found: Iterable[Gap], *, full: bool) -> None:
    """Print what the shelf can finish, what is one part short, and the rest."""
    from stash.services.gaps import finishable

    sorted_out = finishable(found)
    _say_pick_lists(store, sorted_out.complete)
    headers = ("for", "where", "wants", "how many", "candidates") if full else ("for", "on the shelf", "still short of")
    for title, group in (("One part short", sorted_out.one_short), ("Further away", sorted_out.others)):
        rows = [row for gap, name in _once(store, group) for row in _rows(store, gap, name, full=full)]
        if rows:
            click.echo(f"\n{title}\n" + table(headers, rows))


def _rows(store: Store, gap: Gap, name: str, *, full: bool) -> Iterable[tuple[str | int, ...]]:
    if full:
        return _short_rows(store, gap, name)
    short = {each.position: each for each in gap.short}
    lacking = [_lacking(short[position], quantity) for position, quantity in gap.still_short]
    return [(name, f"{len(short) - len(lacking)} of {len(short)} positions", "; ".join(lacking))]


def _lacking(short: Short, quantity: int) -> str:
    """A position that stays short, with the nearest thing to filling it."""
    where = f"{quantity} x {short.position}" if quantity > 1 else short.position
    nearest = next((each for each in short.candidates if each.why_not), None)
    return f"{where} ({nearest.lot}: {nearest.why_not.partition(':')[0]})" if nearest else where


def _say_pick_lists(store: Store, complete: Iterable[Gap]) -> None:
    rows = [
        ("" if index else name, short.position, *_picked(store, short))
        for gap, name in _once(store, complete)
        for index, short in enumerate(gap.short)
    ]
    if rows:
        click.echo("What the shelf can finish\n" + table(("for", "where", "how many", "take", "from"), rows))
    else:
        click.echo("What the shelf can finish: nothing yet.")


def _once(store: Store, group: Iterable[Gap]) -> Iterator[tuple[Gap, str]]:
    """Gaps with their names; a wanted model whose best example is in the list as a machine stands there only."""
    from stash.services.home import gap_title

    gaps = list(group)
    wanted = {gap.machine for gap in gaps if gap.key.startswith("wanted:")}
    machines = {gap.machine for gap in gaps if not gap.key.startswith("wanted:")}
    for gap in gaps:
        title = gap_title(store.catalogue(), store.stock(), gap)
        if not gap.key.startswith("wanted:"):
            yield gap, f"{title} ({gap.machine}{', wanted' if gap.machine in wanted else ''})"
        elif gap.machine not in machines:
            yield gap, title


def _picked(store: Store, short: Short) -> tuple[int, str, str]:
    """How many to take for a position, what they are, and where they lie."""
    by_lot = {each.lot: each for each in short.candidates}
    picked = [by_lot[code] for code in short.filled_by]
    names = ", ".join(dict.fromkeys(_name(store, each) for each in picked))
    return short.quantity, names, ", ".join(f"{each.lot}{_place(store, each)}" for each in picked)


def _short_rows(store: Store, gap: Gap, name: str) -> Iterable[tuple[str, str, str, int, str]]:
    from stash.services.titles import kind_name

    for index, short in enumerate(gap.short):
        kind = kind_name(store.catalogue(), short.kind)
        yield "" if index else name, short.position, kind, short.quantity, _candidates(store, short)


def _candidates(store: Store, short: Short) -> str:
    from stash.fit.wording import VERDICT_WORDS

    shown = [
        f"{each.lot} {VERDICT_WORDS[each.verdict]}" + (f" ({each.why_not})" if each.why_not else _place(store, each))
        for each in short.candidates[:_CANDIDATES_SHOWN]
    ]
    more = len(short.candidates) - len(shown)
    return "; ".join(shown + ([f"and {count(more, 'more lot')}"] if more else [])) or "none"


def _name(store: Store, candidate: Candidate) -> str:
    from stash.services.titles import lot_title

    return lot_title(store.catalogue(), store.stock().lots[candidate.lot])


def _place(store: Store, candidate: Candidate) -> str:
    from stash.services.titles import place_path

    path = place_path(store.stock(), candidate.place)
    return f" in {path}" if path else ""
