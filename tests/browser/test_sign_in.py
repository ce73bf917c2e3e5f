"""Signing in on the board: who watches reads everything and is told why, who signs in enters by name."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.log.store import EventStore
from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.key_file import add_key, revoke_keys
from dashboard.service.access.keys import Keys
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.browser.board import Board, clock_event, live_plan
from tests.waiting import until

SAID = "return document.body?.innerText ?? ''"  # also while the page changes, when an element that was found is soon gone


def test_a_person_signs_in_enters_by_name_and_signs_out(
    browser: webdriver.Chrome, serve_once: Callable[[Any], str], tmp_path: Path
) -> None:
    """Before and after, and once the key is revoked, the board shows everything and takes nothing, with the reason."""
    path, plan = tmp_path / "keys.toml", live_plan()
    _, key = add_key(path, "A. Person", "log")
    store = EventStore("sqlite://", plan.sortie.id)
    store.append([clock_event(plan)], datetime.now(UTC))
    board = Board(browser, serve_once(make_app(Desk(LiveSession(plan, store)), Keys(people=FollowedKeyFile(path))).server))

    board.open()
    until(lambda: "you may only watch: sign in" in board.text("lane-outcome-EV1"), "why nothing can be entered")
    assert not browser.find_element(By.ID, "log-enter").is_displayed()
    assert board.text("band-who") == "sign in"

    board.press("band-who")
    for given in ("wrong", key):
        field = until(lambda: browser.find_elements(By.ID, "key"), "the form")[0]
        field.send_keys(given)
        browser.find_element(By.CSS_SELECTOR, "button").click()
        if given == "wrong":
            until(lambda: "not known here" in browser.execute_script(SAID), "that the key is wrong")
    until(lambda: board.text("band-who") == "A. Person, log", "who is signed in")
    assert key not in browser.current_url and browser.execute_script("return document.cookie") == ""

    until(lambda: browser.find_element(By.ID, "lane-start-EV1").is_enabled(), "the button")
    board.press("lane-start-EV1")
    until(lambda: "A. Person" in board.text("log-rows"), "the entry with the name")

    revoke_keys(path, "A. Person")
    until(lambda: "this key was revoked" in board.text("lane-outcome-EV1"), "why nothing can be entered any more")
    assert "A. Person" in board.text("log-rows") and board.text("band-who") == "sign in"
    assert not [line for line in browser.get_log("browser") if "Content Security Policy" in line["message"]]


def test_signing_out_leaves_the_board_to_watch(
    browser: webdriver.Chrome, serve_once: Callable[[Any], str], tmp_path: Path
) -> None:
    """The page of the sign-in says who is there, and signs out."""
    path, plan = tmp_path / "keys.toml", live_plan()
    _, key = add_key(path, "B. Person", "lead")
    store = EventStore("sqlite://", plan.sortie.id)
    store.append([clock_event(plan)], datetime.now(UTC))
    board = Board(browser, serve_once(make_app(Desk(LiveSession(plan, store)), Keys(people=FollowedKeyFile(path))).server))
    board.open(f"?key={key}")
    until(lambda: board.text("band-who") == "B. Person, lead", "who is signed in")
    assert browser.current_url == f"{board.address}/"
    board.press("band-who")
    until(lambda: "signed in as B. Person (lead)" in browser.execute_script(SAID), "the page")
    browser.find_element(By.CSS_SELECTOR, "button").click()
    until(lambda: browser.find_elements(By.ID, "key"), "the form")
    board.open()
    assert board.text("band-who") == "sign in"
