"""Many people at once: reads and writes over HTTP, on SQLite and on PostgreSQL, and then a proof that nothing was lost.

    python benchmarks/load.py [--clients 50] [--seconds 60] [--url postgresql://...]

It serves the demo on loopback with ``stash serve``, as users do. Each client signs in, then reads pages and sends forms
as fast as it gets answers, on one connection. An answer is good, a clear refusal (somebody else was first, the database
is busy: told in words, nothing written), or an error; one error fails the run. Afterwards every bin that was
acknowledged must be there and ``verify`` must be clean. Without ``--url`` PostgreSQL is started from installed
binaries, if there are any. What it starts it ends by process id.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html.parser import HTMLParser
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import IO, cast
from urllib.parse import urlencode, urlsplit

from stash.db.store import open_store
from stash.services import accounts
from stash.services.demo import load_demo
from stash.services.verify import verify

NAME, PASSWORD = "crowd", "sleeve boot gasket"
READS_OF_TEN = 7
REFUSALS = {409: "somebody was first", 503: "the database is busy"}
READS = (
    "/",
    "/machines/",
    "/lots/",
    "/places/",
    "/gaps/",
    "/ledger/",
    "/find?q=piston",
    "/catalogue/designs/",
    "/charts/",
)


@dataclass
class Tally:
    """What the clients saw: milliseconds of reads and writes, refusals, errors, and the bins that were acknowledged."""

    reads_ms: list[float] = field(default_factory=list)
    writes_ms: list[float] = field(default_factory=list)
    refusals: Counter[str] = field(default_factory=Counter)
    errors: list[str] = field(default_factory=list)
    bins: set[str] = field(default_factory=set)


class Fields(HTMLParser):
    """The fields of a page's forms, as a browser without scripts would send them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: dict[str, str] = {}
        self._select = self._area = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a field."""
        given = {name: value or "" for name, value in attrs}
        if tag == "input" and given.get("type") not in {"checkbox", "file", "search"} and "name" in given:
            self.found[given["name"]] = given.get("value", "")
        if tag in {"select", "textarea"}:
            self._select, self._area = (given["name"], "") if tag == "select" else ("", given["name"])
        if tag == "option" and self._select and ("selected" in given or self._select not in self.found):
            self.found[self._select] = given.get("value", "")

    def handle_data(self, data: str) -> None:
        """Note what stands in an area."""
        if self._area:
            self.found[self._area] = data.removeprefix("\n")

    def handle_endtag(self, tag: str) -> None:
        """Leave a field."""
        if tag in {"select", "textarea"}:
            self._select = self._area = ""


class Client:
    """One person at a browser."""

    def __init__(self, port: int, number: int, tally: Tally, lots: list[str], places: list[str]) -> None:
        self.number, self.tally, self.lots, self.places = number, tally, lots, places
        self.rng = random.Random(number)
        self.connection = HTTPConnection("127.0.0.1", port, timeout=60)
        self.cookies: dict[str, str] = {}
        self.bins = 0

    def run(self, until: float) -> None:
        """Sign in, and work until a moment of the monotonic clock."""
        try:
            while self._send("/sign-in", {"name": NAME, "password": PASSWORD}, timed=False)[0] in REFUSALS:
                pass
            while time.monotonic() < until:
                self._read() if self.rng.randrange(10) < READS_OF_TEN else self._write()
        except (OSError, HTTPException) as error:
            self.tally.errors.append(f"{type(error).__name__}: {error}")
        finally:
            self.connection.close()

    def _read(self) -> None:
        code = self.rng.choice(self.lots)
        self._ask("GET", self.rng.choice((*READS, f"/lots/{code}", f"/q/{code}")), self.tally.reads_ms)

    def _write(self) -> None:
        lot, what = self.rng.choice(self.lots), self.rng.randrange(3)
        if what == 0:
            self._send(f"/lots/{lot}/move", {"place": self.rng.choice(self.places)})
        elif what == 1:
            self._send(f"/lots/{lot}/edit", {"note": f"client {self.number}, {time.monotonic():.3f}"})
        else:
            self.bins += 1
            name = f"Bin {self.number}-{self.bins}"
            status, _ = self._send("/places/add", {"name": name})
            if status == 303:
                self.tally.bins.add(name)

    def _send(self, address: str, typed: dict[str, str], *, timed: bool = True) -> tuple[int, str]:
        status, page = self._ask("GET", address, self.tally.reads_ms if timed else [])
        if status != 200:
            return status, page
        return self._ask("POST", address, self.tally.writes_ms if timed else [], {**Fields(page).found, **typed})

    def _ask(
        self, method: str, address: str, times: list[float], form: dict[str, str] | None = None
    ) -> tuple[int, str]:
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if form is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        started = time.monotonic()
        self.connection.request(method, address, urlencode(form) if form is not None else None, headers)
        answer = self.connection.getresponse()
        body = answer.read().decode()
        times.append((time.monotonic() - started) * 1000)
        for each in answer.headers.get_all("Set-Cookie") or ():
            name, value = each.split(";")[0].split("=", 1)
            self.cookies[name] = value
        if answer.status in REFUSALS:
            self.tally.refusals[REFUSALS[answer.status]] += 1
        elif answer.status not in {200, 302, 303}:
            self.tally.errors.append(f"{method} {address}: {answer.status} {_said(body)}")
        return answer.status, body


def crowd(url: str, *, clients: int, seconds: float) -> Tally:
    """Let a crowd loose on a database with the demo in it.

    Args:
        url: An empty database.
        clients: How many people.
        seconds: For how long.

    Returns:
        What they saw; what was lost or is wrong afterwards is among the errors.
    """
    store = open_store(url)
    load_demo(store)
    accounts.add(store, NAME, "owner", PASSWORD, who="owner")
    lots, places = sorted(store.stock().lots), sorted(store.stock().places)
    tally = Tally()
    with _served(url) as port:
        until = time.monotonic() + seconds
        people = [Client(port, number, tally, lots, places) for number in range(clients)]
        threads = [threading.Thread(target=one.run, args=(until,)) for one in people]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    there = {place.name for place in store.stock().places.values()}
    tally.errors += [f"lost: {name}" for name in sorted(tally.bins - there)]
    tally.errors += [f"verify: {problem}" for problem in verify(store).problems]
    store.close()
    return tally


@contextmanager
def _served(url: str) -> Iterator[int]:
    """A ``stash serve`` of its own on a spare port of loopback."""
    with tempfile.TemporaryDirectory() as home:
        process = subprocess.Popen(  # noqa: S603 - our own program
            [sys.executable, "-m", "stash", "serve", "--port", "0", "--db", url],
            env={**os.environ, "XDG_DATA_HOME": home, "HOME": home, "PYTHONUNBUFFERED": "1"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        told_by = cast("IO[str]", process.stdout)
        try:
            said = told_by.readline()
            found = re.search(r"Open (http://\S+) in", said)
            if found is None:
                raise SystemExit(said + told_by.read())
            threading.Thread(target=told_by.read, daemon=True).start()
            yield urlsplit(found[1]).port or 80
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(60)
            told_by.close()


def _said(body: str) -> str:
    """The words of a page's note."""
    found = re.search(r"<strong>(.*?)</strong>", body, re.DOTALL)
    return found[1] if found else body[:120]


