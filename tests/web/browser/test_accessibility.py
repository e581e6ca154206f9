"""Every page against WCAG 2.2 AA in light and dark, on a phone and on a desk; nothing wider than 320 pixels.

Checked by axe-core (Deque Systems, Mozilla Public Licence 2.0), kept whole in ``tests/web/vendor``. Reflow at 320
pixels and targets of 44 pixels: WCAG 2.2, success criteria 1.4.10 and 2.5.5.
"""

from pathlib import Path

import pytest

from tests.services.workshop import BIN_A, CARBS, FAST, MYSTERY, RUNNER
from tests.web.test_every_page import ADDRESSES

pytestmark = pytest.mark.browser

AXE = Path(__file__).parents[1] / "vendor" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WIDTHS = {"phone": 360, "desk": 1280}
PAGES = [*ADDRESSES, "/nowhere", "/find?q=zzz"]


@pytest.fixture(params=WIDTHS)
def viewport(request):
    return {"width": WIDTHS[request.param], "height": 800}


def broken_rules(page, where: str) -> list[str]:
    """What axe finds wrong with the page as it stands, everything unfolded."""
    page.evaluate("document.querySelectorAll('details:not(.index-narrow)').forEach((each) => { each.open = true; })")
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("(tags) => axe.run({ runOnly: tags })", RULES)
    assert len(found["passes"]) > 10, where
    return [
        f"{where}: {each['id']}: {node['html'][:160]}" for each in found["violations"] for node in each["nodes"][:3]
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_breaks_a_rule(browser, served, viewport, scheme):
    context = browser.new_context(viewport=viewport, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    broken: list[str] = []
    for address in PAGES:
        page.goto(served.address + address)
        broken += broken_rules(page, address)
    context.close()
    assert broken == []


ANSWERS = {
    "/plans/": "Plan",
    "/catalogue/models/add": "Add model",
    f"/lots/{MYSTERY}/count": "That is what is there",
    f"/places/{BIN_A}/count": "That is what is there",
    f"/labels/?codes={CARBS}": "Look at it first",
    f"/machines/{RUNNER}/fit?position=module&lot={FAST}": "Fit it",
}
"""Pages whose button is pressed as they stand: an answer, a form with problems, a refusal."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_answer_to_a_form_breaks_a_rule(browser, served, viewport, scheme):
    context = browser.new_context(viewport=viewport, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    broken: list[str] = []
    for address, button in ANSWERS.items():
        page.goto(served.address + address)
        page.get_by_role("button", name=button, exact=True).click()
        page.wait_for_load_state()
        page.wait_for_function("!document.querySelector('[aria-busy=true]')")
        broken += broken_rules(page, f"{button} at {address}")
        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"], address
    context.close()
    assert broken == []


def test_no_page_is_wider_than_a_narrow_phone(browser, served):
    context = browser.new_context(viewport={"width": 320, "height": 640})
    page = context.new_page()
    wide: dict[str, int] = {}
    for address in PAGES:
        page.goto(served.address + address)
        page.evaluate(
            "document.querySelectorAll('details:not(.index-narrow)').forEach((each) => { each.open = true; })"
        )
        width = page.evaluate("document.documentElement.scrollWidth")
        if width > 320:
            wide[address] = width
    context.close()
    assert wide == {}


SMALL = """() => {
  const pressed = 'button, .do, .do-too, .tag[href], .name, select, summary, textarea, .index-narrow a, label.check, '
    + 'label:has([type=radio]), input:not([type=hidden], [type=checkbox], [type=radio])';
  return [...document.querySelectorAll(pressed)]
    .map((each) => [each, each.getBoundingClientRect().height])
    .filter(([each, height]) => each.checkVisibility() && height > 0 && height < 43.5)
    .map(([each]) => each.outerHTML.slice(0, 120));
}"""


def test_what_a_thumb_presses_is_thumb_sized(browser, served):
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    small: dict[str, list[str]] = {}
    for address in PAGES:
        page.goto(served.address + address)
        found = page.evaluate(SMALL)
        if found:
            small[address] = found
    context.close()
    assert small == {}


def test_a_verdict_is_told_without_colour(browser, served):
    context = browser.new_context(viewport={"width": 1280, "height": 800}, forced_colors="active")
    page = context.new_page()
    page.goto(f"{served.address}/charts/a/carb")
    cells = page.locator(".chart td .verdict").all()
    told = {(cell.inner_text().strip(), cell.locator("use").get_attribute("href")) for cell in cells}
    words, shapes = [word for word, _ in told], [shape for _, shape in told]
    assert len(told) >= 2
    assert all(words)
    assert len(set(words)) == len(set(shapes)) == len(told)
    context.close()


def test_paper_shows_the_list_and_not_the_screen(browser, served):
    context = browser.new_context(viewport={"width": 800, "height": 800})
    page = context.new_page()
    page.emulate_media(media="print")
    page.goto(f"{served.address}/gaps/")
    assert not page.locator("header.spine").is_visible()
    assert not page.get_by_role("link", name="Want a model").is_visible()
    assert page.get_by_role("heading", name="Gaps").is_visible()
    context.close()
