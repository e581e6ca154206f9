"""What a large sheet costs to write and to read, against the plain way: pandas with openpyxl.

Run from the project's folder: ``python benchmarks/sheets_io.py [--rows N]``. The plain way needs pandas, which
the program itself does not use. Each way runs in a process of its own, so that its peak memory is its own; times are
CPU seconds.
"""

from __future__ import annotations

import argparse
import datetime as dt
import importlib.util
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from stash.exchange.flat.files import read_flat
from stash.exchange.flat.listing import Heading, Listing, Value, render

KINDS = ("piston", "carburettor", "top cover", "flywheel", "wrist pin", "starter cover")
HEADINGS = (
    Heading("code", "stash code"),
    Heading("what", "what"),
    Heading("kind", "kind"),
    Heading("number", "number on it"),
    Heading("quantity", "quantity", "whole"),
    Heading("paid", "paid", "money"),
    Heading("size", "size", "number"),
    Heading("bought", "bought on", "date"),
    *(Heading(f"text{at}", f"remark {at}") for at in range(17)),
)
"""25 columns: texts, whole numbers, amounts, sizes and days, as in a list of lots."""


def rows(count: int) -> Iterator[tuple[Value, ...]]:
    """Rows of a large shelf list, made as they are taken."""
    for at in range(count):
        yield (
            f"A{at:05d}",
            f"{KINDS[at % 6]} {at % 400 / 10}, pin {at % 7}",
            KINDS[at % 6],
            f"FN-{at % 99:02d}.{at % 1000:03d}-A",
            at % 9 + 1,
            at % 5000,
            Decimal(at % 4000) / 100,
            dt.date(2000 + at % 25, at % 12 + 1, at % 28 + 1),
            *(f"remark {column} of row {at % 1000}" for column in range(17)),
        )


def write_ours(folder: Path, count: int) -> None:
    """Write a list as the program does."""
    (folder / "ours.xlsx").write_bytes(render(Listing("Loose parts", HEADINGS, rows(count)), ".xlsx"))


def write_plain(folder: Path, count: int) -> None:
    """Write the same rows with pandas and openpyxl."""
    import pandas as pd

    frame = pd.DataFrame(
        (
            tuple(float(each) if isinstance(each, Decimal) else each for each in row)  # a spreadsheet's own numbers
            for row in rows(count)
        ),
        columns=[heading.name for heading in HEADINGS],
    )
    frame.to_excel(folder / "plain.xlsx", index=False, engine="openpyxl")


def read_ours(folder: Path, count: int) -> None:
    """Read a sheet as the program does, with all it looks for."""
    grid = read_flat("ours.xlsx", (folder / "ours.xlsx").read_bytes())
    assert len(grid.rows) == count  # noqa: S101 - a benchmark that reads nothing would be quick


def read_plain(folder: Path, count: int) -> None:
    """Read it with pandas and openpyxl."""
    import pandas as pd

    assert len(pd.read_excel(folder / "ours.xlsx", engine="openpyxl")) == count  # noqa: S101 - as above


WAYS: dict[str, Callable[[Path, int], None]] = {
    each.__name__: each for each in (write_ours, write_plain, read_ours, read_plain)
}


def one(way: str, folder: Path, count: int) -> None:
    """Run one way and print its CPU seconds and what it added to memory, in MB."""
    if way.endswith("plain"):
        import pandas as pd  # noqa: F401 - its import is no part of the work
    start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.process_time()
    WAYS[way](folder, count)
    seconds = time.process_time() - began
    added = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - start) / 1024
    print(json.dumps({"seconds": seconds, "added_mb": added}))


def main() -> None:
    """Print a line for each way, and the two ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--way", choices=sorted(WAYS))
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    if asked.way:
        one(asked.way, asked.folder, asked.rows)
        return
    if importlib.util.find_spec("pandas") is None:
        print("The plain way needs pandas: pip install pandas openpyxl")
        return
    found: dict[str, dict[str, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for way in WAYS:
            command = [sys.executable, __file__, "--way", way, "--folder", folder, "--rows", str(asked.rows)]
            done = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603 - our own script
            found[way] = json.loads(done.stdout)
            print(f"{way}: {found[way]['seconds']:.2f} s CPU, {found[way]['added_mb']:.0f} MB added", flush=True)
    for what in ("write", "read"):
        ratio = found[f"{what}_plain"]["seconds"] / found[f"{what}_ours"]["seconds"]
        print(
            f"{what}: {ratio:.1f} times quicker than pandas with openpyxl, {asked.rows} rows x {len(HEADINGS)} columns"
        )


if __name__ == "__main__":
    main()
