"""Looking through the texts of ``findable`` for words: by trigrams where there is an index of them, else one by one.

On SQLite the index is an FTS5 table that triggers keep beside the texts, on PostgreSQL a GIN index; migration 0008
makes either. An SQLite without FTS5 has none, nor has a server where nobody may create the extension: ``has_index``
says so.

Source: SQLite, FTS5 extension, 4.3.4 trigram tokenizer and 4.4.3 external content tables; PostgreSQL manual, F.35
pg_trgm.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, text
from sqlalchemy.orm import Session

from stash.db.findable import first_id

TRIGRAMS = "findable_trigrams"
INDEX = "ix_findable_trigrams"
SHORTEST = 3
"""Characters a word needs to be found by trigrams."""
_LOTS = first_id("lot")

Hit = tuple[str, str]
"""``(type, key)``."""


def is_ours(name: object) -> bool:
    """Whether a table or index belongs to the index of trigrams, which mapped classes know nothing of."""
    return str(name or "").startswith((TRIGRAMS, INDEX))


def has_index(connection: Connection) -> bool:
    """Whether there is an index of trigrams."""
    if connection.dialect.name == "sqlite":
        query, name = "SELECT 1 FROM sqlite_master WHERE name = :name", TRIGRAMS
    else:
        query, name = "SELECT 1 FROM pg_indexes WHERE indexname = :name AND schemaname = current_schema()", INDEX
    return connection.execute(text(query), {"name": name}).scalar() is not None


def matching(session: Session, words: Sequence[str], most: int, *, indexed: bool) -> list[Hit]:
    """Return things whose text holds all of some words.

    Args:
        session: An open transaction.
        words: Folded words, at least one.
        most: How many at most.
        indexed: Whether there is an index of trigrams.

    Returns:
        Hits in the order of their ids, machines first and lots last. On PostgreSQL, where there are more than
        ``most`` lots, they are any of these.
    """
    return [(row.type, row.key) for each in _queries(session, words, most, indexed=indexed) for row in each]


def _queries(session: Session, words: Sequence[str], most: int, *, indexed: bool) -> Any:
    left = most
    for statement, values in statements(session.connection().dialect.name, words, indexed=indexed):
        rows = session.execute(text(statement), {**values, "most": left}).all()
        left -= len(rows)
        yield sorted(rows, key=lambda row: row.id)
        if left <= 0:
            return


def statements(dialect: str, words: Sequence[str], *, indexed: bool) -> list[tuple[str, dict[str, Any]]]:
    """Return the queries that find words, each with its values but for ``most``.

    On SQLite one: ids rise as they are found. On PostgreSQL two: what is no lot, in order, and lots without one:
    a planner that is asked for an order of many walks the whole table in it.
    """
    if dialect != "sqlite":
        where, values = _like(words)
        found = f"SELECT id, type, key FROM findable WHERE {where} AND id"  # noqa: S608 - only placeholders
        ranges = ("< :lots ORDER BY id", ">= :lots")
        return [(f"{found} {each} LIMIT :most", {**values, "lots": _LOTS}) for each in ranges]
    long = [word for word in words if len(word) >= SHORTEST] if indexed else []
    where, values = _like([word for word in words if word not in long])
    if not long:
        return [(f"SELECT id, type, key FROM findable WHERE {where} ORDER BY id LIMIT :most", values)]  # noqa: S608
    more = f" AND {where}" if where else ""
    found = (
        "SELECT findable.id, type, key FROM findable_trigrams JOIN findable ON findable.id = findable_trigrams.rowid "  # noqa: S608
        f"WHERE findable_trigrams MATCH :phrase{more} ORDER BY findable_trigrams.rowid LIMIT :most"
    )
    return [(found, {**values, "phrase": " AND ".join(map(_quoted, long))})]


def nearly(session: Session, words: Sequence[str], most: int) -> list[tuple[Hit, str]]:
    """Return things whose text may be nearly what was typed, with their texts; needs the index.

    A text must hold the beginning or the end of each word: one slip leaves either whole.

    Args:
        session: An open transaction.
        words: Folded words; those too short for trigrams are left out.
        most: How many at most.
    """
    ends = [_ends(word) for word in words if len(word) > SHORTEST]
    if not ends:
        return []
    if session.connection().dialect.name == "sqlite":
        query = (
            "SELECT type, key, findable.text FROM findable_trigrams "
            "JOIN findable ON findable.id = findable_trigrams.rowid "
            "WHERE findable_trigrams MATCH :ends ORDER BY findable_trigrams.rowid LIMIT :most"
        )
        values = {"ends": " AND ".join(f"({_quoted(first)} OR {_quoted(last)})" for first, last in ends)}
    else:
        _, values = _like([end for pair in ends for end in pair])
        either = (
            f"(text LIKE :l{at} ESCAPE '!' OR text LIKE :l{at + 1} ESCAPE '!')" for at in range(0, len(values), 2)
        )
        query = f"SELECT type, key, text FROM findable WHERE {' AND '.join(either)} LIMIT :most"  # noqa: S608
    rows = session.execute(text(query), {**values, "most": most})
    return [((row.type, row.key), row.text) for row in rows]


def _like(words: Sequence[str]) -> tuple[str, dict[str, str]]:
    marks = {f"l{at}": f"%{_plain(word)}%" for at, word in enumerate(words)}
    return " AND ".join(f"findable.text LIKE :{name} ESCAPE '!'" for name in marks), marks


def _plain(word: str) -> str:
    """Return a word with what LIKE takes for a pattern made plain."""
    return word.replace("!", "!!").replace("%", "!%").replace("_", "!_")


def _ends(word: str) -> tuple[str, str]:
    """Return the beginning and the end of a word; a slip in its middle touches neither."""
    size = max(SHORTEST, (len(word) - 1) // 2)
    return word[:size], word[-size:]


def _quoted(word: str) -> str:
    """Return a word as one phrase of an FTS5 query."""
    return '"' + word.replace('"', '""') + '"'
