"""Laws of the ledger, whatever is done in whatever order, on both engines."""

import datetime as dt
import random
import secrets
from collections import Counter
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import select

from stash.db.models import Movement
from stash.db.store import open_store
from stash.errors import Conflict, InvalidInput, NotFound
from stash.kernel.ends import parse_end
from stash.services import codes, counting, history, lots, machines
from stash.services.at_position import Off
from stash.services.tables import export, get_row
from stash.services.verify import verify
from tests.services.workshop import BIN_A, BIN_B, DONOR, PROJECT, RUNNER, SHELF, furnish

NO = (Conflict, InvalidInput, NotFound)
"""What a refused act raises; it must leave everything as it was."""
POSITIONS = ("carburettor", "boot", "clip", "module")
PLACES = (BIN_A, BIN_B, SHELF, "")
MACHINES = (RUNNER, PROJECT, DONOR)


class Workshop(RuleBasedStateMachine):
    """People doing things to parts."""

    make_url = None

    @initialize()
    def furnish(self):
        codes.secrets = SimpleNamespace(choice=random.Random(7).choice)  # the same codes in every run
        url = type(self).make_url()
        self.store, self.other = open_store(url), open_store(url)
        furnish(self.store)
        self.batches: list[int] = []
        self.seen: dict[str, tuple[int, dict]] = {}

    def teardown(self):
        codes.secrets = secrets
        if hasattr(self, "store"):
            self.store.close()
            self.other.close()

    def act(self, function, *args, **kwargs):
        """Do it, or be refused and change nothing."""
        self.store, self.other = self.other, self.store  # two people take turns, each with a program of their own
        before = export(self.store)
        try:
            done = function(self.store, *args, who="Ann", **kwargs)
        except NO:
            assert export(self.store) == before, "a refused act changed something"
            return
        if done.batch is not None:
            self.batches.append(done.batch)

    def some_lot(self, data):
        return data.draw(st.sampled_from(sorted(self.store.stock().lots)), label="lot")

    @rule(data=st.data(), place=st.sampled_from(PLACES), quantity=st.one_of(st.none(), st.integers(-1, 4)))
    def move(self, data, place, quantity):
        self.act(lots.move, self.some_lot(data), place, quantity=quantity)

    @rule(data=st.data(), quantity=st.integers(0, 3))
    def split(self, data, quantity):
        self.act(lots.split, self.some_lot(data), quantity)

    @rule(data=st.data())
    def merge(self, data):
        self.act(lots.merge, self.some_lot(data), [self.some_lot(data)])

    @rule(data=st.data(), quantity=st.integers(0, 3), how=st.sampled_from(sorted(lots.LEAVES)))
    def let_go(self, data, quantity, how):
        self.act(lots.let_go, self.some_lot(data), quantity, how)

    @rule(data=st.data(), quantity=st.integers(0, 3), how=st.sampled_from(sorted(lots.COMES)))
    def add_more(self, data, quantity, how):
        self.act(lots.add_more, self.some_lot(data), quantity, how)

    @rule(data=st.data(), found=st.integers(-1, 6), looked=st.booleans(), about=st.booleans())
    def count(self, data, found, looked, about):
        sheet = counting.Found(found, about, looked)
        self.act(counting.count, self.some_lot(data), sheet, on=dt.date(1980, 1, 1))

    @rule(data=st.data(), place=st.sampled_from(PLACES[:3]), stays=st.booleans(), quantity=st.integers(0, 2))
    def find_misfiled(self, data, place, stays, quantity):
        self.act(counting.misfiled, place, self.some_lot(data), stays=stays, quantity=quantity)

    @rule(data=st.data(), machine=st.sampled_from(MACHINES), position=st.sampled_from(POSITIONS), sure=st.booleans())
    def fit(self, data, machine, position, sure):
        self.act(machines.fit, machine, position, self.some_lot(data), anyway=sure, acknowledged=sure)

    @rule(machine=st.sampled_from(MACHINES), position=st.sampled_from(POSITIONS), place=st.sampled_from(PLACES))
    def take_off(self, machine, position, place):
        self.act(machines.take_off, machine, position, off=Off(place))

    @rule(one=st.sampled_from(MACHINES), two=st.sampled_from(MACHINES), position=st.sampled_from(POSITIONS))
    def swap(self, one, two, position):
        self.act(machines.swap, one, position, two, position)

    @rule(machine=st.sampled_from(MACHINES), wanted=st.sets(st.sampled_from(POSITIONS)))
    def strip(self, machine, wanted):
        self.act(machines.strip, machine, {position: Off(BIN_A) for position in sorted(wanted)})

    @rule(machine=st.sampled_from(MACHINES))
    def put_back(self, machine):
        self.act(machines.put_back, machine)

    @rule(data=st.data())
    def look_at_a_lot(self, data):
        code = self.some_lot(data)
        row = get_row(self.store, "lots", {"code": code})
        self.seen[code] = (row.version, dict(row.cells))

    @precondition(lambda self: self.seen)
    @rule(data=st.data(), place=st.sampled_from(PLACES))
    def move_what_one_saw_some_time_ago(self, data, place):
        code = data.draw(st.sampled_from(sorted(self.seen)), label="seen lot")
        version, cells = self.seen[code]
        now = dict(get_row(self.store, "lots", {"code": code}).cells)
        told = ""
        try:
            done = lots.move(self.other, code, place, who="Bob", version=version)
        except (Conflict, InvalidInput) as error:
            told = error.message
        if told:
            assert dict(get_row(self.store, "lots", {"code": code}).cells) == now, "a refused edit changed something"
            assert "in the meantime" in told or now["quantity"] == "0"
            return
        assert now == cells, "a stale edit was let through"
        if done.batch is not None:
            self.batches.append(done.batch)

    @precondition(lambda self: self.batches)
    @rule(data=st.data())
    def undo(self, data):
        batch = data.draw(st.sampled_from(self.batches), label="batch")
        self.act(history.undo, batch)

    @precondition(lambda self: self.batches)
    @rule()
    def undo_the_last_and_undo_that(self):
        before = export(self.store)
        last = history.history(self.store, limit=1)[0]
        if last.undone_by is not None or last.why == "loaded tables":
            return
        undone = history.undo(self.store, last.batch, who="Ann")
        again = history.undo(self.store, undone.batch, who="Ann")
        assert export(self.store) == before
        self.batches += [undone.batch, again.batch]

    @invariant()
    def the_database_is_sound(self):
        if hasattr(self, "store"):
            assert verify(self.store).problems == ()

    @invariant()
    def parts_are_conserved(self):
        if not hasattr(self, "store"):
            return
        total = Counter()
        with self.store.reading() as session:
            for row in session.execute(select(Movement)).scalars():
                total[parse_end(row.target).type] += row.quantity
                total[parse_end(row.source).type] -= row.quantity
        assert sum(total.values()) == 0
        assert total["place"] == sum(lot.quantity for lot in self.store.stock().lots.values())
        assert total["lot"] == 0


@pytest.mark.parametrize("engine", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_whatever_is_done_parts_are_conserved_and_every_batch_can_be_undone(make_url_of, engine):
    class Here(Workshop):
        @staticmethod
        def make_url():
            return make_url_of(engine)

    run_state_machine_as_test(
        Here,
        settings=settings(
            max_examples=25,
            stateful_step_count=20,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
