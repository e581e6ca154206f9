"""Taking, looking at and removing photos on a phone, with scripts and without."""

import pytest
from playwright.sync_api import expect

from stash.services.photos import add_photo, photos_of
from tests.services.camera import photo, unpack_here
from tests.services.workshop import BIN_A, CARBS, RUNNER
from tests.web.browser.test_accessibility import broken_rules

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_a_photo_is_taken_looked_at_and_removed_on_a_phone(browser, served, monkeypatch, scripts):
    unpack_here(monkeypatch)
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True, java_script_enabled=scripts
    )
    phone = context.new_page()
    phone.set_default_timeout(15_000)
    complaints: list[str] = []
    phone.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    phone.goto(f"{served.address}/lots/{CARBS}")

    # The camera: with scripts what is taken goes off at once.
    camera = phone.get_by_label("Take a photo")
    assert camera.get_attribute("capture") == "environment"
    camera.set_input_files([{"name": "1.jpg", "mimeType": "image/jpeg", "buffer": photo(orientation=6)}])
    if not scripts:
        phone.get_by_role("button", name="Send").click()
    expect(phone.get_by_text("1 photo added.")).to_be_visible()

    # Two more from the album, in one go.
    album = [
        {"name": f"{colour}.jpg", "mimeType": "image/jpeg", "buffer": photo(colour=colour)}
        for colour in ("navy", "olive")
    ]
    phone.get_by_label("Add photos").set_input_files(album)
    if not scripts:
        phone.get_by_role("button", name="Send").click()
    expect(phone.get_by_text("2 photos added.")).to_be_visible()
    small = phone.locator(".strip img")
    expect(small).to_have_count(3)
    if scripts:
        small.last.scroll_into_view_if_needed()
        phone.wait_for_function("[...document.querySelectorAll('.strip img')].every((each) => each.naturalWidth)")
        assert phone.evaluate("document.documentElement.scrollWidth") == 360
        buttons = phone.locator(".shots label").all()
        assert all(each.bounding_box()["height"] >= 44 for each in buttons)

    # Large, with words; on and back; away.
    small.nth(1).click()
    phone.get_by_label("What it shows").fill("bent flange")
    phone.get_by_role("button", name="Save the words").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("bent flange")
    phone.get_by_role("button", name="Make it the first").click()
    phone.get_by_role("link", name="Next").click()
    expect(phone.get_by_text("photo 2 of 3")).to_be_visible()
    phone.get_by_role("link", name="Remove").click()
    phone.get_by_role("button", name="Remove it").click()
    expect(phone.get_by_text("Photo removed.")).to_be_visible()
    expect(phone.get_by_role("img", name="bent flange")).to_be_visible()
    assert [each.caption for each in photos_of(served.store, "lot", CARBS)] == ["bent flange", ""]
    context.close()
    assert complaints == []


def test_no_page_with_photos_breaks_a_rule_or_is_too_wide(browser, served, monkeypatch):
    unpack_here(monkeypatch)
    things = {
        "machines": ("machine", RUNNER),
        "lots": ("lot", CARBS),
        "places": ("place", BIN_A),
        "designs": ("design", "carb-0"),
    }
    for what, name in things.values():
        for colour in ("navy", "tan", "red"):
            shown = add_photo(served.store, what, name, photo(colour=colour, height=900), who="Ann").photo
    pages = [f"/{noun}/{name}" for noun, (_, name) in things.items()]
    pages += [f"/photos/{shown.id - 1}", f"/photos/{shown.id}/remove", f"/photos/of/lot/{CARBS}"]
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    broken: list[str] = []
    for width, scheme in ((320, "light"), (1280, "dark")):
        page.set_viewport_size({"width": width, "height": 800})
        page.emulate_media(color_scheme=scheme)
        for address in pages:
            page.goto(served.address + address)
            broken += broken_rules(page, f"{address} at {width}")
            assert page.evaluate("document.documentElement.scrollWidth") <= width, address
    context.close()
    assert broken == []
