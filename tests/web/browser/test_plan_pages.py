"""A plan in a browser: one tap asks for more, the lists are one tap away, and nothing there breaks a rule."""

from tests.web.browser.test_accessibility import SMALL, broken_rules


def test_more_is_asked_for_in_one_tap_and_the_lists_are_readable(browser, served):
    context = browser.new_context(viewport={"width": 320, "height": 740}, color_scheme="dark", bypass_csp=True)
    page = context.new_page()
    page.goto(f"{served.address}/plans/")
    page.get_by_role("button", name="Plan", exact=True).click()
    page.get_by_role("button", name="And if I allow work?").click()
    page.get_by_role("heading", name="If work is allowed").wait_for()
    broken = broken_rules(page, "what if")
    small = page.evaluate(SMALL)
    wide = [page.evaluate("document.documentElement.scrollWidth")]
    page.get_by_role("link", name="Pick list and buy list").click()
    page.get_by_role("heading", name="Take from the bins, in walking order").wait_for()
    broken += broken_rules(page, "errands")
    small += page.evaluate(SMALL)
    wide.append(page.evaluate("document.documentElement.scrollWidth"))
    context.close()
    assert (broken, small, wide) == ([], [], [320, 320])
