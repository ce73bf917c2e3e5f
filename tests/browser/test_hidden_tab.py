"""A tab that nobody sees."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from selenium import webdriver

from tests.browser.board import Board, post, replay_app
from tests.waiting import until

# A browser draws no frame of a tab that nobody sees.
SEE = """
    window.frames_of_page ??= window.requestAnimationFrame;
    window.requestAnimationFrame = arguments[0] === "hidden" ? () => 0 : window.frames_of_page;
    Object.defineProperty(document, "visibilityState", {configurable: true, get: () => arguments[0]});
    document.dispatchEvent(new Event("visibilitychange"));
"""
SHOWN = "return document.getElementById('headline-lanes').innerText"  # drawn with a message; the clock goes on by itself
HEARD = "return modules.moment.message().pet_min"


def test_a_tab_that_comes_back_into_view_shows_the_newest_state_at_once(
    browser: webdriver.Chrome, serve: Callable[[Any], str]
) -> None:
    """Out of sight nothing is drawn; the very event of coming back draws what came meanwhile, without asking the server."""
    board = Board(browser, serve(replay_app(150)))
    board.open()
    see, told = board.driver.execute_script, board.driver.execute_script
    see(SEE, "hidden")
    before = told(SHOWN)
    post(board.address, "/api/replay", {"action": "seek", "at_pet_min": 205})
    until(lambda: told(HEARD) == 205, "the message of PET 3:25")
    assert "EV1" in before and told(SHOWN) == before
    assert see(f"{SEE}; {SHOWN}", "visible") != before
