"""The program on a whole stash and on one of ten times its size, each operation beside a baseline of the same run.

Run ``make bench`` (or ``python benchmarks/whole_stash.py``); ``--quick`` takes a tenth of both sizes. Times are of the
processor, so that what else runs on the machine matters little; pages go through the WSGI application, warm.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import io
import logging
import os
import platform
import random
import sqlite3
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

import openpyxl
from sqlalchemy import text

from benchmarks.labels_draw import PlainPress
from benchmarks.stash_world import Rows, stash
from labels import sheet
from stash.fit.claims import Site, part_of_design
from stash.fit.companions import smallest_change
from stash.fit.intervals import Outcome
from stash.fit.mates import mate_states
from stash.fit.table import VerdictTable
from stash.fit.verdicts import judge_model
from stash.kernel.tables import TABLE_BY_NAME
from stash.plan.wares import Allowed
from stash.services.archive import archive, restore
from stash.services.find import find
from stash.services.identify import identify
from stash.services.labels import Printing
from stash.services.labels import sheet as label_sheet
from stash.services.open import Store, open_stash
from stash.services.page_plan import make_plan
from stash.services.people_columns import Wish
from stash.services.people_lists import make, render
from stash.services.tables import export_path, load_path
from stash.web import create_app

NOW = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
PAGES = (
    "home",
    "loose parts",
    "a lot",
    "machines",
    "a machine",
    "bins",
    "a bin",
    "a design",
    "a model",
    "gaps",
    "builds",
)
TOLD = 100


@dataclass
class Measured:
    """What was measured at one size: ``{operation: (ours, the baseline or None)}`` in milliseconds."""

    rows: dict[str, tuple[float, float | None]] = field(default_factory=dict)
    baselines: dict[str, str] = field(default_factory=dict)

    def add(self, what: str, ours: float, baseline: float | None = None, against: str = "") -> None:
        """Note one operation, and say on standard error that it is done."""
        self.rows[what], self.baselines[what] = (ours, baseline), against
        print(f"{what}: {ours:.1f} ms", file=sys.stderr, flush=True)


def main() -> None:
    """Measure both sizes and print one table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of both sizes")
    share = 10 if parser.parse_args().quick else 1
    logging.disable(logging.CRITICAL)
    small = {"machines": 500, "lots": 20_000, "models": 200, "designs": 1000, "rules": 2000}
    large = {"machines": 500, "lots": 100_000, "models": 2000, "designs": 10_000, "rules": 20_000}
    found = []
    for size in (small, large):
        rows = stash(**{name: max(20, count // share) for name, count in size.items()})
        with tempfile.TemporaryDirectory() as folder:
            found.append(measured(rows, Path(folder)))
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, Python {platform.python_version()}, {NOW:%Y} seed 1")
    print(f"\nThe stash: {_counted(small, share)}. The large one: {_counted(large, share)}.\n")
    print("| operation | ms | baseline ms | ratio | what it is beside | large, ms | times |")
    print("|---|---|---|---|---|---|---|")
    for what, (ours, baseline) in found[0].rows.items():
        far = found[1].rows[what][0]
        beside = ("", "") if baseline is None else (_ms(baseline), f"{ours / baseline:.2g}")
        against = found[0].baselines[what]
        print(f"| {what} | {_ms(ours)} | {beside[0]} | {beside[1]} | {against} | {_ms(far)} | {far / ours:.1f} |")


def _ms(milliseconds: float) -> str:
    return f"{milliseconds:,.0f}" if milliseconds >= TOLD else f"{milliseconds:.2f}"


def _counted(size: dict[str, int], share: int) -> str:
    return ", ".join(f"{count // share:,} {name}" for name, count in size.items())


def measured(rows: Rows, folder: Path) -> Measured:
    """Measure everything at one size."""
    told = Measured()
    tables = folder / "tables"
    _written(rows, tables)
    file = folder / "stash.sqlite"
    store = open_stash(str(file))
    bare = _cpu(lambda: _bare_load(rows, folder / "bare.sqlite"))
    told.add("load everything", _cpu(lambda: _loaded(store, tables)), bare, "rows into bare tables")
    store.close()
    told.add("start, and the first page", _first_start(file), _import_only(), "importing the web framework")
    store = open_stash(str(file))
    csvs = _cpu(lambda: _bare_export(folder / "bare.sqlite", folder / "bare.zip"))
    told.add("export everything", _cpu(lambda: export_path(store, folder / "out.zip")), csvs, "rows to CSV in a zip")
    told.add("archive", _cpu(lambda: archive(store, folder / "a.zip", now=NOW)), csvs, "the same")
    told.add("restore", _cpu(lambda: _restored(folder)), bare, "rows into bare tables")
    _pages(told, store)
    _search(told, store)
    _verdicts(told, store)
    told.add("plan of all builds", _cpu(lambda: make_plan(store, Allowed(), with_gaps=False, seconds=60)))
    _labels(told, store)
    _sheets(told, store)
    kind = store.catalogue().designs[0].kind
    measure = next(key for of, key in store.catalogue().measure if of == kind)
    told.add("identify: the next question", _cpu(lambda: identify(store, kind, {measure: "38"})))
    store.close()
    return told


def _written(rows: Rows, folder: Path) -> None:
    from benchmarks.stash_world import write

    write(rows, folder)


def _loaded(store: Store, tables: Path) -> None:
    report = load_path(store, tables, "bench")
    if report.errors:
        sys.exit(f"the tables are not loaded: {report.errors[0]}")


def _restored(folder: Path) -> None:
    store = open_stash(str(folder / "again.sqlite"))
    restore(store, folder / "a.zip")
    store.close()


def _bare_load(rows: Rows, file: Path) -> None:
    with closing(sqlite3.connect(file)) as connection:
        for name, found in rows.items():
            columns = TABLE_BY_NAME[name].names
            connection.execute(f'CREATE TABLE "{name}" ({", ".join(columns)})')
            cells = ([row.get(column, "") for column in columns] for row in found)
            marks = ", ".join("?" * len(columns))
            connection.executemany(f'INSERT INTO "{name}" VALUES ({marks})', cells)  # noqa: S608 - our own names
        connection.commit()


def _bare_export(file: Path, target: Path) -> None:
    with closing(sqlite3.connect(file)) as connection, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as zipped:
        names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        for name in names:
            out = io.StringIO()
            csv.writer(out).writerows(connection.execute(f'SELECT * FROM "{name}"'))  # noqa: S608 - our own names
            zipped.writestr(f"{name}.csv", out.getvalue())


def _first_start(file: Path) -> float:
    script = (
        "import sys\nfrom stash.services.open import open_stash\nfrom stash.web import create_app\n"
        "client = create_app(open_stash(sys.argv[1]), secret_key='x').test_client()\n"
        "assert client.get('/').status_code == 200"
    )
    return _of_child([sys.executable, "-c", script, str(file)])


def _import_only() -> float:
    return _of_child([sys.executable, "-c", "import flask, sqlalchemy.orm, flask_wtf"])


def _of_child(command: list[str]) -> float:
    before = os.times()
    subprocess.run(command, check=True)  # noqa: S603 - our own interpreter
    after = os.times()
    return (after.children_user + after.children_system - before.children_user - before.children_system) * 1000


def _pages(told: Measured, store: Store) -> None:
    app = create_app(store, secret_key="bench")  # noqa: S106 - of a benchmark
    app.add_url_rule("/nothing", "nothing", lambda: "nothing")
    client, rng = app.test_client(), random.Random(1)
    catalogue, stock = store.catalogue(), store.stock()

    def some(path: str, keys: Iterable[str]) -> list[str]:
        return [path + key for key in rng.choices(sorted(keys), k=40)]

    asked = {
        "home": ["/"] * 20,
        "loose parts": [f"/lots/?page={page}" for page in range(1, 21)],
        "a lot": some("/lots/", stock.lots),
        "machines": ["/machines/"] * 20,
        "a machine": some("/machines/", stock.machines),
        "bins": ["/places/"] * 20,
        "a bin": some("/places/", [code for code in stock.lots_in if code]),
        "a design": some("/designs/", catalogue.design),
        "a model": some("/models/", catalogue.model),
        "gaps": ["/gaps/"] * 20,
        "builds": ["/builds/"] * 20,
    }
    empty = _spread(lambda: client.get("/nothing"), 200)[0]
    for name in PAGES:
        for address in asked[name]:
            client.get(address)  # warm
        times = sorted(_cpu(lambda address=address: _good(client.get(address).status_code)) for address in asked[name])
        told.add(f"page: {name}, median", times[len(times) // 2], empty, "an empty route")
        told.add(f"page: {name}, 95 %", times[int(len(times) * 0.95)])


def _good(status: int) -> None:
    if status != 200:
        sys.exit(f"a page answered {status}")


def _search(told: Measured, store: Store) -> None:
    words = ("blue donor", "rusty", "piston 77", "N-d7")
    whole = [_spread(lambda word=word: find(store, word), 20) for word in words]

    def scanned(word: str) -> None:
        with store.reading() as session:
            session.execute(
                text("SELECT key FROM findable WHERE text LIKE :a"), {"a": f"%{word.casefold()}%"}
            ).scalars().all()

    scan = [_spread(lambda word=word: scanned(word), 20)[0] for word in words]
    told.add("search box, median", max(each[0] for each in whole), max(scan), "every text looked at")
    told.add("search box, 95 %", max(each[1] for each in whole))


def _verdicts(told: Measured, store: Store) -> None:
    facts, rng = store.catalogue(), random.Random(2)
    table = VerdictTable(facts)
    some = [rng.choice(facts.designs) for _ in range(30)]
    for design in some:
        table.row(design.key)
    row = sorted(_cpu(lambda design=design: table.row(design.key)) for design in some)[len(some) // 2]
    pairs = [(rng.choice(some), model) for model in rng.sample(sorted(facts.model), min(60, len(facts.model)))]
    pairs = [(design, model) for design, model in pairs if design.kind in facts.positions_of_kind[model]]
    cells = _cpu(lambda: [_judged(facts, design, model) for design, model in pairs]) / len(pairs)
    told.add("a design on all models", row, cells * len(facts.models), "each judged by itself")
    questions = [
        (part_of_design(design), Site(facts.model[model], position), facts.model[model].years.from_year)
        for design, model in pairs
        for position in facts.positions_of_kind[model][design.kind]
    ]
    broken = [each for each in questions if any(state.outcome is Outcome.BREAKS for state in mate_states(facts, *each))]
    told.add("companions of a part", _cpu(lambda: [smallest_change(facts, *each) for each in broken]) / len(broken))


def _judged(facts: object, design: object, model: str) -> None:
    for position in facts.positions_of_kind[model][design.kind]:  # type: ignore[attr-defined]
        judge_model(facts, part_of_design(design), model, position)  # type: ignore[arg-type]


def _labels(told: Measured, store: Store) -> None:
    codes = list(store.stock().lots)[:TOLD]

    def printed(press: type) -> float:
        before, sheet.Press = sheet.Press, press
        try:
            return _cpu(lambda: label_sheet(store, codes, Printing(), who="bench"))
        finally:
            sheet.Press = before

    label_sheet(store, codes[:24], Printing(), who="bench")
    told.add(f"{TOLD} labels of what is on the shelf", printed(sheet.Press), printed(PlainPress), "a picture each")


def _sheets(told: Measured, store: Store) -> None:
    wish = Wish(("code", "what", "kind", "numbers", "number", "quantity", "condition", "place", "measures", "note"))
    rows = [list(row) for row in make(store, "parts", wish).rows]

    def plain() -> None:
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append([str(cell) for cell in row])
        book.save(io.BytesIO())

    told.add(
        "list of all lots as .xlsx",
        _cpu(lambda: render(make(store, "parts", wish), ".xlsx")),
        _cpu(plain),
        "openpyxl, the cells as texts",
    )


def _spread(work: Callable[[], object], times: int) -> tuple[float, float]:
    found = sorted(_cpu(work) for _ in range(times))
    return found[len(found) // 2], found[int(len(found) * 0.95)]


def _cpu(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return (time.process_time() - start) * 1000


if __name__ == "__main__":
    main()
