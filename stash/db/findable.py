"""What the one search box looks through: one folded text for each thing, kept by the transaction that changes it.

A thing's text holds the words a person may look for: a lot has its design's name and numbers in it, so a lot's text
changes when its design is renamed. The unit of work tells which rows it wrote; the texts of all things that lean on
those rows are made anew before it ends. What reads the same as before is not written again.

How they are looked through is ``find_rows``'s.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

from sqlalchemy import Connection, bindparam, delete, exists, insert, select, update
from sqlalchemy import Table as SqlTable

from stash.db.models import ROWS, Findable
from stash.kernel.codes import PAYLOAD_LENGTH

BANDS = ("machine", "place", "model", "design", "lot")
"""The types of things, in the order in which hits are told; each has a band of ids."""
_BAND = 2**56
"""Ids in a band. Source: project decision; a key's digest is one of so many, and an id must fit 63 bits."""
_AT_ONCE = 500
_DIGITS = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")

Stale = dict[str, set[str]]
"""``{table: identities of rows that were written}``; of numbers the designs they name."""
_ITSELF = ""
_LEANS: dict[str, tuple[tuple[str, str], ...]] = {
    "machines": (("machine", _ITSELF),),
    "places": (("place", _ITSELF),),
    "lots": (("lot", _ITSELF),),
    "models": (("model", _ITSELF), ("machine", "model")),
    "makers": (("model", "maker"),),
    "designs": (("design", _ITSELF), ("lot", "design")),
    "numbers": (("design", _ITSELF), ("lot", "design")),
    "kinds": (("design", "kind"), ("lot", "kind")),
}
"""``{table: (type, the column by which its things lean on a row of the table)}``: whose texts a row is part of."""
OF = {**dict.fromkeys(_LEANS, "key"), "numbers": "design", **dict.fromkeys(("machines", "places", "lots"), "code")}
"""``{table: the column a stale row is noted by}``."""


def find_id(type_: str, key: str) -> int:
    """Return a thing's id: things of a type lie together, those with codes in the order of their codes."""
    if len(key) == PAYLOAD_LENGTH + 1 and set(key) <= _DIGITS:
        within = int(key, 36)
    else:
        within = int.from_bytes(hashlib.sha256(key.encode()).digest()[:7], "big")
    return (BANDS.index(type_) + 1) * _BAND + within


def first_id(type_: str) -> int:
    """Return the lowest id a thing of a type can have."""
    return (BANDS.index(type_) + 1) * _BAND


def fold(text_: str) -> str:
    """Return a text as it is compared: without case, and with single blanks."""
    return " ".join(text_.casefold().split())


def refresh(connection: Connection, stale: Mapping[str, Iterable[str]]) -> None:
    """Make the texts of all things anew that lean on rows which were written.

    Args:
        connection: The open transaction, after the rows were written.
        stale: See ``Stale``.
    """
    wanted: dict[str, set[str]] = {}
    for table, keys in stale.items():
        for type_, column in _LEANS.get(table, ()):
            leaning = _named_by(connection, f"{type_}s", column, keys) if column else keys
            wanted.setdefault(type_, set()).update(leaning)
    if "makers" in stale:
        wanted.setdefault("machine", set()).update(_named_by(connection, "machines", "model", wanted["model"]))
    for type_, keys in wanted.items():
        _write(connection, type_, sorted(keys))


def rebuild(connection: Connection) -> None:
    """Make every text anew, from nothing."""
    connection.execute(delete(Findable))
    for type_ in BANDS:
        _write(connection, type_, _keys(connection, type_))


def is_bare(connection: Connection) -> bool:
    """Whether there are things and not one text of them, as after an upgrade."""
    if connection.execute(select(exists(select(Findable.id)))).scalar_one():
        return False
    tables = [_sql(f"{type_}s") for type_ in BANDS]
    return any(connection.execute(select(exists(select(table.c.version)))).scalar_one() for table in tables)


def drifted(connection: Connection) -> list[tuple[str, str]]:
    """Return ``(type, key)`` of things whose text is missing, too many or not what it should be, in order."""
    rows = connection.execute(select(Findable.type, Findable.key, Findable.text))
    stored = {(row.type, row.key): row.text for row in rows}
    meant: dict[tuple[str, str], str] = {}
    for type_ in BANDS:
        for some in _batches(_keys(connection, type_)):
            meant |= {(type_, key): said for key, said in _TEXTS[type_](connection, some).items()}
    return sorted(key for key in stored.keys() | meant.keys() if stored.get(key) != meant.get(key))


def _write(connection: Connection, type_: str, keys: Sequence[str]) -> None:
    """Make the texts of some things of a type what they should be; ids rise, as an index likes it."""
    gone: list[int] = []
    new: list[dict[str, Any]] = []
    changed: list[dict[str, Any]] = []
    for some in _batches(keys):
        meant = _TEXTS[type_](connection, some)
        rows = select(Findable.id, Findable.key, Findable.text).where(Findable.type == type_, Findable.key.in_(some))
        stored = {row.key: (row.id, row.text) for row in connection.execute(rows)}
        gone += [stored[key][0] for key in some if key in stored and key not in meant]
        for key, said in meant.items():
            if key not in stored:
                new.append({"id": find_id(type_, key), "type": type_, "key": key, "text": said})
            elif stored[key][1] != said:
                changed.append({"which": stored[key][0], "said": said})
    if gone:
        connection.execute(delete(Findable).where(Findable.id == bindparam("which")), [{"which": id_} for id_ in gone])
    if changed:
        which = update(Findable).where(Findable.id == bindparam("which")).values(text=bindparam("said"))
        connection.execute(which, sorted(changed, key=lambda row: row["which"]))
    if new:
        connection.execute(insert(Findable), sorted(new, key=lambda row: row["id"]))


