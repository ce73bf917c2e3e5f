"""Makes the picture of the board that the README shows: `python -m tests.browser.pictures`.

It is the invented run that comes with the program, at a moment at which a decision is called for.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from selenium import webdriver

from tests.browser.board import Board, replay_app
from tests.browser.conftest import chrome_options, rested, set_size
from tests.live_server import LiveServer
from tests.waiting import until

BOARD = Path(__file__).parents[2] / ".github" / "board.png"
PET_MIN, WIDTH, HEIGHT = 255.0, 1920, 1080
ARE_MADE = "return document.querySelectorAll('#choices .choice-items').length > 0"
IS_FINAL = "return !/worked out|being looked for/.test(document.getElementById('choices').innerText)"


def main() -> None:
    """Start the board and the browser, wait for the choices, and save what is seen."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--to", type=Path, default=BOARD, help=f"the file to write ({BOARD.name} of the README)")
    given = parser.parse_args()
    driver = webdriver.Chrome(options=chrome_options())
    try:
        with LiveServer(replay_app(PET_MIN, advised=True)) as live:
            set_size(driver, WIDTH, HEIGHT)
            Board(driver, live.url).open()
            until(lambda: driver.execute_script(ARE_MADE), "the choices")
            until(lambda: driver.execute_script(IS_FINAL), "the last of the choices")
            rested(driver)
            given.to.write_bytes(driver.get_screenshot_as_png())
            driver.get("about:blank")
    finally:
        driver.quit()
    print(f"{given.to}: the board at PET {PET_MIN // 60:.0f}:{PET_MIN % 60:02.0f}")


if __name__ == "__main__":
    main()
