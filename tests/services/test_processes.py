"""Several processes write one database at once, and not one part is lost or doubled."""

import subprocess
import sys

import pytest
from sqlalchemy import select

from stash.db.models import Batch
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, CLIPS, SHELF

WRITER = """
import random, sys
from stash.db.store import open_store
from stash.errors import Conflict
from stash.services import arrivals, lots

url, clips, seed, *places = sys.argv[1:]
store, rng = open_store(url), random.Random(seed)
for turn in range(12):
    try:
        if turn % 4 == 3:
            cells = {"kind": "clip", "design": "clip-10", "quantity": "2"}
            print("new", arrivals.arrive(store, "lots", cells, who=seed).batch)
        elif rng.random() < 0.5:
            print("add", lots.add_more(store, clips, 1, "found", who=seed).batch)
        else:
            done = lots.move(store, clips, rng.choice(places), who=seed)
            if done.batch is not None:
                print("move", done.batch)
    except Conflict:  # told so after several tries; nothing was written
        continue
store.close()
"""


@pytest.mark.parametrize(
    ("store", "processes"),
    [("sqlite", 2), pytest.param("postgresql", 4, marks=pytest.mark.postgres)],
    indirect=["store"],
)
def test_every_acknowledged_change_of_every_process_is_there(workshop, processes):
    url = workshop.engine.url.render_as_string(hide_password=False)
    url = str(workshop.file or url)
    run = [sys.executable, "-c", WRITER, url, CLIPS]
    started = [
        subprocess.Popen([*run, f"writer {number}", BIN_A, BIN_B, SHELF], stdout=subprocess.PIPE, text=True)
        for number in range(processes)
    ]
    outs = [process.communicate(timeout=300)[0] for process in started]
    assert [process.returncode for process in started] == [0] * processes
    told = [line.split() for out in outs for line in out.splitlines()]
    with workshop.reading() as session:
        kept = set(session.scalars(select(Batch.id)))
    assert {int(batch) for _, batch in told} <= kept
    assert len({batch for _, batch in told}) == len(told)
    words = [word for word, _ in told]
    assert workshop.stock().lots[CLIPS].quantity == 5 + words.count("add")
    new = [lot for lot in workshop.stock().lots.values() if lot.kind == "clip" and lot.code != CLIPS]
    assert len(new) == words.count("new") > 0
    assert verify(workshop).ok
