"""A rule as a sentence: its effect is shown first, then it is saved as shown, without scripts."""

from stash.kernel.tables import TABLE_BY_NAME
from stash.services import page_rows

SAY = {"design": "module-85", "verdict": "bolts_on", "model": "early", "evidence": "bench", "reason": "tried it twice"}


def rules(shop):
    return [rule.key for rule in shop.catalogue().rules]


def test_a_rule_is_looked_at_and_then_saved(visitor, shop):
    page = visitor.send("/rules/say", **SAY)
    assert page.status == 200
    assert "This changes 1 verdict" in page.text
    assert "The fast module goes straight on the Fennaby Early, because tried it twice" in page.text
    assert rules(shop) == []
    fields = page.fields()
    saved = visitor.client.post("/rules/say", data={**fields, "do": "save"})
    assert saved.status_code == 303
    assert rules(shop) == ["module-85-on-early"]
    assert "1 verdict changed" in visitor.open("/catalogue/rules/").text


def test_a_rule_to_be_shared_is_offered_by_what_it_says(visitor, shop):
    fields = visitor.send("/rules/say", **SAY).fields()
    visitor.client.post("/rules/say", data={**fields, "do": "save"})
    assert "The fast module goes straight on the Fennaby Early" in visitor.open("/sheets/sharing/").text


def test_what_was_typed_after_the_look_is_looked_at_again(visitor, shop):
    fields = visitor.send("/rules/say", **SAY).fields()
    page = visitor.client.post("/rules/say", data={**fields, "verdict": "wont_fit", "do": "save"})
    assert page.status_code == 409
    assert "has to be looked at first" in page.get_data(as_text=True)
    assert rules(shop) == []


def test_nothing_is_saved_unseen(visitor, shop):
    page = visitor.send("/rules/say", **SAY, do="save")
    assert page.status == 409
    assert "This changes 1 verdict" in page.text
    assert rules(shop) == []


def test_what_is_wrong_stands_beside_its_field(visitor, shop):
    for asked in ("look", "save"):
        page = visitor.send("/rules/say", **{**SAY, "design": "", "kind": "carb", "with__1": "no-such", "do": asked})
        assert page.status == 400
        assert page.problem("with-1")
        assert page.fields()["reason"] == "tried it twice"
    assert rules(shop) == []


def test_a_rule_is_changed_and_taken_back(visitor, shop):
    fields = visitor.send("/rules/say", **SAY).fields()
    visitor.client.post("/rules/say", data={**fields, "do": "save"})
    address = "/rules/change?key=module-85-on-early"
    page = visitor.send(address, verdict="with_companions", with__1="boot-90", with__2="clip")
    assert "bolts on" in page.text
    assert "together with turned boot and pin clip" in page.text
    saved = visitor.client.post(address, data={**page.fields(), "do": "save"}, follow_redirects=True)
    assert saved.status_code == 200
    assert page_rows.row(shop, "rules", ("module-85-on-early",)).cells["companions"] == "boot-90;clip"
    leave = visitor.open("/rules/withdraw?key=module-85-on-early")
    assert "This changes 1 verdict" in leave.text
    stale = visitor.client.post("/rules/withdraw?key=module-85-on-early", data={**leave.fields(), "seen": "other"})
    assert stale.status_code == 409
    gone = visitor.client.post("/rules/withdraw?key=module-85-on-early", data=leave.fields(), follow_redirects=True)
    assert "Taken back" in gone.get_data(as_text=True)
    assert rules(shop) == []
    assert visitor.open("/rules/change?key=module-85-on-early").status == 404


def test_the_catalogue_leads_to_the_sentence(visitor):
    assert "Say what fits" in visitor.open("/catalogue/rules/add?design=carb-90").text
    assert visitor.open("/catalogue/rules/edit?key=none").status == 404
    assert visitor.open("/catalogue/rules/remove?key=none").status == 404


def test_the_sentence_has_a_field_for_every_column_of_a_rule_so_that_a_change_loses_none(visitor):
    fields = visitor.open("/rules/say").fields()
    for column in TABLE_BY_NAME["rules"].columns:
        assert column.name == "companions" or column.name in fields, column.name
