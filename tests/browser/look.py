"""Pictures for the five-second look: `python -m tests.browser.look FOLDER`, or with some of the names of `moments.MOMENTS`.

Each moment is shown at five sizes. Nothing is measured: a person looks at the pictures, one by one, and answers the questions
that are listed in the README of the tests.
"""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path

from selenium import webdriver

from dashboard.service.app import make_app
from dashboard.service.opening import opened
from dashboard.service.session.live import LiveSession
from tests.browser.board import Board
from tests.browser.conftest import chrome_options, rested, set_size
from tests.browser.moments import MOMENTS, Moment
from tests.live_server import LiveServer
from tests.waiting import DEADLINE_S, until

SIZES = ((390, 844), (820, 1180), (1366, 768), (1920, 1080), (2560, 1440))
IS_FINAL = "return !/worked out|being looked for|not known yet/.test(document.getElementById('choices').textContent)"


def take(driver: webdriver.Chrome, moment: Moment, folder: Path) -> None:
    """Serve the moment, and save its pictures: first view at each size, whole page where it scrolls, and wall view."""
    now = datetime.now(UTC)
    live = LiveServer(make_app(opened(LiveSession(moment.plan(now), moment.store(now)))).server).start()
    is_on = True
    try:
        board = Board(driver, live.url)
        set_size(driver, 1920, 1080)
        board.open()
        if moment.name not in ("before start", "ended"):
            until(lambda: driver.execute_script(IS_FINAL), f"the choices of '{moment.name}'", 2 * DEADLINE_S)
        if moment.is_cut_off:
            live.stop()
            is_on = False
            until(lambda: "No contact" in board.text("contact"), "the bar")
        if moment.is_twice:
            _beside(driver, board, folder)
        for width, height in SIZES:
            set_size(driver, width, height)
            rested(driver, 800)
            name = f"{moment.name.replace(' ', '-')}-{width}"
            (folder / f"{name}.png").write_bytes(driver.get_screenshot_as_png())
            if (high := driver.execute_script("return document.documentElement.scrollHeight")) > height:
                set_size(driver, width, high)
                rested(driver, 800)
                (folder / f"{name}-whole.png").write_bytes(driver.get_screenshot_as_png())
        if is_on:
            set_size(driver, 1920, 1080)
            driver.get(f"{live.url}/wall")
            until(lambda: driver.execute_script("return document.body.dataset.drawn"), "the wall view")
            rested(driver, 800)
            (folder / f"{moment.name.replace(' ', '-')}-wall.png").write_bytes(driver.get_screenshot_as_png())
        driver.get("about:blank")
    finally:
        if is_on:
            live.stop()


def _beside(driver: webdriver.Chrome, board: Board, folder: Path) -> None:
    """A second board of the same sortie, on a tablet, once a note that the first one enters stands in its log."""
    first = driver.current_window_handle
    driver.switch_to.new_window("tab")
    other = Board(driver, board.address)
    set_size(driver, 820, 1180)
    other.open()
    driver.switch_to.window(first)
    board.type("log-note", "Arm camera shows the tray at rest")
    board.press("log-add-note")
    driver.switch_to.window(driver.window_handles[-1])
    until(lambda: "Arm camera shows the tray at rest" in other.text("log-rows"), "the note on the other board")
    (folder / "two-boards-other.png").write_bytes(driver.get_screenshot_as_png())
    driver.close()
    driver.switch_to.window(first)


def main() -> None:
    """Make the pictures of the moments that are named, or of all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, help="where the pictures go")
    parser.add_argument("names", nargs="*", help=f"some of {', '.join(MOMENTS)}")
    given = parser.parse_args()
    if unknown := set(given.names) - set(MOMENTS):
        sys.exit(f"expected some of {', '.join(MOMENTS)}; found {', '.join(sorted(unknown))}")
    given.folder.mkdir(parents=True, exist_ok=True)
    driver = webdriver.Chrome(options=chrome_options())
    driver.set_script_timeout(DEADLINE_S)
    try:
        for name in given.names or MOMENTS:
            take(driver, MOMENTS[name](), given.folder)
            print(name, file=sys.stderr, flush=True)
    finally:
        driver.quit()


if __name__ == "__main__":
    main()