def _sql(table: str) -> SqlTable:
    sql = ROWS[table].__table__
    assert isinstance(sql, SqlTable)  # noqa: S101 - mapped classes here are whole tables
    return sql


def _keys(connection: Connection, type_: str) -> list[str]:
    sql = _sql(f"{type_}s")
    return sorted(connection.execute(select(sql.c.code if "code" in sql.c else sql.c.key)).scalars())


def _named_by(connection: Connection, table: str, column: str, keys: Iterable[str]) -> Iterator[str]:
    """Yield the keys of a table's rows that name some rows of another."""
    sql = _sql(table)
    key = sql.c.code if "code" in sql.c else sql.c.key
    for some in _batches(sorted(keys)):
        yield from connection.execute(select(key).where(sql.c[column].in_(some))).scalars()


def _batches(keys: Iterable[str]) -> Iterator[list[str]]:
    left = iter(keys)
    while some := list(islice(left, _AT_ONCE)):
        yield some


def _machines(connection: Connection, codes: Sequence[str]) -> dict[str, str]:
    machines, models, makers = _sql("machines"), _sql("models"), _sql("makers")
    joined = machines.join(models, machines.c.model == models.c.key).join(makers, models.c.maker == makers.c.key)
    wanted = (machines.c.code, machines.c.year, machines.c.state, machines.c.serial)
    rows = connection.execute(
        select(*wanted, makers.c.name.label("maker"), models.c.name.label("model"))
        .select_from(joined)
        .where(machines.c.code.in_(codes))
    )
    said = {
        row.code: (row.maker, f"{row.model}{f', {row.year}' if row.year else ''}", row.state, row.serial)
        for row in rows
    }
    return _folded(said)


def _places(connection: Connection, codes: Sequence[str]) -> dict[str, str]:
    sql = _sql("places")
    rows = connection.execute(select(sql.c.code, sql.c.name).where(sql.c.code.in_(codes)))
    return _folded({row.code: (row.name,) for row in rows})


def _models(connection: Connection, keys: Sequence[str]) -> dict[str, str]:
    models, makers = _sql("models"), _sql("makers")
    rows = connection.execute(
        select(models.c.key, models.c.name, makers.c.name.label("maker"))
        .select_from(models.join(makers, models.c.maker == makers.c.key))
        .where(models.c.key.in_(keys))
    )
    return _folded({row.key: (row.key, row.maker, row.name) for row in rows})


def _designs(connection: Connection, keys: Sequence[str]) -> dict[str, str]:
    designs, kinds = _sql("designs"), _sql("kinds")
    rows = connection.execute(
        select(designs.c.key, designs.c.name, kinds.c.name.label("kind"))
        .select_from(designs.join(kinds, designs.c.kind == kinds.c.key))
        .where(designs.c.key.in_(keys))
    )
    numbers = _numbers(connection, keys)
    return _folded({row.key: (row.key, row.name or row.key, row.kind, *numbers[row.key]) for row in rows})


def _lots(connection: Connection, codes: Sequence[str]) -> dict[str, str]:
    lots, designs, kinds = _sql("lots"), _sql("designs"), _sql("kinds")
    wanted = (lots.c.code, lots.c.design, lots.c.number_seen, lots.c.note, lots.c.condition)
    rows = connection.execute(
        select(*wanted, kinds.c.name.label("kind"), designs.c.name.label("name"))
        .select_from(
            lots.join(kinds, lots.c.kind == kinds.c.key).join(designs, lots.c.design == designs.c.key, isouter=True)
        )
        .where(lots.c.code.in_(codes))
    ).all()
    numbers = _numbers(connection, sorted({row.design for row in rows if row.design}))
    return _folded(
        {
            row.code: (
                (row.name or row.design) if row.design else f"{row.kind}, not identified",
                row.kind,
                *numbers[row.design],
                row.number_seen,
                row.note,
                row.condition,
            )
            for row in rows
        }
    )


def _numbers(connection: Connection, designs: Sequence[str]) -> dict[str | None, list[str]]:
    sql = _sql("numbers")
    found: dict[str | None, list[str]] = defaultdict(list)
    wanted = select(sql.c.design, sql.c.number).where(sql.c.design.in_(designs)).order_by(sql.c.maker, sql.c.number)
    for row in connection.execute(wanted):
        found[row.design].append(row.number)
    return found


def _folded(said: Mapping[str, Iterable[str | None]]) -> dict[str, str]:
    return {key: fold(" ".join(part for part in parts if part)) for key, parts in said.items()}


_TEXTS: dict[str, Callable[[Connection, Sequence[str]], dict[str, str]]] = {
    "machine": _machines,
    "place": _places,
    "model": _models,
    "design": _designs,
    "lot": _lots,
}
"""``{type: what makes the texts of some}``; a key that is not there gets none."""