def _line(what: str, times: list[float]) -> str:
    cuts = statistics.quantiles(times, n=100, method="inclusive")
    return f"| {what} | {len(times)} | {cuts[49]:.0f} | {cuts[94]:.0f} | {cuts[98]:.0f} | {max(times):.0f} |"


def told(name: str, tally: Tally, clients: int, seconds: float) -> None:
    """Print a table for ``load.md``."""
    print(f"\n{name}, {clients} clients, {seconds:.0f} s:\n")
    print("| what | answers | median ms | 95 % | 99 % | longest |\n| --- | --- | --- | --- | --- | --- |")
    print(_line("read", tally.reads_ms))
    print(_line("write", tally.writes_ms))
    print(
        f"\nRefused clearly: {dict(tally.refusals) or 'none'}. Errors: {len(tally.errors)}."
        f" Bins made: {len(tally.bins)}."
    )
    for error, count in Counter(tally.errors).most_common(10):
        print(f"  {count} x {error}")
    sys.stdout.flush()


@contextmanager
def _postgres(given: str) -> Iterator[str]:
    """The address of an empty PostgreSQL database, "" where there is none."""
    if given:
        yield given
        return
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    from tests.conftest import _binaries, _own_server

    binaries = _binaries()
    if binaries is None:
        yield ""
        return
    with contextmanager(_own_server)(binaries) as address:
        yield address


def main() -> int:
    """Run on both engines."""
    arguments = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    arguments.add_argument("--clients", type=int, default=50)
    arguments.add_argument("--seconds", type=float, default=60)
    arguments.add_argument("--url", default="")
    asked = arguments.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory() as folder, _postgres(asked.url) as server:
        for name, url in (("SQLite", str(Path(folder) / "load.sqlite")), ("PostgreSQL", server)):
            if url:
                tally = crowd(url, clients=asked.clients, seconds=asked.seconds)
                told(name, tally, asked.clients, asked.seconds)
                wrong += len(tally.errors)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
