"""Reads small catalogues from tables written in a case file.

A case is a TOML file: ``idea`` says what it shows, ``tables`` holds tables as in the workbook (a header, then rows,
cells parted by commas), ``ask`` holds questions with their whole answers. What a case does not care for is filled in:
makers, families, generations and kinds that are only mentioned; position ``p`` takes kind ``p``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stash.fit.catalogue import Catalogue
from stash.fit.facts import (
    CameOn,
    Design,
    Family,
    Fitted,
    Generation,
    Kind,
    Lot,
    Machine,
    Maker,
    Mate,
    Measure,
    Model,
    Number,
    PositionRow,
    Rule,
)
from stash.fit.intervals import Interval, Known
from stash.kernel.exact import parse_decimal, to_micro
from stash.kernel.years import Years

CASES = Path(__file__).parent / "cases"


def case_files() -> list[Path]:
    return sorted(CASES.glob("*.toml"))


def load(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def rows(text: str) -> list[dict[str, str]]:
    lines = [[cell.strip() for cell in line.split(",")] for line in text.strip().splitlines() if line.strip()]
    header, body = lines[0], lines[1:]
    assert all(len(line) == len(header) for line in body), f"ragged table under {header}"
    return [dict(zip(header, line, strict=True)) for line in body]


def micro(text: str) -> int:
    number = parse_decimal(text)
    assert number is not None, text
    return to_micro(number)


def known(text: str) -> Known:
    """Read ``38``, ``38..38.2`` or a word."""
    low, _, high = text.partition("..")
    if parse_decimal(low) is None:
        return text
    return Interval(micro(low), micro(high or low))


def values(text: str) -> dict[str, Known]:
    """Read ``bore=38 window=yes``."""
    return {name: known(value) for name, _, value in (each.partition("=") for each in text.split())}


def years(text: str) -> Years:
    """Read ``1970-1974``, ``1970-``, ``-1974``, ``1970`` or nothing."""
    begin, dash, end = text.partition("-")
    first = int(begin) if begin else None
    return Years(first, (int(end) if end else None) if dash else first)


def items(text: str) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(item.split("|")) for item in text.split(";") if item)


class Given:
    """The facts of one case."""

    def __init__(self, tables: Mapping[str, str]) -> None:
        self.tables = {name: rows(text) for name, text in tables.items()}
        self.lots = {row["code"]: self._lot(row) for row in self._rows("lots")}
        self.machines = {row["code"]: self._machine(row) for row in self._rows("machines")}
        self.catalogue = Catalogue(
            makers=tuple(Maker(key, key) for key in sorted(self._mentioned("maker"))),
            families=tuple(Family(key, key) for key in sorted(self._mentioned("family") | {"fam"})),
            generations=self._generations(),
            models=tuple(self._model(row) for row in self._rows("models")),
            kinds=tuple(Kind(key, key) for key in sorted(self._kinds())),
            measures=tuple(self._measure(row) for row in self._rows("measures")),
            designs=tuple(self._design(row) for row in self._rows("designs")),
            numbers=tuple(self._number(row) for row in self._rows("numbers")),
            position_rows=tuple(self._position(row) for row in self._rows("positions")),
            came_on=tuple(self._came_on(row) for row in self._rows("came_on")),
            mates=tuple(self._mate(row) for row in self._rows("mates")),
            rules=tuple(self._rule(row) for row in self._rows("rules")),
        )

    def _rows(self, table: str) -> list[dict[str, str]]:
        return self.tables.get(table, [])

    def _mentioned(self, column: str) -> set[str]:
        return {row[column] for table in self.tables.values() for row in table if row.get(column)} | (
            {"mk"} if column == "maker" else set()
        )

    def _kinds(self) -> set[str]:
        columns = ("kind", "kind_a", "kind_b")
        found = {
            row[column] for table in self.tables.values() for row in table for column in columns if row.get(column)
        }
        return found | {row["position"] for row in self._rows("positions") if not row.get("kind")}

    def _generations(self) -> tuple[Generation, ...]:
        given = tuple(
            Generation(row["key"], row.get("family", "fam"), int(row.get("ordinal", "1")), row["key"])
            for row in self._rows("generations")
        )
        told = {row.key for row in given}
        rest = ({row.get("generation", "g1") for row in self._rows("models")} | self._mentioned("generation")) - told
        return (*given, *(Generation(key, "fam", 1, key) for key in sorted(rest)))

    def _model(self, row: dict[str, str]) -> Model:
        return Model(
            row["key"], row["key"], row.get("maker", "mk"), row.get("generation", "g1"), years(row.get("years", ""))
        )

    def _measure(self, row: dict[str, str]) -> Measure:
        effort = row.get("effort_s", "")
        return Measure(
            row["kind"],
            row["key"],
            row.get("name", row["key"]),
            row.get("type", "number"),
            row.get("unit", ""),
            effort_s=float(effort) if effort else None,
        )

    def _design(self, row: dict[str, str]) -> Design:
        price = row.get("price", "")
        return Design(
            row["key"],
            row["kind"],
            row.get("name", ""),
            row.get("maker", ""),
            row.get("generation", ""),
            int(price) if price else None,
            values(row.get("values", "")),
        )

    def _number(self, row: dict[str, str]) -> Number:
        return Number(row["number"], row.get("maker", "mk"), row.get("design", ""), row.get("replaced_by", ""))

    def _position(self, row: dict[str, str]) -> PositionRow:
        model = row.get("model", "")
        generation = row.get("generation", "" if model else "g1")
        quantity = int(row.get("quantity") or "1")
        return PositionRow(generation, model, row["position"], row.get("kind") or row["position"], quantity)

    def _came_on(self, row: dict[str, str]) -> CameOn:
        model = row.get("model", "")
        generation = row.get("generation", "" if model else "g1")
        return CameOn(row["design"], row.get("position", "p"), generation, model, years(row.get("years", "")))

    def _mate(self, row: dict[str, str]) -> Mate:
        low, high = row.get("low", ""), row.get("high", "")
        return Mate(
            row["key"],
            row.get("name", row["key"]),
            row["kind_a"],
            row.get("measure_a", "size"),
            row["kind_b"],
            row.get("measure_b", "size"),
            row.get("relation", "same"),
            micro(low) if low else None,
            micro(high) if high else None,
            row.get("position_a", ""),
            row.get("position_b", ""),
        )

    def _rule(self, row: dict[str, str]) -> Rule:
        plain = {name: value for name, value in row.items() if name not in {"years", "companions", "minutes"}}
        plain = {"verdict": "bolts_on", "evidence": "book", **plain}
        minutes = row.get("minutes", "")
        return Rule(
            **plain,
            years=years(row.get("years", "")),
            companions=items(row.get("companions", "")),
            minutes=int(minutes) if minutes else None,
        )

    def _lot(self, row: dict[str, str]) -> Lot:
        return Lot(row["code"], row["kind"], row.get("design", ""), values=values(row.get("values", "")))

    def _machine(self, row: dict[str, str]) -> Machine:
        year = row.get("year", "")
        fitted = {
            each["position"]: Fitted(
                each.get("state") or "present", each.get("design", ""), values=values(each.get("values", ""))
            )
            for each in self._rows("fitted")
            if each["machine"] == row["code"]
        }
        return Machine(row["code"], row["model"], int(year) if year else None, fitted=fitted)
