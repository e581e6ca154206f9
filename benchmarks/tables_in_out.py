"""Tables in and out: 20,000 lots, each way as a ratio to a plain way of doing the same in the same run.

Run: ``python benchmarks/tables_in_out.py``; results are in ``tables.md``.
"""

from __future__ import annotations

import csv
import io
import itertools
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import openpyxl
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from stash.db.store import Store, open_store
from stash.exchange import RawTable, read_bytes, render_bytes
from stash.kernel.codes import ALPHABET, code_from_payload
from stash.kernel.tables import TABLE_BY_NAME
from stash.services.tables import export, load, save_row

LOTS = 20_000
HEADER = TABLE_BY_NAME["lots"].names


def codes() -> list[str]:
    """As many codes as there are lots, and one for a place."""
    payloads = ("".join(letters) for letters in itertools.product(ALPHABET, repeat=5))
    made = (code_from_payload(payload) for payload in payloads)
    return [str(code) for code in itertools.islice(filter(None, made), LOTS + 1)]


def lots() -> list[list[str]]:
    """The rows, in the order of the columns."""
    place, *rest = codes()
    given = {"kind": "carb", "condition": "good", "place": place, "paid": "3.50", "acquired_on": "2020-05-01"}
    rows = (given | {"code": code, "quantity": str(n % 5 + 1), "note": f"note {n}"} for n, code in enumerate(rest))
    return [[row.get(name, "") for name in HEADER] for row in rows]


def seconds(function: Callable[[], object]) -> float:
    """How long it takes, best of three."""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return min(times)


def told(what: str, ours: float, plain: float, against: str) -> None:
    """Print one line of the table."""
    print(f"| {what} | {ours:.3f} | {ours / plain:.3f} | {against} |")


def odfpy(rows: list[list[str]]) -> bytes:
    """The same sheet through odfpy."""
    document, table = OpenDocumentSpreadsheet(), Table(name="lots")
    for row in rows:
        line = TableRow()
        for text in row:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            line.addElement(cell)
        table.addElement(line)
    document.spreadsheet.addElement(table)
    out = io.BytesIO()
    document.write(out)
    return out.getvalue()


def openpyxl_write(rows: list[list[str]]) -> None:
    """The same sheet through openpyxl, write-only."""
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("lots")
    for row in rows:
        sheet.append(row)
    book.save(io.BytesIO())


def openpyxl_read(data: bytes) -> None:
    """Every cell of a workbook through openpyxl, read-only."""
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    for sheet in book:
        for _ in sheet.iter_rows(values_only=True):
            pass
    book.close()


def bare_insert(rows: list[list[str]]) -> None:
    """The rows into a bare table, nothing checked."""
    with tempfile.TemporaryDirectory() as folder, closing(sqlite3.connect(Path(folder) / "bare.sqlite")) as connection:
        connection.execute(f"CREATE TABLE lots ({', '.join(HEADER)}, PRIMARY KEY (code))")
        connection.executemany(f"INSERT INTO lots VALUES ({', '.join('?' * len(HEADER))})", rows)  # noqa: S608 - ours
        connection.commit()


def furnished(folder: str, number: int) -> Store:
    """A store that the lots can be loaded into."""
    store = open_store(str(Path(folder) / f"{number}.sqlite"))
    tables = {
        "kinds": RawTable(("key", "name"), [(1, ["carb", "carburettor"])]),
        "places": RawTable(("code", "name"), [(1, [codes()[0], "bin"])]),
    }
    assert load(store, tables, "bench").ok  # noqa: S101 - a benchmark of nothing is none
    return store


def main() -> None:
    """Measure and print."""
    rows = lots()
    incoming = {"lots": RawTable(HEADER, list(enumerate(rows, 1)))}
    print("| what | s | ratio | to |\n|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        stores = iter([furnished(folder, number) for number in range(3)])
        bare = seconds(lambda: bare_insert(rows))
        told("load 20,000 new lots", seconds(lambda: load(next(stores), incoming, "bench")), bare, "a bare insert")
        store = open_store(str(Path(folder) / "0.sqlite"))
        told("load them again, all the same", seconds(lambda: load(store, incoming, "bench")), bare, "a bare insert")
        whole = seconds(lambda: export(store))
        told("export", whole, seconds(lambda: csv.writer(io.StringIO()).writerows(rows)), "csv.writer alone")
        one = {"code": rows[7][0]}
        texts = iter("abc")
        told(
            "save one row",
            seconds(lambda: save_row(store, "lots", {"note": next(texts)}, one, None, "b")),
            whole,
            "export",
        )
    tables = {"lots": rows}
    told(
        "write .xlsx", seconds(lambda: render_bytes(".xlsx", tables)), seconds(lambda: openpyxl_write(rows)), "openpyxl"
    )
    told("write .ods", seconds(lambda: render_bytes(".ods", tables)), seconds(lambda: odfpy(rows)), "odfpy")
    data = render_bytes(".xlsx", tables)
    told("read .xlsx", seconds(lambda: read_bytes("t.xlsx", data)), seconds(lambda: openpyxl_read(data)), "openpyxl")


if __name__ == "__main__":
    main()
