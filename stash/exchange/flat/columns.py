"""What each column of a flat sheet is: by its header, by words for it, and by what stands in it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from rapidfuzz import fuzz, process

from stash.exchange.flat.files import Grid
from stash.exchange.flat.vocabulary import header_words, plain
from stash.kernel.codes import parse_code

FIELDS: dict[str, str] = {
    "row": "our mark of the row, from a sheet of rejects",
    "code": "our code of the lot",
    "place": "where it lies",
    "what": "what it is",
    "kind": "its kind",
    "design": "our design's key or name",
    "number": "the part number on it",
    "maker": "whose part number that is",
    "quantity": "how many",
    "condition": "what shape it is in",
    "machine": "what it came off",
    "size": "what was measured",
    "paid": "what was paid",
    "date": "when it was bought",
    "note": "remarks",
}
"""``{field: what it means}``: what a column of a flat sheet can be taken for."""
MANY = "note"
"""The one field that several columns may share; each but a plain remark says its header before it."""
LEFT_OUT = "-"
"""What a column is that is not to be read at all."""
REASON, CODE, ROW = "why it needs a look", "stash code", "stash row"
"""Headers of the columns a sheet of rejects has more than the sheet it came from."""

_CLOSE = 86
"""How alike a header must be to a word, of 100. Source: project decision."""
_SHARE = 0.6
"""How many of a column's cells must look like something to be taken for it. Source: project decision."""
_SAMPLE = 200
_SHORT = 3
"""Shorter headers are like too many words."""


@dataclass(frozen=True, slots=True)
class Guess:
    """What one column is taken for.

    Args:
        at: Its place in the sheet, from 0.
        header: Its header.
        field: One of ``FIELDS``, or ``LEFT_OUT``.
        why: ``name`` (its header says so), ``like`` (nearly), ``content``, ``chosen``, ``remembered``, or "" where
            nothing told and it is kept as a remark.
        samples: Its first few different texts.
    """

    at: int
    header: str
    field: str
    why: str
    samples: tuple[str, ...]


def fingerprint(header: Sequence[str]) -> str:
    """Return what a sheet's headers are remembered by; order counts, case and accents don't, nor our own columns."""
    own = {plain(REASON), plain(CODE), plain(ROW)}
    names = [name for name in (plain(each) or "?" for each in header) if name not in own]
    return hashlib.sha256("\n".join(names).encode()).hexdigest()[:32]


def name_columns(header: Sequence[str]) -> tuple[str, ...]:
    """Return names for columns, each once: the plain header, and a count where it stands there again."""
    seen: dict[str, int] = {}
    names = []
    for each in header:
        name = plain(each)
        seen[name] = seen.get(name, 0) + 1
        names.append(name if seen[name] == 1 else f"{name} {seen[name]}")
    return tuple(names)


def guess_columns(
    grid: Grid, chosen: Mapping[int, str] | None = None, remembered: Mapping[str, str] | None = None
) -> tuple[Guess, ...]:
    """Guess what each column is; a field is given to one column only, the surest, but for remarks.

    Args:
        grid: The sheet.
        chosen: ``{place: field}`` as the person says; wins.
        remembered: ``{column name: field}`` of the same sheet before.

    Returns:
        One guess for each column, in order. What nothing is known of becomes a remark, so that no cell is lost.
    """
    columns = [[row[at] for _, row in grid.rows[:_SAMPLE] if row[at]] for at in range(len(grid.header))]
    names = name_columns(grid.header)
    found: dict[int, tuple[str, str]] = {}
    ways: tuple[tuple[str, Callable[[int], str]], ...] = (
        ("chosen", lambda at: (chosen or {}).get(at, "")),
        ("remembered", lambda at: (remembered or {}).get(names[at], "")),
        ("name", lambda at: _by_name(grid.header[at])),
        ("like", lambda at: _by_likeness(grid.header[at])),
        ("content", lambda at: _by_content(columns[at])),
    )
    for why, judge in ways:
        for at in range(len(grid.header)):
            field = judge(at) if at not in found else ""
            free = field in {MANY, LEFT_OUT} or field not in {each for each, _ in found.values()}
            if field and free:
                found[at] = (field, why)
    return tuple(
        Guess(at, header, *found.get(at, (MANY if columns[at] else LEFT_OUT, "")), _samples(columns[at]))
        for at, header in enumerate(grid.header)
    )


def _samples(texts: Sequence[str]) -> tuple[str, ...]:
    return tuple(text[:80] for text in dict.fromkeys(texts))[:4]


@cache
def _plain_words() -> dict[str, str]:
    known: dict[str, str] = {}
    for field, words in header_words().items():
        for word in words:
            known.setdefault(plain(word), field)
    known[plain(REASON)] = LEFT_OUT
    known[plain(ROW)] = "row"
    return known


def _bare(header: str) -> str:
    return plain(re.sub(r"[(\[].*?[)\]]", " ", header))  # units stand in brackets


def _by_name(header: str) -> str:
    return _plain_words().get(_bare(header), "")


def _by_likeness(header: str) -> str:
    bare = _bare(header)
    if len(bare) < _SHORT:
        return ""
    best = process.extractOne(bare, _plain_words().keys(), scorer=fuzz.token_sort_ratio, score_cutoff=_CLOSE)
    return _plain_words()[best[0]] if best else ""


_DATE = re.compile(r"\d{1,2}[./-]\d{1,2}[./-]\d{2,4}\Z|\d{4}-\d{2}-\d{2}\Z")
_NUMBER = re.compile(r"(?=.*\d)(?=.*[-./\u00b7 ])[A-Z0-9][A-Z0-9./\u00b7 -]{4,}\Z")
_COUNT = re.compile(r"\d{1,3}( ?(x|pcs|st\.?))?\Z", re.IGNORECASE)

_LOOKS: tuple[tuple[str, Callable[[str], bool]], ...] = (
    ("code", lambda text: parse_code(text) is not None and text in {text.upper(), text.lower()}),
    ("date", lambda text: _DATE.match(text) is not None),
    ("number", lambda text: _NUMBER.match(text) is not None),
    ("quantity", lambda text: _COUNT.match(text) is not None),
)


def _by_content(texts: Sequence[str]) -> str:
    if not texts:
        return ""
    for field, looks in _LOOKS:
        if sum(looks(text) for text in texts) >= _SHARE * len(texts):
            return field
    return ""
