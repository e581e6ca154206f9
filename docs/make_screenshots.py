"""Makes the pictures of these documents from the demo: ``python docs/make_screenshots.py``.

It needs the tools for tests and a Chromium on the path. The demo is loaded into a throw-away file; nothing of your own
is touched. Run it again when a screen has changed, and look at what it made.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import threading
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from stash.cli.serve import bound
from stash.services.demo import ensure_demo
from stash.services.open import open_stash
from stash.web import create_app
from stash.web.front import Front

PICTURES = Path(__file__).parent / "pictures"
PHONE = {"width": 390, "height": 780}
DESK = {"width": 1100, "height": 760}
SHOTS = {
    "home": (PHONE, "/"),
    "bin": (PHONE, "/places/G2KTE4"),
    "lot": (PHONE, "/lots/52BVMY"),
    "labels": (DESK, "/labels/"),
    "muster": (DESK, "/muster/"),
    "chart": (DESK, "/charts/engine-a/carburettor"),
    "gaps": (PHONE, "/gaps/"),
    "sheet": (DESK, "/sheets/shelf/"),
}
"""``{name: (window, address)}`` of the pictures that need no pressing."""


def main() -> None:
    """Make every picture."""
    browser = next((found for name in ("chromium", "google-chrome", "chrome") if (found := shutil.which(name))), None)
    if browser is None:
        sys.exit("No Chromium is on the path.")
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        store = open_stash(str(Path(folder) / "demo.sqlite"))
        ensure_demo(store)
        listening = bound("127.0.0.1", 0)
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        front = Front(create_app(store, secret_key="for pictures"), [listening])  # noqa: S106 - of a throw-away file
        running = threading.Thread(target=front.run)
        running.start()
        try:
            _shoot(browser, address)
        finally:
            front.stop()
            running.join()
            store.close()


def _shoot(browser: str, address: str) -> None:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=browser, args=["--no-sandbox", "--disable-gpu"])
        for name, (window, path) in SHOTS.items():
            page = opened.new_page(viewport=window)
            page.goto(address + path)
            _keep(page, name)
        _rule(opened.new_page(viewport=DESK), address)
        _plan(opened.new_page(viewport=DESK), address)
        _shelf(opened.new_page(viewport=PHONE), address)
        opened.close()


def _rule(page: Page, address: str) -> None:
    page.goto(f"{address}/rules/say?design=carb-12-d&model=pip")
    page.select_option("[name=verdict]", "bolts_on")
    page.select_option("[name=evidence]", "bench")
    page.get_by_role("button", name="See what it changes").click()
    page.locator("[data-told]").wait_for()
    page.locator("[data-told]").scroll_into_view_if_needed()
    _keep(page, "rule")


def _plan(page: Page, address: str) -> None:
    page.goto(f"{address}/plans/")
    page.locator("main form button").last.click()
    page.wait_for_url("**/plans/*")
    page.get_by_role("heading", name="What if?").wait_for()
    page.evaluate("scrollTo(0, 0)")
    page.wait_for_load_state("networkidle")
    _keep(page, "plan")


def _shelf(page: Page, address: str) -> None:
    page.goto(f"{address}/places/G2KTE4")
    page.get_by_role("link", name="Add parts").first.click()
    page.wait_for_load_state("networkidle")
    _keep(page, "shelf")


def _keep(page: Page, name: str) -> None:
    page.screenshot(path=PICTURES / f"{name}.png")
    page.close()


if __name__ == "__main__":
    main()
