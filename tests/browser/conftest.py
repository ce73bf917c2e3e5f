"""A real browser, cut off from every network but loopback, and a server on a free port."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options

from tests.live_server import LiveServer
from tests.waiting import DEADLINE_S

# With the last two on, every new page gets a process of its own, which compiles all scripts again: 3 s instead of 0.8 s.
FEATURES_OFF = "OptimizationHints,MediaRouter,Translate,BackForwardCache,RenderDocument"
CHROME_ARGS = (
    "--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--window-size=1920,1080",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
    "--disable-component-update", "--disable-background-networking", "--disable-sync", "--disable-default-apps",
    "--no-first-run", "--disable-extensions", "--disable-features=" + FEATURES_OFF,
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
    driver.set_script_timeout(DEADLINE_S)
    try:
        yield driver
    finally:
        driver.quit()


@pytest.fixture(scope="module")
def browser(one_browser: webdriver.Chrome) -> webdriver.Chrome:
    """The browser as new for the tests of a file: one empty page, 1920 by 1080, nothing logged."""
    first, *others = one_browser.window_handles
    for window in others:
        one_browser.switch_to.window(window)
        one_browser.close()
    one_browser.switch_to.window(first)
    one_browser.get("about:blank")
    one_browser.get_log("browser")
    set_size(one_browser, 1920, 1080)
    return one_browser


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: Any) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """After a test that failed the page is left, so that the next test loads it anew and does not fail for the same reason."""
    report = yield
    driver = item.funcargs.get("browser") if hasattr(item, "funcargs") else None
    if report.failed and driver is not None:
        driver.get("about:blank")
    return report


def set_size(driver: webdriver.Chrome, width: int, height: int) -> None:
    """Give the page itself exactly this size."""
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def rested(driver: webdriver.Chrome, ms: int = 400) -> None:
    """Wait until the page has drawn what it was going to draw.

    The wait is a timer of the page itself. It comes after all timers that the page has set before for a shorter time, and
    after two frames on either side of it, however slow the machine is.
    """
    frames = "const frames = (then) => requestAnimationFrame(() => requestAnimationFrame(then)), [ms, done] = arguments;"
    driver.execute_async_script(frames + "frames(() => setTimeout(() => frames(done), ms))", ms)


@pytest.fixture(scope="session")
def ports() -> list[int]:
    """Ports of servers that were stopped. The next server takes one: the browser then has the scripts compiled already."""
    return []


def serving(driver: webdriver.Chrome, ports: list[int]) -> Iterator[Callable[[Any], str]]:
    """Serve ASGI apps, each on a port of loopback that the browser knows nothing of; gives its address."""
    running: list[LiveServer] = []

    def start(app: Any) -> str:
        running.append(LiveServer(app, ports.pop() if ports else 0).start())
        forgotten = {"origin": running[-1].url, "storageTypes": "local_storage"}  # that of the session goes with it
        driver.execute_cdp_cmd("Storage.clearDataForOrigin", forgotten)
        driver.get_log("browser")
        set_size(driver, 1920, 1080)
        return running[-1].url

    yield start
    driver.get("about:blank")
    for server in running:
        server.stop()
        ports.append(server.port)


@pytest.fixture(scope="module")
def serve(browser: webdriver.Chrome, ports: list[int]) -> Iterator[Callable[[Any], str]]:
    """Serve an app to the tests of a file; it is stopped when they are through."""
    yield from serving(browser, ports)


@pytest.fixture
def serve_once(browser: webdriver.Chrome, ports: list[int]) -> Iterator[Callable[[Any], str]]:
    """Serve an app to one test; it does not go on computing beside the others."""
    yield from serving(browser, ports)
