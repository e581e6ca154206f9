"""Their rows beside ours: what is new, what contradicts, and two claims kept where two people disagree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stash.db.rows import CATALOGUE_TABLES
from stash.db.store import Store
from stash.exchange import RawTable, RawTables
from stash.exchange.flat.vocabulary import plain
from stash.fit.wording import VERDICT_WORDS
from stash.kernel.tables import TABLE_BY_NAME
from stash.services.tables import export

CLAIMS = ("rules", "mates")
"""The tables whose rows are somebody's word: they have a source and evidence."""
_WORD = {"source", "evidence"}
_SEPARATE = "--"
"""What stands between a rule's key and whose it is, where both sides have a rule of that key."""
Rows = list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A row that is here and in the bundle, and not the same.

    Args:
        table: Its table.
        key: What tells the row, for reading.
        column: Where they differ.
        here: What stands here.
        there: What stands in the bundle.
        kept: What taking it in keeps: ``here``, ``there``, or ``both`` (two claims, each with its source).
    """

    table: str
    key: str
    column: str
    here: str
    there: str
    kept: str


@dataclass(frozen=True, slots=True)
class Claim:
    """A rule or mate the bundle adds.

    Args:
        table: ``rules`` or ``mates``.
        key: Its key, as it would stand here.
        said: What it says: the part, the verdict, the target; or the two measures that must agree.
        reason: Why, in its author's words.
        evidence: How it is known, ``bench``, ``book``, ``measured`` or ``word``.
        source: Whose word it is.
    """

    table: str
    key: str
    said: str
    reason: str
    evidence: str
    source: str


@dataclass(frozen=True, slots=True)
class Picked:
    """How a bundle is taken in.

    Args:
        whose: Who it is from; the source of claims that name none.
        theirs: ``table`` names where their row replaces ours when both have it and differ.
        hearsay: Their claims count as heard (``word``), whatever evidence they name.
    """

    whose: str
    theirs: tuple[str, ...] = ()
    hearsay: bool = False


def catalogue_rows(store: Store) -> dict[str, Rows]:
    """Return ``{table: rows as {column: cell text}}`` of the catalogue."""
    return {
        name: [dict(zip(TABLE_BY_NAME[name].names, row, strict=True)) for row in rows]
        for name, rows in export(store).items()
        if name in CATALOGUE_TABLES
    }


@dataclass(slots=True)
class Merged:
    """Their rows as they would be loaded, where they contradict ours, and the claims among them that are new."""

    tables: RawTables
    contradictions: list[Contradiction]
    claims: list[Claim]


def merged_with_ours(store: Store, theirs: RawTables, picked: Picked) -> Merged:
    """Return their rows as they would be loaded: ours kept, or theirs, or two claims beside each other."""
    ours = catalogue_rows(store)
    merged = Merged({}, [], [])
    for name, raw in theirs.items():
        table = TABLE_BY_NAME[name]
        known = {tuple(row[each] for each in table.identity): row for row in ours[name]}
        rows: Rows = []
        for _, cells in raw.rows:
            row = {**dict.fromkeys(raw.header, ""), **dict(zip(raw.header, cells, strict=False))}
            identity = tuple(row.get(each, "").strip() for each in table.identity)
            rows += _merged_row(name, _as_told(name, row, picked), known.get(identity), known, picked, merged)
        header = tuple(dict.fromkeys([*raw.header, *(("source",) if name in CLAIMS else ())]))
        merged.tables[name] = RawTable(
            header, [(number, [row.get(each, "") for each in header]) for number, row in enumerate(rows, 1)]
        )
    return merged


def _as_told(table: str, row: dict[str, str], picked: Picked) -> dict[str, str]:
    if table not in CLAIMS:
        return row
    told = {**row, "source": row.get("source", "").strip() or picked.whose}
    if picked.hearsay and told.get("evidence"):
        told["evidence"] = "word"
    return told


def _merged_row(
    table: str,
    row: dict[str, str],
    mine: Mapping[str, str] | None,
    known: Mapping[tuple[str, ...], Mapping[str, str]],
    picked: Picked,
    merged: Merged,
) -> Rows:
    """Return what stands for one of their rows: it, ours, or both where two people's rules disagree."""
    if mine is None:
        merged.claims += _claim(table, row)
        return [row]
    differ = [name for name, text in row.items() if text.strip() != mine.get(name, "") and name != "machine"]
    if table in CLAIMS and (row["source"] == mine["source"] or not mine["source"]) and set(differ) <= _WORD:
        differ = []  # our own claim come back, or one we have from the same person
    if not differ:
        return [dict(mine)]
    said = [name for name in differ if table not in CLAIMS or name not in _WORD]
    key = " ".join(row.get(name, "") for name in TABLE_BY_NAME[table].identity).strip()
    kept = "there" if table in picked.theirs else "both" if table == "rules" else "here"
    merged.contradictions += [
        Contradiction(table, key, name, mine.get(name, ""), row[name].strip(), kept) for name in said
    ]
    if kept != "both":
        return [row] if kept == "there" else [dict(mine)]
    other = {**row, "key": f"{row['key']}{_SEPARATE}{_slug(picked.whose)}"}
    stored = known.get((other["key"],))
    if not stored:
        merged.claims += _claim(table, other)
    return [{**stored, **other} if stored else other]


_PART = ("design", "kind", "part_maker", "part_generation")
_TARGET = ("model", "generation", "family", "maker", "position")


def _claim(table: str, row: Mapping[str, str]) -> list[Claim]:
    """Return a row as a new claim, none where its table holds no claims."""
    if table not in CLAIMS:
        return []
    if table == "rules":
        part, target = (" ".join(filter(None, (row.get(name, "") for name in names))) for names in (_PART, _TARGET))
        verdict = row.get("verdict", "")
        said = f"{part}: {VERDICT_WORDS.get(verdict, verdict)} {target}"
    else:
        ends = (f"{row.get(f'{what}_a', '')} / {row.get(f'{what}_b', '')}" for what in ("kind", "measure"))
        said = f"{row.get('name', '')} ({', '.join(ends)})"
    reason = row.get("reason", "") or row.get("note", "")
    return [Claim(table, row.get("key", ""), said, reason, row.get("evidence", ""), row.get("source", ""))]


def _slug(text: str) -> str:
    return plain(text).replace(" ", "-")[:30] or "another"
