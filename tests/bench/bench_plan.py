"""Typing a plan of 40 tasks into the plan page by keyboard, and the time from an edit to checks and lane sheet redrawn.

Headless Chromium, on the same computer as the server. It prints keys and seconds of the typing, the redraws (the bar is 300 ms),
the processor time of server and page for one edit, and the time of the check and of the brief of the plan that was saved.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.bench.bench_browser import chromium, until
from tests.bench.measure import Measured, table
from tests.bench.server import serving_process

# Invented: a second visit to the Lantern Outpost, to wash its lens. Title, what is typed for the lanes, minutes.
WORK = [
    ("Tethers across, tools looked over", "EV1 EV2", "8/12/20"), ("Along the rail to the gallery", "EV1", "6/9/15"),
    ("Arm from rest to the pick-up", "ARM", "10"), ("Along the rail to the lens", "EV2", "7/10/16"),
    ("Lens cover latches 1 to 4", "EV1", "12/16/25"), ("Wash kit unpacked and lashed", "EV2", "9/12/20"),
    ("Lens cover off", "EV1 EV2", "10/14/24"), ("Upper ring washed", "EV1", "15/22/35"), ("Lower ring washed", "EV2", "15/20/35"),
    ("Photo survey of the ring", "EV2", "6/8/12"),
]  # fmt: skip
NEW = (
    "--id", "lantern-wash", "--title", "Lantern Outpost: the lens washed", "--crew", "EV1 EV2", "--arm", "ARM",
    "--start", "2031-05-01T09:00:00Z", "--limit", "12:00", "--reserve", "30", "--task", "Hatch open; EV1 EV2; 10/15/20",
)  # fmt: skip
TASKS = 40
EDITS = 40
FOCUSED = "const on = document.activeElement; return on.matches('.plan-field') && on.ariaLabel === {column!r}"
SETTLED_S = 1.2
# When Enter was pressed last, and the end of the last redraw since then.
WATCH = "addEventListener('keydown', (event) => { if (event.key === 'Enter') window.committed = performance.now(); }, true)"
READ = """
const all = performance.getEntriesByName('plan redrawn'), last = all[all.length - 1];
return last.startTime + last.duration - window.committed;
"""
CELL = "return grid.getDisplayedRowAtIndex(arguments[0]).data.duration"
DEMO = Path(__file__).parents[2] / "replay" / "scenarios" / "lantern-2" / "plan.toml"
GRID = "const grid = window.dash_ag_grid.getApi('plan-grid'); "


class _Typist:
    """Sends keys, and counts them."""

    def __init__(self, browser: webdriver.Chrome) -> None:
        self.browser, self.count = browser, 0

    def keys(self, *words: str) -> None:
        self.count += sum(len(word) for word in words)
        ActionChains(self.browser, duration=0).send_keys(*words).perform()

    def control(self, key: str) -> None:
        self.count += 2
        ActionChains(self.browser, duration=0).key_down(Keys.CONTROL).send_keys(key).key_up(Keys.CONTROL).perform()

    def field(self, column: str) -> None:
        until(self.browser, FOCUSED.format(column=column))


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        path, demo = Path(folder) / "plan.toml", Path(folder) / "demo.toml"
        _run("new", path, *NEW)
        shutil.copy(DEMO, demo)
        with chromium() as browser:
            with serving_process("serve", path) as (address, process):
                _open(browser, address)
                typed_s, count = _type(browser)
                print(f"{TASKS} tasks typed from nothing and saved: {count} keys, {typed_s:.1f} s of the machine's typing")
                print(f"Of a person at 3 keys a second: {count / 3 / 60:.0f} min")
                rows = [Measured("typed plan: cell committed to checks and lane sheet", _edits(browser, process.pid))]
            with serving_process("serve", demo) as (address, process):
                _open(browser, address)
                rows.append(Measured("demo plan: cell committed to checks and lane sheet", _edits(browser, process.pid)))
                browser.execute_script("localStorage.clear()")
        print(table(rows))
        print(f"Load of the computer at the end: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
        print(f"Check of the saved plan: {_run('check', path):.1f} s of processor")
        print(f"Brief of the saved plan: {_run('brief', path, '--to', Path(folder) / 'brief'):.1f} s of processor")
        for made in sorted((Path(folder) / "brief").iterdir()):
            print(f"  {made.name}: {made.stat().st_size / 1000:.0f} kB")


def _open(browser: webdriver.Chrome, address: str) -> None:
    browser.get(f"{address}/plan/")
    until(browser, "return document.body.dataset.drawn")


def _type(browser: webdriver.Chrome) -> tuple[float, int]:
    typist, began_s = _Typist(browser), time.perf_counter()
    browser.execute_script(GRID + "grid.setFocusedCell(0, 'title')")
    for number in range(TASKS - 1):
        title, lanes, duration = WORK[number % len(WORK)]
        typist.control(Keys.ENTER)
        typist.field("title")
        typist.keys(title if number < len(WORK) else f"{title}, part {number // len(WORK) + 1}", Keys.TAB)
        typist.field("lanes")
        typist.keys(lanes, Keys.TAB)
        typist.field("start")
        typist.keys(Keys.TAB)
        typist.field("duration")
        typist.keys(duration)
    typist.keys(Keys.ENTER)
    time.sleep(SETTLED_S)
    typist.control("s")
    until(browser, "return document.getElementById('plan-dialog').open")
    typist.keys(Keys.ENTER)
    until(browser, "return document.getElementById('plan-said').textContent.startsWith('Saved')")
    return time.perf_counter() - began_s, typist.count


def _edits(browser: webdriver.Chrome, server: int) -> list[float]:
    """Seconds from each commit to the redraw that shows it; prints the processor time of the server."""
    browser.execute_script(WATCH)
    typist, took_s = _Typist(browser), []
    used_s, began_s = _processor_s(server), time.perf_counter()
    for number in range(EDITS):
        row = 1 + number * 7 % (TASKS - 1)
        parts = browser.execute_script(GRID + "grid.setFocusedCell(arguments[0], 'duration');" + CELL, row).split("/")
        likely = parts[len(parts) // 2]  # stays: the starts are briefed, so another length would make overlaps
        typist.keys(f"1/{likely}/{90 + number % 9}", Keys.ENTER)  # at once: what was typed is not checked yet
        time.sleep(SETTLED_S)
        took_s.append(browser.execute_script(READ) / 1000)
    spent_s, whole_s = _processor_s(server) - used_s, time.perf_counter() - began_s
    print(f"Processor time of the server per edit: {spent_s / EDITS * 1000:.0f} ms ({spent_s / whole_s:.0%} of one processor)")
    return took_s


def _run(*arguments: str | Path) -> float:
    """Seconds of processor that a command takes."""
    before = os.times()
    made = subprocess.run([sys.executable, "-m", "dashboard.cli", *map(str, arguments)], capture_output=True, text=True)
    if made.returncode not in (0, 2):
        raise RuntimeError(made.stderr)
    after = os.times()
    return after.children_user - before.children_user + after.children_system - before.children_system


def _processor_s(process: int) -> float:
    """Seconds of processor that a process has taken (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


if __name__ == "__main__":
    main()
