"""A shelf list through a real browser, on a phone: looked at, answered, taken in, and no step breaks a rule."""

from pathlib import Path

import pytest

from tests.web.browser.test_accessibility import SMALL, broken_rules

pytestmark = pytest.mark.browser

LIST = "Box;What;Number;Qty;Condition\nBin A;carb;FN-11.12O-A;2;good\nCrate;gizmo;;1 bag;good\nCrate;boot;;3;new\n"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_shelf_list_is_taken_in_step_by_step(browser, served, tmp_path: Path, scheme):
    file = tmp_path / "my list.csv"
    file.write_text(LIST)
    context = browser.new_context(viewport={"width": 320, "height": 800}, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    broken: list[str] = []

    def press(button: str) -> None:
        page.get_by_role("button", name=button, exact=True).click()
        page.wait_for_load_state()
        broken.extend(broken_rules(page, f"after {button}"))
        assert page.evaluate("document.documentElement.scrollWidth") <= 320, button
        assert page.evaluate(SMALL) == [], button

    page.goto(f"{served.address}/sheets/shelf/")
    page.set_input_files("#f-file", file)
    press("Look at it")
    press("That is what they are")
    gizmo = page.get_by_role("group", name="'gizmo' is no kind of part we know. What is it?")
    gizmo.get_by_label("Or", exact=True).fill("carburettor")
    press("Keep these answers")
    assert page.get_by_text("2 unclear").count()
    page.goto(page.url.partition("#")[0].partition("?")[0] + "?show=unclear")
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    page.get_by_label("Row 3 is").select_option("hold")
    press("Keep what is chosen for these rows")
    press("Take it in")
    assert page.get_by_text("2 lots new").count()
    assert broken == []
    context.close()
