from stash.kernel.ends import End, lot_end, machine_end, outside_end, place_end
from stash.ledger.balance import Entry
from stash.ledger.together import elsewhere, together

SETS = {machine_end(machine, name): ("bore",) for machine in ("M", "N") for name in ("piston", "ring", "cylinder")}
A, B = place_end("A"), place_end("B")


def off(lot, position, place=A, machine="M"):
    return Entry(lot, 1, machine_end(machine, position), place)


def on(lot, position, place=A, machine="M"):
    return Entry(lot, 1, place, machine_end(machine, position))


def apart(entries, lot, here, **loose):
    found = together(entries, SETS)
    return [(other, str(where)) for _, other, where, _ in elsewhere(found, found.lots[lot], loose, here)]


def test_parts_of_other_kinds_run_with_nobody():
    found = together([off("X", "handle")], SETS)
    assert found.ran_with(found.lots["X"]) == {}
    assert found.ran_with(None) == {}


def test_what_comes_off_first_leaves_the_rest_of_its_set_on_the_machine():
    assert apart([off("P", "piston")], "P", A, P="A") == [("", "machine:M:cylinder"), ("", "machine:M:ring")]


def test_a_set_that_lies_in_one_bin_is_together():
    entries = [off("P", "piston"), off("R", "ring"), off("C", "cylinder")]
    assert apart(entries, "P", A, P="A", R="A", C="A") == []
    assert apart(entries, "P", B, P="A", R="A", C="A") == [("C", "place:A"), ("R", "place:A")]
    assert apart(entries, "P", None, P="A", R="A", C="A") == [("C", "place:A"), ("R", "place:A")]


def test_what_is_gone_can_not_be_kept_together():
    entries = [off("P", "piston"), off("R", "ring"), off("C", "cylinder")]
    assert apart(entries, "P", B, P="A", C="A") == [("C", "place:A")]


def test_a_part_put_in_later_runs_with_what_it_found_there():
    entries = [off("P", "piston"), on("Q", "piston"), off("Q2", "piston")]
    assert apart(entries, "Q2", A, P="A", Q2="A") == [("", "machine:M:cylinder"), ("", "machine:M:ring")]
    assert ("P", "place:A") not in apart(entries, "Q2", A, P="A", Q2="A")


def test_a_part_is_followed_to_another_machine_and_back():
    entries = [off("P", "piston"), on("P", "piston", machine="N")]
    found = together(entries, SETS)
    part = found.part_at(machine_end("N", "piston"))
    assert part == found.lots["P"]
    assert {other[2] for _, _, other, _ in elsewhere(found, part, {}, machine_end("N", "piston"))} == {
        "ring",
        "cylinder",
    }
    assert (
        apart([*entries, off("P2", "piston", machine="N"), on("P2", "piston")], "P2", machine_end("M", "piston")) == []
    )


def test_a_part_split_off_goes_on_belonging_and_a_merge_gives_nothing_away():
    entries = [off("R", "ring"), Entry("R", 1, A, lot_end("S")), Entry("S", 1, lot_end("R"), B)]
    assert apart(entries, "S", B, S="B") == [("", "machine:M:cylinder"), ("", "machine:M:piston")]
    heap = [Entry("H", 5, outside_end("received"), A), off("R", "ring"), Entry("R", 1, A, lot_end("H"))]
    assert "H" not in together([*heap, Entry("H", 1, lot_end("R"), A)], SETS).lots


def test_a_position_that_never_carried_anything_is_no_company():
    found = together([off("P", "piston")], SETS, empty=[machine_end("M", "ring")])
    assert found.ran_with(found.lots["P"]) == {"bore": {("at", "M", "cylinder")}}
    assert found.part_at(machine_end("M", "ring")) is None


def test_a_second_part_off_an_empty_position_is_a_part_of_its_own():
    found = together([off("P", "piston"), off("P2", "piston")], SETS)
    assert found.lots["P2"] == ("lot", "P2")
    assert found.spot_of(("lot", "P2")) is None
    assert found.where(("lot", "P2"), {}) is None


def test_a_part_still_in_place_runs_with_its_neighbours():
    found = together([], SETS)
    assert found.ran_with(("at", "M", "piston")) == {"bore": {("at", "M", "ring"), ("at", "M", "cylinder")}}
    assert found.spot_of(("at", "M", "piston")) == End("machine", "M", "piston")
