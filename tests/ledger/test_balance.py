from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from stash.kernel.ends import UNPLACED, lot_end, machine_end, outside_end, place_end
from stash.ledger.balance import Entry, balances, contradictions, whereabouts

A, B = place_end("A"), place_end("B")
ENDS = st.sampled_from([A, B, UNPLACED, machine_end("M", "boot"), outside_end("received"), lot_end("Q")])
ENTRIES = st.lists(st.builds(Entry, st.sampled_from(["x", "y"]), st.integers(1, 9), ENDS, ENDS), max_size=30)


def test_a_balance_is_what_went_into_places_less_what_left_them():
    entries = [
        Entry("x", 5, outside_end("received"), A),
        Entry("x", 2, A, B),
        Entry("x", 1, A, machine_end("M", "boot")),
        Entry("y", 1, machine_end("M", "boot"), B),
    ]
    assert balances(entries) == {"x": 4, "y": 1}
    assert whereabouts(entries)["x"] == {A: 2, B: 2, machine_end("M", "boot"): 1}


@given(ENTRIES)
def test_balances_and_whereabouts_agree(entries):
    found = whereabouts(entries)
    for lot, balance in balances(entries).items():
        assert balance == sum(count for end, count in found.get(lot, {}).items() if end.type == "place")


@given(ENTRIES, st.randoms(use_true_random=False))
def test_the_order_of_entries_does_not_matter_for_what_they_add_up_to(entries, rng):
    shuffled = list(entries)
    rng.shuffle(shuffled)
    assert balances(shuffled) == balances(entries)


@given(ENTRIES)
def test_parts_are_neither_made_nor_lost_inside(entries):
    inside = Counter()
    for entry in entries:
        for end, sign in ((entry.target, 1), (entry.source, -1)):
            inside[end.type in {"place", "machine"}] += sign * entry.quantity
    total = sum(count for ends in whereabouts(entries).values() for count in ends.values())
    assert total == inside[True]


def test_a_sound_ledger_has_no_contradictions():
    entries = [Entry("x", 5, outside_end("received"), A), Entry("x", 5, A, outside_end("sold"))]
    assert contradictions(entries, {"x": (0, "A")}) == ()
    assert contradictions(entries[:1], {"x": (5, "A"), "z": (0, "")}) == ()


def test_each_contradiction_is_said_in_words():
    received = Entry("x", 5, outside_end("received"), A)
    assert "no row" in contradictions([received], {})[0]
    assert "says 4" in contradictions([received], {"x": (4, "A")})[0]
    assert "place:B" in contradictions([received], {"x": (5, "B")})[0]
    below = [received, Entry("x", 6, A, outside_end("sold")), Entry("x", 6, outside_end("found"), B)]
    assert any("below zero" in said for said in contradictions(below, {"x": (5, "A")}))
