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
from tests.browser.board import Board
from tests.browser.conftest import chrome_options, rested, set_size
from tests.browser.look import IS_FINAL
from tests.browser.moments import MOMENTS
from tests.live_server import LiveServer
from tests.waiting import DEADLINE_S, until

PACKAGE = "axe_playwright_python"
MOMENT = "decide"
PAGES = ("", "wall", "plan", "brief", "debrief", "runs")
SIZES = ((1920, 1080), (390, 844))
THEMES = ("dark", "light")
# A debrief that is still being made says so, on a page that the debrief takes the place of.
IS_MADE = "return document.readyState === 'complete' && !document.querySelector('progress')"
RUN = """
    const done = arguments[0];
    axe.run(document, {resultTypes: ["violations"]}).then((found) => done(found.violations.map((one) => ({
        id: one.id, impact: one.impact, help: one.help, nodes: one.nodes.map((node) => node.html.slice(0, 160)),
    }))));
"""


def violations(driver: webdriver.Chrome, script: str) -> list[dict[str, Any]]:
    """The violations on the page that is on screen, each with its rule and the elements."""
    return driver.execute_async_script(script + RUN)


def script_of(given: Path | None) -> str:
    """The source of axe-core."""
    spec = find_spec(PACKAGE)
    folders = list(spec.submodule_search_locations or []) if spec else []
    path = given or (Path(folders[0]) / "axe.min.js" if folders else None)
    if path is None or not path.is_file():
        sys.exit(f"axe-core: expected the package {PACKAGE.replace('_', '-')} or --script; found neither. pip install '.[axe]'")
    return path.read_text(encoding="utf-8")


def main() -> None:
    """Visit every page in both themes at two sizes, with its map of keys, and print what is found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--script", type=Path, help="a file of axe-core")
    script = script_of(parser.parse_args().script)
    now, moment, count = datetime.now(UTC), MOMENTS[MOMENT](), 0
    driver = webdriver.Chrome(options=chrome_options())
    driver.set_script_timeout(DEADLINE_S)
    try:
        with LiveServer(make_app(opened(LiveSession(moment.plan(now), moment.store(now)))).server) as live:
            for page in PAGES:
                for theme in THEMES:
                    set_size(driver, 1920, 1080)
                    driver.get(f"{live.url}/{page}?theme={theme}")
                    until(lambda: driver.execute_script(IS_MADE), "the page being made")
                    if not page:
                        until(lambda: driver.execute_script("return document.body.dataset.drawn"), "the board")
                        until(lambda: driver.execute_script(IS_FINAL), "the choices", 2 * DEADLINE_S)
                    for size in SIZES if page != "wall" else SIZES[:1]:
                        set_size(driver, *size)
                        rested(driver, 800)
                        found = violations(driver, script)
                        count += len(found)
                        print(f"/{page} {theme} {size[0]}x{size[1]}: {len(found)} violations")
                        for one in found:
                            print(f"  {one['impact']} {one['id']}: {one['help']}: {len(one['nodes'])} elements")
                            for node in one["nodes"][:3]:
                                print(f"    {node}")
            set_size(driver, 1920, 1080)
            board = Board(driver, live.url)
            board.open()
            board.press("help-open")
            found = violations(driver, script)
            count += len(found)
            print(f"map of keys: {len(found)} violations")
            for one in found:
                print(f"  {one['impact']} {one['id']}: {one['help']}: {one['nodes'][:3]}")
            driver.get("about:blank")
    finally:
        driver.quit()
    sys.exit(1 if count else 0)


if __name__ == "__main__":
    main()
