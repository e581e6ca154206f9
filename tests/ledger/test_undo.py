from stash.kernel.ends import outside_end, place_end
from stash.ledger.balance import Entry
from stash.ledger.undo import RowChange, plan_undo

A = place_end("A")
KEY = ("lots", "x")


def test_movements_go_the_other_way_in_reverse_order():
    first = Entry("x", 5, outside_end("received"), A)
    second = Entry("x", 2, A, outside_end("sold"))
    plan = plan_undo([first, second], [], {})
    assert plan.entries == (Entry("x", 2, outside_end("sold"), A), Entry("x", 5, A, outside_end("received")))


def test_rows_become_what_they_were_before_the_first_change_of_the_batch():
    changes = [RowChange(KEY, {"q": "1"}, {"q": "2"}), RowChange(KEY, {"q": "2"}, {"q": "3"})]
    plan = plan_undo([], changes, {KEY: {"q": "3"}})
    assert plan.rows == {KEY: {"q": "1"}}
    assert plan.blocked == ()


def test_a_row_changed_since_stands_in_the_way():
    changes = [RowChange(KEY, None, {"q": "2"})]
    assert plan_undo([], changes, {KEY: {"q": "9"}}).blocked == (KEY,)
    assert plan_undo([], changes, {}).blocked == (KEY,)
    assert plan_undo([], [RowChange(KEY, {"q": "2"}, None)], {}).blocked == ()
