"""The dialog of reasons in a real browser."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.board import Board, replay_app
from tests.browser.conftest import rested, set_size
from tests.waiting import until


@pytest.fixture(scope="module")
def page(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> webdriver.Chrome:
    """The board of the recorded run, paused at PET 4:10."""
    Board(browser, serve(replay_app(250))).open()
    rested(browser)
    return browser


def is_open(page: webdriver.Chrome) -> bool:
    return page.execute_script("return document.getElementById('why').open")


def open_by_key(page: webdriver.Chrome) -> str:
    page.find_element(By.TAG_NAME, "body").send_keys("y")
    shown = "return document.getElementById('why').open && document.querySelector('#why-body svg.drift') !== null"
    until(lambda: page.execute_script(shown), "the reasons being shown")
    return page.find_element(By.ID, "why-body").text


def close(page: webdriver.Chrome) -> None:
    page.switch_to.active_element.send_keys(Keys.ESCAPE)
    until(lambda: not is_open(page), "the dialog being closed by Escape")


def test_the_button_opens_it_and_escape_closes_it(page: webdriver.Chrome) -> None:
    """The reasons come from the server; nothing of the board moves."""
    where = "return JSON.stringify([...document.querySelectorAll('.panel, #sheet-graph')].map(e => e.getBoundingClientRect()))"
    before = page.execute_script(where)
    page.find_element(By.ID, "why-open").click()
    until(lambda: "Sets the end:" in page.find_element(By.ID, "why-body").text, "the reasons being shown")
    assert page.execute_script(where) == before
    close(page)
    assert page.execute_script(where) == before


def test_the_key_opens_it_but_not_while_writing(page: webdriver.Chrome) -> None:
    """`y` in a field is a letter."""
    field = page.find_element(By.ID, "log-filter")
    field.send_keys("y")
    assert field.get_attribute("value") == "y" and not is_open(page)
    field.clear()
    page.execute_script("document.activeElement.blur()")
    assert "What drives the end" in open_by_key(page)
    close(page)


def test_every_time_in_it_carries_the_name_of_its_clock(page: webdriver.Chrome) -> None:
    """Outside the drawing, whose axes are headed PET, H:MM stands after PET or UTC."""
    open_by_key(page)
    script = """const copy = document.getElementById('why-body').cloneNode(true);
        copy.querySelectorAll('svg').forEach((one) => one.remove()); return copy.textContent"""
    said = page.execute_script(script)
    close(page)
    times = list(re.finditer(r"-?\d{1,2}:[0-5]\d", said))
    assert len(times) > 10
    for found in times:
        assert re.search(r"(PET|UTC)[ \d:]*( to )?$", said[: found.start()]), said[max(0, found.start() - 40) : found.end()]


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (1920, 1080)])
def test_it_lies_inside_the_window_and_nothing_is_cut_off(page: webdriver.Chrome, width: int, height: int) -> None:
    """The dialog fits a laptop and a desk; it scrolls down, never sideways."""
    set_size(page, width, height)
    try:
        open_by_key(page)
        box = page.find_element(By.ID, "why").rect
        assert box["x"] >= 0 and box["y"] >= 0
        assert box["x"] + box["width"] <= width and box["y"] + box["height"] <= height
        wide = "const e = document.querySelector(arguments[0]); return e.scrollWidth - e.clientWidth"
        assert page.execute_script(wide, "#why-body") <= 0
        assert page.execute_script(wide, ".why-strip") <= 0
        close(page)
    finally:
        set_size(page, 1920, 1080)


def test_a_lost_server_is_said(page: webdriver.Chrome) -> None:
    """No answer: the dialog says so, and what to do."""
    page.execute_script("window.realFetch = window.fetch; window.fetch = () => Promise.reject(new Error('lost'))")
    try:
        page.find_element(By.ID, "why-open").click()
        until(lambda: "Press Refresh" in page.find_element(By.ID, "why-body").text, "the loss being said")
    finally:
        page.execute_script("window.fetch = window.realFetch")
    page.find_element(By.ID, "why-renew").click()
    until(lambda: page.find_elements(By.CSS_SELECTOR, "#why-body svg.drift"), "the reasons being shown again")
    close(page)
