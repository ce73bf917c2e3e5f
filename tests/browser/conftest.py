"""A real browser, cut off from every network but loopback, and a server on a free port."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options

from tests.live_server import LiveServer

CHROME_ARGS = (
    "--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--window-size=1920,1080",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
    "--disable-component-update", "--disable-background-networking", "--disable-sync", "--disable-default-apps",
    "--no-first-run", "--disable-extensions", "--disable-features=OptimizationHints,MediaRouter,Translate",
    "--force-device-scale-factor=1", "--remote-debugging-port=0",
)  # fmt: skip


def chrome_options() -> Options:
    """A headless Chromium that cannot reach beyond this computer."""
    options = Options()
    options.binary_location = os.environ.get("DASH_TEST_CHROMEPATH", "/usr/bin/chromium")
    for argument in CHROME_ARGS:
        options.add_argument(argument)
    return options


def pytest_setup_options() -> Options:
    """The same browser for the fixtures of dash.testing (`dash_br`)."""
    return chrome_options()


@pytest.fixture(scope="session")
def one_browser() -> Iterator[webdriver.Chrome]:
    """One headless browser for all files: starting it takes longer than most tests."""
    options = chrome_options()
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options)
    try:
        yield driver
    finally:
        driver.quit()


@pytest.fixture(scope="module")
def browser(one_browser: webdriver.Chrome) -> webdriver.Chrome:
    """The browser as new for the tests of a file: one empty page, 1920 by 1080, nothing logged. Each server is an origin."""
    first, *others = one_browser.window_handles
    for window in others:
        one_browser.switch_to.window(window)
        one_browser.close()
    one_browser.switch_to.window(first)
    one_browser.get("about:blank")
    one_browser.get_log("browser")
    set_size(one_browser, 1920, 1080)
    return one_browser


def set_size(driver: webdriver.Chrome, width: int, height: int) -> None:
    """Give the page itself exactly this size."""
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def until(condition: Callable[[], Any], what: str, seconds: float = 15.0) -> Any:
    """The first true value of `condition`; fails with `what` when none comes in time."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if value := condition():
            return value
        time.sleep(0.05)
    pytest.fail(f"did not happen within {seconds:g} s: {what}")


@pytest.fixture(scope="module")
def serve() -> Iterator[Callable[[Any], str]]:
    """Serve an ASGI app on a free port of loopback; gives its address. Stopped when the file is through."""
    running: list[LiveServer] = []

    def start(app: Any) -> str:
        running.append(LiveServer(app).start())
        return running[-1].url

    yield start
    for server in running:
        server.stop()
