"""Knowledge shared between people: rules, mates and designs with all they lean on, as a zip of tables.

A bundle holds catalogue rows only: nothing of what somebody owns. Whoever takes one in sees first what it adds, where
it contradicts what is known here, and which verdicts would change; whose word each claim is stays with it.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stash.db.rows import CATALOGUE_TABLES
from stash.db.store import Store
from stash.errors import InvalidInput
from stash.exchange import RawTables
from stash.exchange.csv_text import render as render_csv
from stash.exchange.zips import opened, read_zip
from stash.kernel.tables import TABLES
from stash.services.bundle_merge import CLAIMS, Claim, Contradiction, Picked, catalogue_rows, merged_with_ours
from stash.services.bundle_needs import needed
from stash.services.bundle_verdicts import Changed, Comparison, changed_verdicts
from stash.services.handling import Done
from stash.services.tables import load

__all__ = ["Bundle", "Changed", "Claim", "Contradiction", "Pick", "Picked", "bundle", "compare", "take"]

_ABOUT = "about.json"
_FORMAT = 1
_FIXED = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class Pick:
    """What goes into a bundle; all empty for the whole catalogue.

    Args:
        families: Family keys: everything about their models.
        kinds: Kind keys: everything about such parts.
        designs: Design keys.
        rules: Rule keys.
        mates: Mate keys.
    """

    families: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    designs: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    mates: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Bundle:
    """What taking a bundle in would do.

    Args:
        name: The file's name.
        by: Who made it, as it says itself.
        made: When.
        adds: ``{table: rows it adds}``.
        contradictions: Rows that are here too and differ.
        verdicts: Verdicts that would change.
        same: How many of its rows are here already.
        unsure: More verdicts than are compared at once; those listed are not all.
        claims: The rules and mates it adds, each with whose word it is.
    """

    name: str
    by: str
    made: str
    adds: Mapping[str, int] = field(default_factory=dict)
    contradictions: tuple[Contradiction, ...] = ()
    verdicts: tuple[Changed, ...] = ()
    same: int = 0
    unsure: bool = False
    claims: tuple[Claim, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The bundle as plain data for JSON."""
        from dataclasses import asdict

        return asdict(self)


def bundle(store: Store, pick: Pick, *, by: str, now: dt.datetime) -> bytes:
    """Make a bundle.

    Args:
        store: The database.
        pick: What goes in; what it leans on comes along.
        by: Who makes it; the source of claims that name none.
        now: The moment, written into it.

    Returns:
        A zip of CSV files.

    Raises:
        InvalidInput: A key of the pick is not in the catalogue.
    """
    tables = catalogue_rows(store)
    chosen = needed(tables, pick.families, pick.kinds, pick.designs, pick.rules, pick.mates)
    about = {"format": _FORMAT, "by": by, "made": now.date().isoformat()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr(zipfile.ZipInfo(_ABOUT, _FIXED), json.dumps(about, ensure_ascii=False, indent=1))
        for table in TABLES:
            rows = [_shared(table.name, row, by) for row in chosen.get(table.name, ())]
            if rows:
                data = render_csv(table.names, [[row[name] for name in table.names] for row in rows])
                zipped.writestr(zipfile.ZipInfo(f"{table.name}.csv", _FIXED), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def compare(store: Store, name: str, data: bytes, picked: Picked) -> Bundle:
    """Say what taking a bundle in would do; nothing is written.

    Args:
        store: The database.
        name: The file's name.
        data: Its bytes.
        picked: How it would be taken in.

    Raises:
        InvalidInput: It is no bundle, or its rows can't be loaded; carries every problem.
    """
    about, theirs = _read(name, data)
    merged = merged_with_ours(store, theirs, picked)
    report = load(store, merged.tables, picked.whose or "bundle", dry_run=True)
    if report.errors:
        raise InvalidInput(f"{name} does not go with this catalogue", "Nothing was written.", report.errors)
    news = any(counts.added or counts.changed for counts in report.tables.values())
    verdicts = changed_verdicts(store, merged.tables) if news else Comparison((), unsure=False)
    adds = {table: counts.added for table, counts in report.tables.items() if counts.added}
    same = sum(counts.same for counts in report.tables.values())
    return Bundle(
        name,
        str(about.get("by", "")),
        str(about.get("made", "")),
        adds,
        tuple(merged.contradictions),
        verdicts.changed,
        same,
        verdicts.unsure,
        tuple(merged.claims),
    )


def take(store: Store, name: str, data: bytes, picked: Picked, who: str) -> Done:
    """Take a bundle in, in one batch.

    Args:
        store: The database.
        name: The file's name.
        data: Its bytes.
        picked: How.
        who: Who does it.

    Raises:
        InvalidInput: It is no bundle, or its rows can't be loaded; nothing was written.
    """
    _, theirs = _read(name, data)
    report = load(store, merged_with_ours(store, theirs, picked).tables, who, why=f"took in {name} from {picked.whose}")
    if report.errors:
        raise InvalidInput(f"{name} does not go with this catalogue", "Nothing was written.", report.errors)
    added = sum(counts.added for counts in report.tables.values())
    changed = sum(counts.changed for counts in report.tables.values())
    return Done(report.batch, f"{added} rows new, {changed} changed.")


def _shared(table: str, row: Mapping[str, str], by: str) -> dict[str, str]:
    """Return a row as others may have it: no machine of ours, and a source where it is somebody's word."""
    shared = dict(row)
    if table == "rules":
        shared["machine"] = ""
    if table in CLAIMS and not shared["source"]:
        shared["source"] = by
    return shared


def _read(name: str, data: bytes) -> tuple[dict[str, Any], RawTables]:
    if data[:4] != b"PK\x03\x04":
        raise InvalidInput(f"{name} is no bundle", "Give the zip that was made to be shared.")
    with opened(name, data) as zipped:
        names = zipped.namelist()
        try:
            about = json.loads(zipped.read(_ABOUT)) if _ABOUT in names else {}
        except ValueError:
            about = None
    if not isinstance(about, dict) or (about and about.get("format") != _FORMAT):
        raise InvalidInput(f"{name} is no bundle of a kind we know", "It may come from a newer version; update first.")
    tables = read_zip(name, data)
    strange = sorted(set(tables) - CATALOGUE_TABLES)
    if strange:
        raise InvalidInput(
            f"{name} holds {strange[0]}, which is no shared knowledge", "Load whole tables with `stash load` instead."
        )
    return about, tables
