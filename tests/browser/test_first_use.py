"""First use: an empty board offers PET zero first; the demo offers a tour that does not come again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from replay.recording import load_run, packaged_scenarios
from tests.browser.board import Board, live_plan, paused_desk
from tests.waiting import until


def test_an_empty_board_offers_pet_zero_first(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """It says what to do; one press and a confirmation set PET zero, and the offer goes."""
    plan = live_plan()
    board = Board(browser, serve_once(make_app(Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id)))).server))
    board.open()
    assert "PET zero is not set" in board.text("first") and "press Start" in board.text("first")
    board.press("first-zero-at")
    until(lambda: "UTC HH:MM" in board.text("entry-form"), "the form for PET zero at another time")
    board.press("entry-cancel")
    board.press("first-zero")
    until(lambda: "PET zero is set to UTC" in board.text("ask-words"), "the question")
    board.press("ask-yes")
    until(lambda: board.text("first") == "", "the offer going")
    assert board.text("band-pet") == "0:00"


def test_the_tour_has_six_stops_and_does_not_come_again(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """Each stop marks its region; once closed, the next page does not show it."""
    desk = paused_desk(load_run(packaged_scenarios()["lantern-2"]))
    board = Board(browser, serve_once(make_app(desk, touring=True).server))
    board.open()
    seen = []
    for stop in range(1, 7):
        until(lambda: board.text("tour-count") == f"{stop} of 6", "the stop")  # noqa: B023
        (marked,) = browser.find_elements(By.CLASS_NAME, "tour-here")
        seen.append(marked.get_attribute("id"))
        board.press("tour-next")
    assert len(set(seen)) == 6 and board.text("tour") == ""
    board.open()
    assert board.text("tour") == "" and not browser.find_elements(By.CLASS_NAME, "tour-here")
