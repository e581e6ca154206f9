"""Before and after an act a person sees what belongs together, what is promised, and what is lent."""

from stash.kernel.codes import grouped
from stash.services import history, rows
from tests.services.workshop import BIN_A, BIN_B, CARB_TURNED, CLIPS, DONOR, RUNNER


def pair_up(shop):
    for kind, name in (("carb", "carburettor"), ("boot", "intake boot")):
        cells = {"key": kind, "name": name, "matched_set": "intake"}
        rows.save_row(shop, "kinds", cells, {"key": kind}, None, "owner")


def test_a_matched_set_is_told_before_and_after_a_part_comes_off(visitor, shop):
    pair_up(shop)
    address = f"/machines/{DONOR}/take-off?position=carburettor"
    assert "Part of a matched set: what is at the carburettor now: it ran with the boot" in visitor.open(address).text
    page = visitor.send(address, place=BIN_A)
    assert "it ran with the boot on Fennaby Early" in page.text
    lot = next(code for code, lot in shop.stock().lots.items() if lot.from_machine == DONOR)
    assert "Part of a matched set" in visitor.open(f"/lots/{lot}").text
    for act in ("move", "let-go"):
        assert "Part of a matched set" in visitor.open(f"/lots/{lot}/{act}").text
    fit = f"/machines/{RUNNER}/fit?position=carburettor&lot={lot}"
    assert "it ran with the boot on Fennaby Early" in visitor.open(fit).text
    page = visitor.send(fit)
    assert "ran with the carburettor" in page.text
    assert "They are a matched set. Keep them together." in visitor.open(f"/machines/{RUNNER}").text


def test_a_promised_part_asks_before_it_leaves(visitor, shop):
    assert "Promised to Winter build, carburettor" in visitor.open(f"/lots/{CARB_TURNED}").text
    address = f"/lots/{CARB_TURNED}/let-go"
    page = visitor.send(address, quantity="1", how="sold")
    assert page.status == 409
    assert "is promised to Winter build" in page.text
    assert "although they are promised" in page.text
    visitor.send(address, quantity="1", how="sold", anyway="yes")
    assert shop.stock().lots[CARB_TURNED].quantity == 0


def test_splitting_off_what_is_promised_asks_too(visitor, shop):
    rows.save_row(shop, "build_parts", {"build": "winter", "position": "clip", "lot": CLIPS}, None, None, "Ann")
    for act in ("split", "move"):
        page = visitor.send(f"/lots/{CLIPS}/{act}", quantity="4", place=BIN_B)
        assert page.status == 409
        assert "although they are promised" in page.text
    visitor.send(f"/lots/{CLIPS}/split", quantity="4", anyway="yes")
    assert shop.stock().lots[CLIPS].quantity == 1


def test_lent_parts_are_listed_with_whom_and_come_back(visitor, shop):
    assert "Nothing is lent" in visitor.open("/lots/lent").text
    visitor.send(f"/lots/{CLIPS}/let-go", quantity="5", how="lent", to="Ada")
    for address in ("/lots/lent", f"/lots/{CLIPS}"):
        assert "5 lent to Ada" in visitor.open(address).text, address
    assert "lent to Ada" in visitor.open(f"/ledger/?lot={CLIPS}").text
    back = next(link for link in visitor.open("/lots/lent").links if "how=lent" in link)
    assert "5 in all" in visitor.send(back).text
    assert shop.stock().lots[CLIPS].quantity == 5


def test_a_refused_undo_says_what_stands_in_the_way_and_how_to_go_on(visitor, shop):
    visitor.send(f"/lots/{CLIPS}/let-go", quantity="1", how="sold")
    first = history.history(shop, lot=CLIPS, limit=1)[0].batch
    visitor.send(f"/lots/{CLIPS}/move", place=BIN_A)
    page = visitor.send(f"/ledger/{first}/undo", open_at=f"/ledger/?lot={CLIPS}")
    assert page.status == 409
    assert f"lot {grouped(CLIPS)} was changed by entry {first + 1} (owner: moved)" in page.text
    assert "Undo that first" in page.text
    visitor.send(f"/ledger/{first + 1}/undo", open_at=f"/ledger/?lot={CLIPS}")
    assert "Undone: sold" in visitor.send(f"/ledger/{first}/undo", open_at=f"/ledger/?lot={CLIPS}").text
    assert (shop.stock().lots[CLIPS].quantity, shop.stock().lots[CLIPS].place) == (5, BIN_B)
