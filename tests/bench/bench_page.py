"""Whether the page of the board stays as it is through an hour of replay at 60 times the speed.

    python -m tests.bench page

A headless Chromium shows the demo, which begins anew when it has come to its end. Each minute the page's garbage is collected,
and its memory, its elements, its listeners and the processor time of its main thread are read. Printed are the figures of the
second minute and of the last. The row of the table is the processor time of each minute.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from typing import NamedTuple

import httpx
from selenium import webdriver

from tests.bench.bench_browser import chromium, until_usable
from tests.bench.measure import Measured
from tests.bench.server import serving
from tests.local import LOCAL

MINUTES = 60
SPEED = 60
MINUTE_S = 60


class PageUse(NamedTuple):
    """What the page uses; `busy_s` counts from its load."""

    heap_mb: float
    elements: int
    listeners: int
    busy_s: float

    def text(self) -> str:
        """The figures that should stay as they are, in words."""
        return f"{self.heap_mb:.1f} MB of scripts' memory, {self.elements:,} nodes, {self.listeners:,} listeners"


def used(browser: webdriver.Chrome) -> PageUse:
    """What the page uses once its garbage is collected."""
    browser.execute_cdp_cmd("HeapProfiler.collectGarbage", {})
    found = {one["name"]: one["value"] for one in browser.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]}
    return PageUse(found["JSHeapUsedSize"] / 1e6, int(found["Nodes"]), int(found["JSEventListeners"]), found["TaskDuration"])


def measure(count: int = MINUTES) -> Iterator[Measured]:
    """Seconds in which the page's main thread was busy, for each minute; `count` is the number of minutes."""
    busy_s: list[float] = []
    with chromium() as browser, serving("demo", "--no-browser") as url, httpx.Client(base_url=url, **LOCAL) as client:
        browser.get(url)
        until_usable(browser)
        browser.execute_cdp_cmd("Performance.enable", {})
        client.post("/api/replay", json={"action": "speed", "speed": SPEED}).raise_for_status()
        client.post("/api/replay", json={"action": "play"}).raise_for_status()
        before = early = last = used(browser)
        for minute in range(count):
            time.sleep(MINUTE_S)
            if client.get("/api/state").json()["ended"]:
                client.post("/api/replay", json={"action": "seek", "at_pet_min": 0}).raise_for_status()
                client.post("/api/replay", json={"action": "play"}).raise_for_status()
            last = used(browser)
            busy_s.append(last.busy_s - before.busy_s)
            before = last
            if minute == 1:
                early = last
            print(f"minute {minute + 1} of {count}: {last.text()}, busy {busy_s[-1]:.1f} s", file=sys.stderr, flush=True)
        print(f"page: {early.text()} after two minutes; {last.text()} after {count}", flush=True)
    yield Measured("page: main thread busy, each minute of replay", busy_s)
