"""Kill writers at random moments and see that nothing acknowledged is lost.

    python benchmarks/ledger_kill.py [--kills 200] [--url postgresql://...] [--writers 2]

Each round starts writers on one database, lets them work for a random while, kills them with SIGKILL, opens the
database again and proves it: ``verify`` is clean, and every batch a writer was told about is there. It stops at the
first loss. Everything it starts it ends by process id.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from sqlalchemy import select

from stash.db.models import Batch
from stash.db.store import Store, open_store
from stash.services.demo import load_demo
from stash.services.verify import verify

LONGEST_S = 0.6
"""Longest a round's writers work before they are killed."""


def write_forever(url: str, seed: int) -> None:
    """Do things to parts as fast as they go; print each batch once it is acknowledged."""
    from stash.errors import StashError
    from stash.services import lots

    rng = random.Random(seed)
    store = open_store(url)
    stock = store.stock()
    codes, places = sorted(stock.lots), [*sorted(stock.places), ""]
    while True:
        code = rng.choice(codes)
        try:
            if rng.random() < 0.5:
                done = lots.move(store, code, rng.choice(places), who=f"writer {seed}")
            else:
                done = lots.add_more(store, code, rng.randint(1, 3), "found", who=f"writer {seed}")
        except StashError:
            continue
        if done.batch is not None:
            print(done.batch, flush=True)


def one_round(url: str, rng: random.Random, writers: int) -> set[int]:
    """Run writers for a while, kill them, and return the batches they were told about."""
    started = [
        subprocess.Popen(  # noqa: S603 - our own script
            [sys.executable, __file__, "--write", url, str(rng.randrange(10**9))], stdout=subprocess.PIPE, text=True
        )
        for _ in range(writers)
    ]
    told = {int(writer.stdout.readline()) for writer in started if writer.stdout}  # from here on all are at work
    time.sleep(rng.uniform(0, LONGEST_S))
    for writer in started:
        writer.send_signal(signal.SIGKILL)
    for writer in started:
        out, _ = writer.communicate()
        told |= {int(line) for line in out.split("\n")[:-1]}  # what follows the last line end was cut off
    return told


def prove(store: Store, told: set[int]) -> None:
    """Say what is lost or broken, and stop."""
    found = verify(store)
    with store.reading() as session:
        kept = set(session.execute(select(Batch.id).where(Batch.id.in_(told))).scalars())
    if found.problems or told - kept:
        sys.exit(f"LOST: {sorted(told - kept)[:5]} BROKEN: {found.problems[:5]}")


def main() -> None:
    """Read the options, kill, and print what was seen."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--writers", type=int, default=2)
    parser.add_argument("--url")
    parser.add_argument("--write", nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.write:
        write_forever(options.write[0], int(options.write[1]))
    rng = random.Random(1)
    with tempfile.TemporaryDirectory() as folder:
        url = options.url or str(Path(folder) / "killed.sqlite")
        store = open_store(url)
        load_demo(store)
        acknowledged = 0
        rounds = -(-options.kills // options.writers)
        for _ in range(rounds):
            told = one_round(url, rng, options.writers)
            acknowledged += len(told)
            prove(store, told)
        engine = store.engine.dialect.name
        store.close()
    killed = rounds * options.writers
    print(f"{engine}: {killed} writers killed, {acknowledged} acknowledged batches, none lost, verify clean")


if __name__ == "__main__":
    main()
