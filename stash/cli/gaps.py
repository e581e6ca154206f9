"""``gaps``: what is missing, and what the shelf can finish."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

from stash.cli.edge import command, opened, say_json, with_json, with_store
from stash.cli.show import count, table

if TYPE_CHECKING:
    from stash.plan.candidates import Candidate
    from stash.plan.gaps import Gap, Short
    from stash.services.open import Store

_CANDIDATES_SHOWN = 3


@command("gaps", "stash gaps\nstash gaps --json")
@with_store
@with_json
def gaps(*, db: str | None, as_json: bool) -> None:
    """Say what your machines and wanted models are short of, and which loose lots would fill it.

    Each is taken by itself: two of them may want the same part.
    """
    from stash.services.gaps import gap_dict
    from stash.services.gaps import gaps as ask

    store = opened(db)
    found = ask(store)
    if as_json:
        say_json([gap_dict(gap) for gap in found])
    else:
        say_gaps(store, found)


def say_gaps(store: Store, found: Iterable[Gap]) -> None:
    """Print what the shelf can finish, what is one part short, and the rest."""
    from stash.services.gaps import finishable

    sorted_out = finishable(found)
    say_pick_lists(store, sorted_out.complete)
    for title, group in (("One part short", sorted_out.one_short), ("Further away", sorted_out.others)):
        if group:
            rows = [row for gap in group for row in _short_rows(store, gap)]
            click.echo(f"\n{title}\n" + table(("for", "where", "wants", "how many", "candidates"), rows))


def say_pick_lists(store: Store, complete: Iterable[Gap]) -> None:
    """Print what to take from the shelf for each gap it fills whole."""
    rows = [
        (title if first else "", short.position, *_picked(store, short))
        for gap in complete
        for title in [_title(store, gap)]
        for first, short in zip([True, *[False] * len(gap.short)], gap.short, strict=False)
    ]
    if rows:
        click.echo("What the shelf can finish\n" + table(("for", "where", "take", "from"), rows))
    else:
        click.echo("What the shelf can finish: nothing yet.")


def _picked(store: Store, short: Short) -> tuple[str, str]:
    """The lots to take for a position, and where they lie."""
    by_lot = {each.lot: each for each in short.candidates}
    picked = [by_lot[code] for code in short.filled_by]
    names = ", ".join(dict.fromkeys(_name(store, each) for each in picked))
    return names, ", ".join(f"{each.lot}{_place(store, each)}" for each in picked)


def _short_rows(store: Store, gap: Gap) -> Iterable[tuple[str, str, str, int, str]]:
    from stash.services.titles import kind_name

    for index, short in enumerate(gap.short):
        title = "" if index else _title(store, gap)
        kind = kind_name(store.catalogue(), short.kind)
        yield title, short.position, kind, short.quantity, _candidates(store, short)


def _candidates(store: Store, short: Short) -> str:
    from stash.fit.wording import VERDICT_WORDS

    shown = [
        f"{each.lot} {VERDICT_WORDS[each.verdict]}" + (f" ({each.why_not})" if each.why_not else _place(store, each))
        for each in short.candidates[:_CANDIDATES_SHOWN]
    ]
    more = len(short.candidates) - len(shown)
    return "; ".join(shown + ([f"and {count(more, 'more lot')}"] if more else [])) or "none"


def _title(store: Store, gap: Gap) -> str:
    from stash.services.home import gap_title

    title = gap_title(store.catalogue(), store.stock(), gap)
    return title if gap.key.startswith("wanted:") else f"{title} ({gap.machine})"


def _name(store: Store, candidate: Candidate) -> str:
    from stash.services.titles import lot_title

    return lot_title(store.catalogue(), store.stock().lots[candidate.lot])


def _place(store: Store, candidate: Candidate) -> str:
    from stash.services.titles import place_path

    path = place_path(store.stock(), candidate.place)
    return f" in {path}" if path else ""
