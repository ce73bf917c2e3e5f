"""The logger's keys: each entry with two or three of them; none of them acts while someone types."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.board import Board, live_app, live_plan
from tests.waiting import until

OPEN = "return Array.from(document.querySelectorAll('dialog[open]'), (one) => one.id)"
NAMES = """return Array.from(document.querySelectorAll("button")).filter((one) => one.checkVisibility())
    .map((one) => one.getAttribute("aria-label") || one.textContent.trim() + (one.title ? ", " + one.title : ""))"""


@pytest.fixture(scope="module")
def live(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """A live sortie, 20 minutes old."""
    board = Board(browser, serve(live_app(live_plan())))
    board.open()
    return board


def keys(board: Board, *pressed: str) -> None:
    """Press keys wherever the focus is, once it has left a dialog that closed."""
    until(lambda: board.driver.execute_script("return document.activeElement.checkVisibility()"), "the focus being seen")
    board.driver.switch_to.active_element.send_keys(*pressed)


def test_a_lane_is_worked_by_its_number_and_a_letter(live: Board) -> None:
    """Start, hold with a reason, resume, done and next in one press; the joint task is undone from the other card."""
    keys(live, "1", "t")
    until(lambda: live.driver.execute_script(OPEN) == ["late-form"], "the question for the time")
    keys(live, "7", Keys.ENTER)
    until(lambda: live.driver.execute_script(OPEN) == [], "the time taken")
    keys(live, "1")
    until(lambda: "EV1: s start" in live.text("key-hint"), "the next key being explained")
    keys(live, "s")
    until(lambda: "7 of 30 min" in live.text("lane-body-EV2"), "the joint task in work since then")
    assert live.text("key-hint") == ""
    keys(live, "1", "h")
    until(lambda: live.driver.execute_script(OPEN) == ["hold-form"], "the question for a reason")
    keys(live, "tether", Keys.ENTER)
    until(lambda: "tether" in live.text("lane-body-EV1"), "the hold")
    keys(live, "1", "h")
    until(lambda: live.text("lane-hold-EV1") == "Hold", "the task in work again")
    keys(live, "1", "n")
    until(lambda: "of 45 min" in live.text("lane-body-EV1"), "the next task in work")
    logged = live.text("log-rows")
    assert 0 <= logged.index("start T020") < logged.index("done T010")  # newest on top
    until(lambda: live.driver.find_element(By.ID, "lane-undo-EV2").is_enabled(), "undo on the other card")
    keys(live, "2", "u")
    until(lambda: "withdraw" in live.text("log-rows"), "the joint task undone from there")
    assert "undo of done T010: recorded" in live.text("lane-outcome-EV2")


def test_a_task_is_found_by_typing_and_no_key_acts_meanwhile(live: Board) -> None:
    """The letters go into the field; Enter brings the task into view, and the sheet no longer follows."""
    keys(live, "/")
    until(lambda: live.driver.execute_script(OPEN) == ["find"], "the search")
    keys(live, "?n1d tool")
    assert live.driver.execute_script(OPEN) == ["find"]
    assert "no task" in live.text("find-found")
    live.type("find-field", "tool count")
    assert live.text("find-found").startswith("T030 Tool count")
    keys(live, Keys.ENTER)
    until(lambda: live.text("sheet-back-to-now") == "Follow now", "the task in view")
    keys(live, "f")
    until(lambda: live.text("sheet-back-to-now") != "Follow now", "the view following again")


def test_the_map_opens_and_a_theme_is_kept(live: Board) -> None:
    """By its key; the theme holds after the page is loaded again."""
    keys(live, "?")
    until(lambda: live.driver.execute_script(OPEN) == ["help"], "the map")
    assert "done, and start what is next" in live.text("help")
    live.driver.find_element(By.ID, "help-theme").send_keys("light")
    until(lambda: live.driver.execute_script("return document.documentElement.dataset.theme") == "light", "the theme")
    live.open()
    assert live.driver.execute_script("return document.documentElement.dataset.theme") == "light"
    live.driver.execute_script("localStorage.removeItem('tetherline theme')")


def test_the_signs_of_the_lane_sheet_are_said_on_focus_and_open_the_map(live: Board) -> None:
    """Flag, hatch, bar and rail in a few lines; a press leads to the map with all of them."""
    live.driver.execute_script("document.getElementById('basis-signs').focus()")
    said = live.text("basis")
    assert all(word in said for word in ("briefed start", "Hatched", "P10 to P90", "rail")), said
    keys(live, Keys.ENTER)
    until(lambda: live.driver.execute_script(OPEN) == ["help"], "the map")
    keys(live, Keys.ESCAPE)
    until(lambda: live.driver.execute_script(OPEN) == [], "the map closed")


def test_single_keys_can_be_switched_off(live: Board) -> None:
    """As WCAG 2.1.4 asks for speech input: then neither a key of the board nor one of a lane acts. The button still does."""
    live.press("help-open")
    live.press("help-single-keys")
    assert live.text("help-single-keys") == "Single keys: off"
    live.press("help-close")
    keys(live, "1")
    assert live.text("key-hint") == ""
    keys(live, "?", "/", "l")
    assert live.driver.execute_script(OPEN) == []
    live.press("help-open")
    live.press("help-single-keys")
    live.press("help-close")
    keys(live, "1")
    until(lambda: "EV1: s start" in live.text("key-hint"), "the next key being explained")
    keys(live, Keys.ESCAPE)


def test_every_button_has_a_name_of_its_own(live: Board) -> None:
    """As a screen reader says it."""
    names = live.driver.execute_script(NAMES)
    assert [name for name in names if names.count(name) > 1] == []
