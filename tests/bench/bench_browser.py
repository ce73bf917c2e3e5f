"""What a person in front of a screen waits for: first page, an event's way into the page, what-if, and scrubbing a replay.

Headless Chromium, on the same computer as the server. The page's own clock and this process's clock are the
same clock, so readings are taken in the page when the text is there.

The floor stands beside each: a page that writes the same message of the websocket into a text and does nothing else, and the
smallest page of Dash. It is measured right after the board, in the same browser.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from websockets.sync.client import connect

from tests.bench.make import write_sortie
from tests.bench.measure import Measured
from tests.bench.server import serving, serving_module
from tests.browser.modules import expose_page
from tests.local import LOCAL

ARGUMENTS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-dev-shm-usage",
    "--disable-gpu",
    "--window-size=1920,1080",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
    "--disable-component-update",
    "--disable-background-networking",
)
EVENTS = 40
STARTS = 5
PAUSE_S = 0.35
WAIT_S = 30.0
TICKS = 50
OPENED = 10
SCRUBS = 60
SETTLED_S = 3.0
TICK = "const all = document.querySelectorAll('[data-what-if]'); all[arguments[0] % all.length].click();"

# Notes in the page's own time, to the millisecond, when each token first stands in the document.
WATCH = """
window.probeSeen = {};
new MutationObserver(function () {
    const wanted = window.probeWanted;
    if (wanted && !(wanted in window.probeSeen) && document.body.textContent.includes(wanted)) {
        window.probeSeen[wanted] = performance.timeOrigin + performance.now();
    }
}).observe(document.body, {childList: true, subtree: true, characterData: true});
"""
# The page can be used once it has had a message and the lane sheet is drawn.
USABLE = """
const sheet = document.querySelector('#sheet-graph .main-svg, #sheet-graph svg');
return Boolean(sheet) && /PET\\s+-?\\d+:\\d\\d/.test(document.body.textContent);
"""

# Drawn: figures of the new moment in the headline, and the line of now in the sheet, both in a frame that was painted.
SCRUB = """
const share = arguments[0], done = arguments[1], { moment, times } = modules, r = moment.message().replay;
const slider = document.getElementById('replay-place'), box = slider.getBoundingClientRect();
const x = Math.round(box.left + share * box.width), began = performance.now();
const pet = r.from_pet_min + (x - box.left) / box.width * (r.to_pet_min - r.from_pet_min);
const wanted = [0, 1].map((more) => times.petText(pet + more));
const said = (text) => wanted.some((one) => text.includes(one));
const press = (kind) => slider.dispatchEvent(new PointerEvent(kind, {clientX: x, clientY: box.top + 5, bubbles: true}));
press('pointerdown');
press('pointerup');
(function look() {
    const plot = document.querySelector('#sheet-graph .js-plotly-plot');
    const figures = document.getElementById('basis-end');
    const isDrawn = figures && said(figures.dataset.basis.split('as of PET')[1] || '')
        && plot.layout.annotations.some((note) => note.borderwidth === 2 && said(note.text));
    if (!isDrawn) return requestAnimationFrame(look);
    const channel = new MessageChannel();
    channel.port1.onmessage = () => done(performance.now() - began);
    requestAnimationFrame(() => channel.port2.postMessage(0));
})();
"""
# The floor of a scrub: the message goes to the server and comes back, and its text stands in a frame that was painted.
ECHO = """
const [message, token, done] = arguments, text = document.getElementById('text'), began = performance.now();
fetch('/', {method: 'POST', body: message});
(function look() {
    if (!text.textContent.includes(token)) return requestAnimationFrame(look);
    const channel = new MessageChannel();
    channel.port1.onmessage = () => done(performance.now() - began);
    requestAnimationFrame(() => channel.port2.postMessage(0));
})();
"""


def measure() -> Iterator[Measured]:
    """Start of the demo to a usable page; an event to the changed document; what-if; and scrubbing, each with its floor."""
    with chromium() as browser:
        yield Measured("demo: start of the command to the usable page", [_demo(browser) for _ in range(STARTS)])
        yield Measured("floor: start of an empty page of Dash", [_empty(browser) for _ in range(STARTS)])
        seen_s, message = _events(browser)
        yield Measured("event to the changed page (log text)", seen_s)
        yield Measured("floor: event to a page that echoes the message", _echoed(browser, message))
        yield Measured("what-if: a tick to its figures on the page", _what_ifs(browser))
        yield from replay(browser)


def replay(browser: webdriver.Chrome) -> Iterator[Measured]:
    """Opening the address of a moment; a press on the strip to the whole board drawn, paused, and while the run plays."""
    with serving("demo", "--no-browser", "--at", "1:00") as url, httpx.Client(base_url=url, **LOCAL) as client:
        yield Measured("replay: address of a moment to the usable page", [_opened(browser, url, n) for n in range(OPENED)])
        expose_page(browser)
        time.sleep(SETTLED_S)
        browser.set_script_timeout(WAIT_S)
        for said, action in (("paused", "pause"), ("at speed 60", "play")):
            client.post("/api/replay", json={"action": action})
            yield Measured(f"replay, {said}: a press on the strip to drawn", [_scrub(browser, n) for n in range(SCRUBS)])
        message = _message(url)
        browser.get("about:blank")
    yield Measured("floor: a press to a page that echoes the message, drawn", _echo_drawn(browser, message))


def _opened(browser: webdriver.Chrome, url: str, number: int) -> float:
    began_s = time.perf_counter()
    browser.get(f"{url}/?at={1 + number % 5}:{number + 11}")
    until_usable(browser)
    return time.perf_counter() - began_s


def _scrub(browser: webdriver.Chrome, number: int) -> float:
    time.sleep(PAUSE_S)
    share = 0.03 + 0.94 * (number * 0.618034 % 1)  # all over the run, far from the place before
    took_ms = browser.execute_async_script(SCRUB, share)
    return float(took_ms) / 1000


def _demo(browser: webdriver.Chrome) -> float:
    began_s = time.perf_counter()
    with serving("demo", "--no-browser", "--at", "1:00") as url:
        browser.get(url)
        until_usable(browser)
        took_s = time.perf_counter() - began_s
        browser.get("about:blank")
    return took_s


def _empty(browser: webdriver.Chrome) -> float:
    began_s = time.perf_counter()
    with serving_module("tests.bench.load.empty_dash") as url:
        browser.get(url)
        until(browser, "return Boolean(document.getElementById('nothing'))")
        took_s = time.perf_counter() - began_s
        browser.get("about:blank")
    return took_s


def _message(url: str) -> str:
    """The newest message of the board, as the server sends it to a page that has just come."""
    with connect(url.replace("http", "ws") + "/api/live", max_size=None, compression=None) as socket:
        return str(socket.recv(WAIT_S))


def _open_echo(browser: webdriver.Chrome, url: str) -> None:
    browser.get(url)
    until(browser, "return document.body.dataset.open === 'yes'")


def _echoed(browser: webdriver.Chrome, message: str) -> list[float]:
    """Seconds from each POST of the message to its text in the page that echoes it."""
    with serving_module("tests.bench.load.echo") as url, httpx.Client(base_url=url, **LOCAL, timeout=30) as client:
        _open_echo(browser, url)
        browser.execute_script(WATCH)
        readings = [_one(browser, client, f"echo-{number}-", message) for number in range(EVENTS)]
        browser.get("about:blank")
    return readings


def _echo_drawn(browser: webdriver.Chrome, message: str) -> list[float]:
    """Seconds from sending the message to its text in a painted frame of the page that echoes it."""
    with serving_module("tests.bench.load.echo") as url:
        _open_echo(browser, url)
        readings = []
        for number in range(SCRUBS):
            time.sleep(PAUSE_S)
            took_ms = browser.execute_async_script(ECHO, f"{message} echo-{number}-", f"echo-{number}-")
            readings.append(float(took_ms) / 1000)
        browser.get("about:blank")
    return readings


def _events(browser: webdriver.Chrome) -> tuple[list[float], str]:
    """Seconds from each event to its text in the page, and the last message of the board."""
    with tempfile.TemporaryDirectory() as folder:
        plan, log = write_sortie(Path(folder), 60, 300)
        with serving("serve", plan) as url, httpx.Client(base_url=url, **LOCAL, timeout=30) as client:
            client.post("/api/events", content=_as_list(log), headers={"Content-Type": "application/json"})
            browser.get(url)
            until_usable(browser)
            browser.execute_script(WATCH)
            readings = [_one(browser, client, f"probe-{number}-") for number in range(EVENTS)]
            message = _message(url)
            browser.get("about:blank")
    return readings, message


def _one(browser: webdriver.Chrome, client: httpx.Client, token: str, message: str | None = None) -> float:
    """Seconds from sending a note, or this message with the token, until the token stands in the page."""
    browser.execute_script("window.probeWanted = arguments[0]", token)
    began_s = time.time()
    if message is None:
        client.post("/api/events", json={"kind": "note", "text": token}).raise_for_status()
    else:
        client.post("/", content=f"{message} {token}").raise_for_status()
    time.sleep(PAUSE_S)
    until(browser, f"return '{token}' in window.probeSeen")
    seen_ms = browser.execute_script("return window.probeSeen[arguments[0]]", token)
    return seen_ms / 1000 - began_s


def _what_ifs(browser: webdriver.Chrome) -> list[float]:
    with serving("demo", "--no-browser", "--at", "1:00") as url, httpx.Client(base_url=url, **LOCAL) as client:
        client.post("/api/replay", json={"action": "pause"})
        browser.get(url)
        until_usable(browser)
        browser.execute_script("document.getElementById('choices-what-if').click()")
        time.sleep(PAUSE_S)
        for number in range(TICKS):
            browser.execute_script(TICK, number)
            until(browser, f"return performance.getEntriesByName('what-if answered').length === {number + 1}")
            time.sleep(PAUSE_S / 3)
        took_ms = browser.execute_script("return performance.getEntriesByName('what-if answered').map((one) => one.duration)")
        browser.get("about:blank")
    return [ms / 1000 for ms in took_ms]


def _as_list(log: Path) -> bytes:
    return b"[" + b",".join(log.read_bytes().splitlines()) + b"]"


def until_usable(browser: webdriver.Chrome) -> None:
    """Wait until the board can be used: it has had a message, and the lane sheet is drawn."""
    until(browser, USABLE)


def until(browser: webdriver.Chrome, script: str) -> None:
    """Wait until a script of the page is true."""
    deadline = time.monotonic() + WAIT_S
    while not browser.execute_script(script):
        if time.monotonic() > deadline:
            raise RuntimeError(f"not within {WAIT_S:g} s: {script}")
        time.sleep(0.01)


class chromium:
    """One headless Chromium."""

    def __enter__(self) -> webdriver.Chrome:
        options = Options()
        options.binary_location = os.environ.get("DASH_TEST_CHROMEPATH", "/usr/bin/chromium")
        for argument in ARGUMENTS:
            options.add_argument(argument)
        self._driver = webdriver.Chrome(options=options)
        return self._driver

    def __exit__(self, *_: object) -> None:
        self._driver.quit()
