"""With scripts, one part of a page is taken from the whole answer; what was typed and the rest of the page stay."""

import pytest

from tests.services.workshop import BIN_A, BIN_B, CARBS, PROJECT

pytestmark = pytest.mark.browser


def test_a_look_at_a_rule_and_a_search_keep_the_page(browser, served):
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(f"{served.address}/rules/say?design=module-85&model=early")
    page.evaluate("window.kept = true")
    page.select_option("[name=verdict]", "bolts_on")
    page.select_option("[name=evidence]", "bench")
    page.get_by_role("button", name="See what it changes").click()
    page.get_by_role("heading", name="This changes 1 verdict").wait_for()
    assert page.evaluate("window.kept && document.activeElement.textContent") == "This changes 1 verdict"
    page.select_option("[name=verdict]", "wont_fit")
    page.get_by_role("button", name="Look again").first.click()
    page.locator("#effect", has_text="doesn't go on").wait_for()
    assert page.evaluate("window.kept")
    page.select_option("[name=evidence]", "")
    page.get_by_role("button", name="Look again").first.click()
    page.get_by_text("something needs mending").wait_for()
    assert page.evaluate("window.kept") is None
    page.select_option("[name=evidence]", "bench")
    page.get_by_role("button", name="See what it changes").click()
    page.get_by_role("button", name="Save it").click()
    page.wait_for_url("**/catalogue/rules/")
    assert [rule.verdict for rule in served.store.catalogue().rules] == ["wont_fit"]
    page.goto(f"{served.address}/catalogue/designs/")
    page.evaluate("window.kept = true")
    page.get_by_label("Words").fill("turned carb")
    page.get_by_role("button", name="Search").click()
    page.wait_for_url("**q=turned+carb")
    assert page.get_by_role("group", name="1 row").is_visible()
    assert page.evaluate("window.kept")
    assert page.get_by_label("Words").input_value() == "turned carb"
    context.close()


def test_taking_out_and_taking_back_keep_the_page(browser, served):
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(f"{served.address}/places/{BIN_A}")
    page.evaluate("window.kept = true")
    before = served.store.stock().lots[CARBS].quantity
    lot = page.locator("details.lot", has=page.locator(f"button[value={CARBS}]"))
    lot.locator("summary").click()
    lot.locator(f"button[value={CARBS}]").click()
    page.get_by_role("status").filter(has_text="taken out").first.wait_for()
    assert page.evaluate("window.kept && document.activeElement.className") == "note good"
    assert served.store.stock().lots[CARBS].quantity == before - 1
    page.get_by_role("button", name="Take back").first.click()
    page.get_by_role("status").filter(has_text="Undone").first.wait_for()
    assert page.evaluate("window.kept")
    assert served.store.stock().lots[CARBS].quantity == before
    context.close()


def test_an_answer_that_is_lost_is_told_and_nothing_is_sent_twice(browser, served):
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(f"{served.address}/places/{BIN_A}")
    sent = []
    page.route("**/take-out", lambda route: (sent.append(route.request.url), route.abort()))
    lot = page.locator("details.lot", has=page.locator(f"button[value={CARBS}]"))
    lot.locator("summary").click()
    lot.locator(f"button[value={CARBS}]").click()
    page.get_by_role("alert").filter(has_text="connection was lost").wait_for()
    assert len(sent) == 1
    context.close()


def test_acts_on_a_lot_and_a_machine_keep_the_page_and_the_way_back(browser, served):
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(f"{served.address}/lots/{CARBS}")
    page.evaluate("window.kept = true")
    page.get_by_role("link", name="Move", exact=True).click()
    page.get_by_role("heading", name="Move", exact=True).wait_for()
    assert page.url == f"{served.address}/lots/{CARBS}/move"
    assert page.title().startswith("Move ")
    assert page.evaluate("document.activeElement.tagName") == "H1"
    page.get_by_label("How many").fill("many")
    page.get_by_role("button", name="Move it").click()
    page.get_by_role("alert").wait_for()
    assert page.evaluate("document.activeElement.getAttribute('role')") == "alert"
    assert page.get_by_label("How many").input_value() == "many"
    page.get_by_label("How many").fill("")
    page.locator("[name=place]").select_option(BIN_B)
    page.get_by_role("button", name="Move it").click()
    page.get_by_role("status").filter(has_text="now in Bin B").first.wait_for()
    assert page.url == f"{served.address}/lots/{CARBS}"
    assert served.store.stock().lots[CARBS].place == BIN_B
    page.go_back()
    page.get_by_role("heading", name="Move", exact=True).wait_for()
    page.go_forward()
    page.get_by_role("link", name="Count", exact=True).wait_for()
    assert page.evaluate("window.kept")
    page.goto(f"{served.address}/lots/")
    page.goto(f"{served.address}/machines/{PROJECT}")
    page.evaluate("window.kept = true")
    page.locator("summary", has_text="Work").first.click()
    page.get_by_role("link", name="Note", exact=True).first.click()
    page.get_by_role("button", name="Note it").click()
    page.get_by_role("status").filter(has_text="noted").first.wait_for()
    assert page.url == f"{served.address}/machines/{PROJECT}"
    assert page.locator(".index-narrow nav [aria-current]").text_content() == "Machines"
    assert page.evaluate("window.kept")
    context.close()
