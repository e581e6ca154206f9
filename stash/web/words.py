"""How screens say things: the words people see for the words the tables use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from flask import Flask

from stash.fit.wording import EVIDENCE_WORDS, VERDICT_BRIEF, VERDICT_WORDS
from stash.kernel.codes import grouped
from stash.kernel.exact import decimal_text, from_micro, money_text
from stash.kernel.tables import TABLE_BY_NAME
from stash.key.taking import TAKINGS
from stash.services.titles import counted, how_many

TABLE_TITLES = {
    "makers": ("maker", "Makers"),
    "families": ("family", "Families"),
    "generations": ("generation", "Generations"),
    "models": ("model", "Models"),
    "kinds": ("kind", "Kinds of part"),
    "measures": ("measure", "Measures and tells"),
    "designs": ("design", "Designs"),
    "design_measures": ("measured value", "What designs measure"),
    "numbers": ("part number", "Part numbers"),
    "positions": ("position", "Positions"),
    "came_on": ("stock line", "Stock sheets"),
    "mates": ("mate", "Mates"),
    "rules": ("rule", "Rules"),
    "places": ("place", "Bins"),
    "machines": ("machine", "Machines"),
    "fitted": ("fitted part", "As-built sheets"),
    "fitted_measures": ("measured value", "What fitted parts measure"),
    "lots": ("lot", "Loose parts"),
    "lot_measures": ("measured value", "What lots measure"),
    "wanted": ("wanted model", "Wanted"),
    "law_lines": ("line by law", "Lines by law"),
    "builds": ("build", "Builds"),
    "build_parts": ("decided part", "Parts decided for builds"),
}
"""``{table: (one of them, all of them)}``."""

_WORDS = {
    **VERDICT_WORDS,
    "yes_no": "yes or no",
    "needs_work": "needs work",
    "model": "model",
}
_UNITS = {"mm": "mm", "rpm": "rpm", "s": "s", "g": "g", "cm3": "cm³"}
_LABELS = {"about": "only about so many", "number_seen": "number stamped on it"}
"""Columns whose name alone does not say what is meant."""


def words(key: object) -> str:
    """Say a word of the tables as people read it: ``needs_work`` is "needs work"."""
    text = "" if key is None else str(key)
    return _WORDS.get(text, text.replace("_", " "))


def brief(verdict: str) -> str:
    """Say a verdict in the few letters a chart's cell has room for."""
    return VERDICT_BRIEF.get(verdict, verdict)


_OUTCOMES = {"holds": "agrees", "breaks": "does not go", "open": "not known yet"}


def outcome(key: str) -> str:
    """Say how a mate stands."""
    return _OUTCOMES[key]


def condition(key: str) -> str:
    """Say a condition so that it stands alone: nobody looked is "condition unknown"."""
    return "condition unknown" if key == "unknown" else words(key)


def label(column: str) -> str:
    """Say a column's name as a form does: ``bore_mm`` is "bore (mm)"."""
    stem, _, unit = column.rpartition("_")
    if column in _LABELS:
        return _LABELS[column]
    if stem and unit in _UNITS:
        return f"{stem.replace('_', ' ')} ({_UNITS[unit]})"
    return column.replace("_", " ")


def one_of(table: str) -> str:
    """What one row of a table is called."""
    return TABLE_TITLES[table][0] if table in TABLE_BY_NAME else words(table)


def all_of(table: str) -> str:
    """What a table is called."""
    return TABLE_TITLES[table][1] if table in TABLE_BY_NAME else words(table)


def money(minor: int | None) -> str:
    """An amount in minor units as people write it; empty for none."""
    return "" if minor is None else money_text(minor)


def exact(value: Decimal | int | None) -> str:
    """A decimal, or an integer in millionths, without trailing zeros; empty for none."""
    if value is None:
        return ""
    return decimal_text(value if isinstance(value, Decimal) else from_micro(value))


def rounded(value: float | None) -> str:
    """A sum to two decimals, without trailing zeros; empty for none."""
    return "" if value is None else f"{value:.2f}".rstrip("0").rstrip(".")


def figure(value: float | None) -> str:
    """A result of a sum: two decimals, four figures below one; empty for none."""
    if value is None:
        return ""
    text = f"{value:.2f}" if abs(value) >= 1 or not value else f"{value:.4f}"
    return text.rstrip("0").rstrip(".") or "0"


def moment(when: dt.datetime | dt.date | str | None) -> str:
    """A time to the minute, a date as it is."""
    if isinstance(when, dt.datetime):
        return when.strftime("%Y-%m-%d %H:%M")
    return "" if when is None else str(when)[:16].replace("T", " ")


def listed(items: Iterable[object]) -> str:
    """Items as a sentence lists them: ``a, b and c``."""
    texts = [str(item) for item in items]
    return " and ".join([", ".join(texts[:-1]), texts[-1]]) if len(texts) > 1 else "".join(texts)


def teach(app: Flask) -> None:
    """Give the templates these words as filters."""
    app.jinja_env.filters.update(
        words=words,
        brief=brief,
        outcome=outcome,
        condition=condition,
        label=label,
        one_of=one_of,
        all_of=all_of,
        money=money,
        exact=exact,
        rounded=rounded,
        figure=figure,
        taking=TAKINGS.get,
        moment=moment,
        counted=counted,
        listed=listed,
        code=grouped,
        how_many=how_many,
        evidence=lambda key: EVIDENCE_WORDS.get(str(key), words(key)),
    )
