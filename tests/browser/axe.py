"""Looks for violations of accessibility rules on every page with axe-core: `python -m tests.browser.axe`.

It needs `pip install '.[axe]'`, and is not part of the test command. Of that package only the file of axe-core is used, so
`pip install --no-deps axe-playwright-python` is enough. Another copy is named by `--script`.
"""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from selenium import webdriver

from dashboard.service.app import make_app
from dashboard.service.opening import opened
from dashboard.service.session.live import LiveSession
from replay.recording import packaged_scenarios
from tests.browser.board import Board
from tests.browser.conftest import chrome_options, rested, set_size
from tests.browser.look import IS_FINAL
from tests.browser.moments import MOMENTS
from tests.live_server import LiveServer
from tests.waiting import DEADLINE_S, until

PACKAGE = "axe_playwright_python"
MOMENT = "decide"
RUNS = packaged_scenarios()["lantern-2"].parent
RUN = "lantern-2/run-2031-03-02"
# Answers of plain text, such as that of an address where nothing is, are no pages.
PAGES = (
    "", "wall", "plan", "brief", "debrief", "runs", f"runs/debrief?run={RUN}", f"runs/compare?first={RUN}", "sign-in", "api/docs",
)
SIZES = ((1920, 1080), (1366, 768), (390, 844))
# What is pressed on the board -> what it opens.
OPENED = {"help-open": "the map of keys", "log-enter": "the entry of an event", "why-open": "why these numbers",
          "choices-what-if": "what-if"}  # fmt: skip
THEMES = ("dark", "light")
# A debrief that is still being made says so, on a page that the debrief takes the place of.
IS_MADE = "return document.readyState === 'complete' && !document.querySelector('progress')"
CHECK = """
    const done = arguments[0];
    axe.run(document, {resultTypes: ["violations"]}).then((found) => done(found.violations.map((one) => ({
        id: one.id, impact: one.impact, help: one.help, nodes: one.nodes.map((node) => node.html.slice(0, 160)),
    }))));
"""


def violations(driver: webdriver.Chrome, script: str) -> list[dict[str, Any]]:
    """The violations on the page that is on screen, each with its rule and the elements."""
    return driver.execute_async_script(script + CHECK)


def script_of(given: Path | None) -> str:
    """The source of axe-core."""
    spec = find_spec(PACKAGE)
    folders = list(spec.submodule_search_locations or []) if spec else []
    path = given or (Path(folders[0]) / "axe.min.js" if folders else None)
    if path is None or not path.is_file():
        sys.exit(f"axe-core: expected the package {PACKAGE.replace('_', '-')} or --script; found neither. pip install '.[axe]'")
    return path.read_text(encoding="utf-8")


def told(where: str, found: list[dict[str, Any]]) -> int:
    """Print what was found; gives how many rules are violated."""
    print(f"{where}: {len(found)} violations", flush=True)
    for one in found:
        print(f"  {one['impact']} {one['id']}: {one['help']}: {len(one['nodes'])} elements")
        for node in one["nodes"][:3]:
            print(f"    {node}")
    return len(found)


def main() -> None:
    """Visit every page in both themes at three sizes, open what the board can open, and print what is found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--script", type=Path, help="a file of axe-core")
    script = script_of(parser.parse_args().script)
    now, moment, count = datetime.now(UTC), MOMENTS[MOMENT](), 0
    driver = webdriver.Chrome(options=chrome_options())
    driver.set_script_timeout(DEADLINE_S)
    try:
        with LiveServer(make_app(opened(LiveSession(moment.plan(now), moment.store(now))), runs=RUNS).server) as live:
            for page in PAGES:
                for theme in THEMES:
                    set_size(driver, 1920, 1080)
                    chosen = "" if page == "api/docs" else f"{'&' if '?' in page else '?'}theme={theme}"
                    driver.get(f"{live.url}/{page}{chosen}")
                    until(lambda: driver.execute_script(IS_MADE), "the page being made")
                    if not page:
                        until(lambda: driver.execute_script("return document.body.dataset.drawn"), "the board")
                        until(lambda: driver.execute_script(IS_FINAL), "the choices", 2 * DEADLINE_S)
                    for size in SIZES if page != "wall" else SIZES[:1]:
                        set_size(driver, *size)
                        rested(driver, 800)
                        count += told(f"/{page} {theme} {size[0]}x{size[1]}", violations(driver, script))
            board = Board(driver, live.url)
            for button, what in OPENED.items():
                board.show()
                board.press(button)
                rested(driver, 800)
                count += told(what, violations(driver, script))
            driver.get("about:blank")
    finally:
        driver.quit()
    sys.exit(1 if count else 0)


if __name__ == "__main__":
    main()
