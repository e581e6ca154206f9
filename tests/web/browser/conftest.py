import os
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, sync_playwright

from stash.cli.serve import bound
from stash.db.store import Store
from stash.web import create_app
from stash.web.front import Front

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@dataclass
class Served:
    """The screens, served on loopback."""

    store: Store
    address: str


def chromium() -> str | None:
    """Where a Chromium is installed, None for nowhere."""
    names = ("chromium", "chromium-browser", "google-chrome", "chrome")
    return next((found for name in names if (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    found = chromium()
    if found is None:
        reason = "no Chromium is installed: put one on PATH to drive a real browser"
        if os.environ.get("STASH_REQUIRE_SERVICES") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture
def served(shop: Store) -> Iterator[Served]:
    app = create_app(shop, secret_key="for tests only")
    listening = bound("127.0.0.1", 0)
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    app.config["STASH_BASE_URL"] = address
    front = Front(app, [listening])
    running = threading.Thread(target=front.run)
    running.start()
    yield Served(shop, address)
    front.stop()
    running.join(15)
    running.join(10)
