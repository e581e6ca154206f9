"""The whole job in a real browser on a phone's width, with scripts and without."""

import csv
import io
import zipfile
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from playwright.sync_api import expect

from tests.services.workshop import PROJECT, RUNNER

pytestmark = pytest.mark.browser

PHONE = {"width": 360, "height": 740}


@pytest.fixture(params=[True, False], ids=["with scripts", "without scripts"])
def phone(request, browser, served):
    context = browser.new_context(viewport=PHONE, java_script_enabled=request.param, accept_downloads=True)
    page = context.new_page()
    page.set_default_timeout(15_000)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert complaints == []


def decoded(pdf: bytes) -> list[str]:
    picture = pypdfium2.PdfDocument(pdf)[0].render(scale=3).to_pil()
    return [found.text for found in zxingcpp.read_barcodes(picture)]


def downloaded(page, press) -> bytes:
    with page.expect_download() as waiting:
        press()
    return Path(waiting.value.path()).read_bytes()


def test_a_part_is_catalogued_labelled_scanned_fitted_and_taken_home(phone, served):
    # Catalogue a part by the number stamped on it.
    phone.goto(served.address)
    phone.get_by_role("link", name="Put parts on the shelf").click()
    phone.get_by_label("Number stamped on it").fill("r 11·120/1")
    phone.get_by_role("button", name="On", exact=True).click()
    assert phone.get_by_label("Design").input_value() == "carb-90"
    phone.get_by_label("Condition").select_option("good")
    phone.get_by_label("Place").select_option(
        label=phone.get_by_label("Place").locator("option", has_text="Bin B").inner_text()
    )
    phone.get_by_label("spigot (mm)").fill("20.02")
    phone.get_by_role("button", name="Put on the shelf").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("turned carburettor")

    # Print its label and read the label as a phone's camera would.
    phone.get_by_role("link", name="Print its label").click()
    pdf = downloaded(phone, phone.get_by_role("button", name="Make the PDF").click)
    (address,) = decoded(pdf)
    assert address.startswith(served.address.upper() + "/Q/")
    code = address[-6:]

    # Open what the label says: the part, and the gap that it fills.
    phone.goto(address)
    expect(phone.get_by_role("heading", level=1)).to_have_text("turned carburettor")
    gap = phone.locator("section", has=phone.get_by_role("heading", name="Fills a gap"))
    expect(gap).to_contain_text("carburettor of Ruddlow Late, 1972")
    expect(gap).to_contain_text("bolts on")
    gap.get_by_role("link", name=f"Fit it to {PROJECT[:3]} {PROJECT[3:]}").click()

    # Fit it; the gap closes.
    phone.get_by_role("button", name="Fit it").click()
    expect(phone.get_by_role("status").filter(has_text="fitted at the carburettor")).to_be_visible()
    assert served.store.stock().machines[PROJECT].fitted["carburettor"].design == "carb-90"
    phone.goto(f"{served.address}/gaps/of?gap=machine:{PROJECT}")
    expect(phone.locator("main")).to_contain_text("clip")
    expect(phone.locator("main")).not_to_contain_text("carburettor takes")

    # Take everything home.
    phone.goto(f"{served.address}/sheets/")
    data = downloaded(phone, phone.get_by_role("link", name=".zip").click)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        lots = {row["code"]: row for row in csv.DictReader(io.StringIO(archive.read("lots.csv").decode("utf-8-sig")))}
    assert lots[code]["quantity"] == "0"
    assert lots[code]["design"] == "carb-90"


def test_a_wedge_scanner_types_into_the_page_and_the_thing_opens(browser, served):
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.clock.install(time=0)
    page.goto(f"{served.address}/gaps/")
    page.clock.pause_at(60_000)  # however slow the machine that runs this, no key comes late
    page.keyboard.type(RUNNER)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Fennaby Early, 1967")
    context.close()


def test_keys_touched_long_ago_are_forgotten(browser, served):
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.clock.install(time=0)
    page.goto(f"{served.address}/gaps/")
    page.clock.pause_at(60_000)
    page.keyboard.type(RUNNER)
    page.clock.run_for(2_000)
    page.keyboard.press("Enter")
    page.evaluate("() => true")  # the page has seen the key
    assert page.url == f"{served.address}/gaps/"
    context.close()


def test_a_long_list_is_offered_while_one_types(browser, served, monkeypatch):
    monkeypatch.setattr("stash.web.choosing.MOST_CHOICES", 1)
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{served.address}/catalogue/numbers/add")
    page.get_by_label("Design").press_sequentially("turned boot", delay=20)
    expect(page.locator("#f-design-offers option")).to_have_attribute("value", "boot-90")
    context.close()


def test_the_index_opens_and_closes_by_keyboard(browser, served):
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(served.address)
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    page.locator(".index-narrow summary").press("Enter")
    expect(page.get_by_role("navigation", name="Index").get_by_role("link", name="Bins")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("navigation", name="Index").get_by_role("link", name="Bins")).to_be_hidden()
    context.close()


def test_a_label_stock_shows_itself_while_its_dimensions_are_typed(browser, served):
    page = browser.new_page()
    page.goto(f"{served.address}/labels/stocks")
    figure = page.locator("figure[data-preview]")
    assert not figure.is_visible()
    size = {"page_w_mm": "60", "page_h_mm": "40", "label_w_mm": "60", "label_h_mm": "40", "qr_mm": "30"}
    for name, text in {"key": "jar-lid", "name": "Jar lids", **size}.items():
        page.fill(f"#f-{name}", text)
    page.select_option("#f-form", "roll")
    figure.wait_for(state="visible")
    page.wait_for_function("document.querySelector('figure[data-preview] img').naturalWidth > 50")
    page.close()
