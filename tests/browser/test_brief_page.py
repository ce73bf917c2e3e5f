"""The page of the brief in a real browser: walking through it, presenting, and following along."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.board import replay_app
from tests.browser.conftest import set_size
from tests.waiting import until

# Whether the frame of the step lies on a block of the drawing and can be seen.
FRAMED = """
    const [sheet, mark] = ["brief-sheet", "brief-drawing"].map((id) => document.getElementById(id));
    const box = sheet.getBoundingClientRect(), frames = Array.from(mark.querySelectorAll(".mark"));
    const rects = Array.from(mark.querySelectorAll("rect"), (one) => one.getBoundingClientRect());
    return frames.length > 0 && frames.every((frame) => {
        const at = frame.getBoundingClientRect();
        return at.top >= box.top && at.top < box.bottom
            && rects.some((one) => Math.abs(one.left - at.left) < 2 && Math.abs(one.top - at.top) < 2);
    });
"""


@pytest.fixture(scope="module")
def address(serve: Callable[[Any], str]) -> str:
    return serve(replay_app(60))


@pytest.fixture
def page(browser: webdriver.Chrome, address: str) -> Iterator[webdriver.Chrome]:
    browser.get(f"{address}/brief")
    yield browser
    assert browser.get_log("browser") == []


def titles(page: webdriver.Chrome) -> list[str]:
    return [one.text for one in page.find_elements(By.CSS_SELECTOR, ".step h2") if one.is_displayed()]


def press(page: webdriver.Chrome, *keys: str) -> list[str]:
    page.find_element(By.TAG_NAME, "body").send_keys(*keys)
    return titles(page)


def test_the_keys_lead_through_the_steps(page: webdriver.Chrome) -> None:
    """One at a time, or all that begin together; the list says where one is, and the frame where that is on the sheet."""
    assert titles(page) == ["T010 Suits on battery, last of the depress, hatch open"]
    assert press(page, Keys.ARROW_RIGHT, Keys.ARROW_RIGHT) == ["T020 Egress, tethers across, tool look-over"]
    assert page.execute_script(FRAMED)
    current = page.find_elements(By.CSS_SELECTOR, "[aria-current=step]")
    assert [one.text.split()[1] for one in current] == ["T020"] and current[0].is_displayed()
    last = press(page, Keys.END)
    assert len(last) == 1 and page.execute_script(FRAMED)
    assert page.find_element(By.ID, "brief-place").text.split()[0] == page.find_element(By.ID, "brief-place").text.split()[2]
    assert press(page, Keys.HOME)[0].startswith("T010")
    page.find_element(By.XPATH, "//ol//button[contains(., 'T130')]").click()
    assert len(titles(page)) == 1
    together = press(page, "t")
    assert [one.split()[0] for one in together] == ["T130", "T140"]


def test_the_words_are_large_enough_for_a_table(page: webdriver.Chrome) -> None:
    """At least 22 px at 1920 by 1080, and the whole step is in sight; on a small screen nothing lies beside the page."""
    press(page, *[Keys.ARROW_RIGHT] * 16)
    sizes = page.execute_script(
        "return Array.from(document.querySelectorAll('.step:not([hidden]) :is(h2, dt, dd)'),"
        " (one) => [parseFloat(getComputedStyle(one).fontSize), one.getBoundingClientRect().bottom])"
    )
    assert min(size for size, _ in sizes) >= 22 and max(bottom for _, bottom in sizes) <= 1080
    for width, height in ((1366, 768), (800, 1100)):
        set_size(page, width, height)
        assert page.execute_script("return document.documentElement.scrollWidth <= innerWidth")
    set_size(page, 1920, 1080)


def test_what_one_shows_all_see(page: webdriver.Chrome, address: str) -> None:
    """The presenter steps on; the page that follows along shows that step, and says so when nobody presents any more."""
    press(page, Keys.ARROW_RIGHT)
    page.find_element(By.ID, "brief-present").click()
    until(lambda: "everyone who follows along" in page.find_element(By.ID, "brief-said").text, "that it is presented")
    press(page, Keys.ARROW_RIGHT)
    until(lambda: httpx.get(f"{address}/api/brief/step", trust_env=False).json()["step"] == 3, "the step at the server")
    page.get(f"{address}/brief?follow=1")
    until(lambda: titles(page) == ["T020 Egress, tethers across, tool look-over"], "the presented step")
    assert not page.find_element(By.CSS_SELECTOR, ".list").is_displayed()
    httpx.post(f"{address}/api/brief/step", json={"step": 13, "in_time": True}, trust_env=False).raise_for_status()
    until(lambda: len(titles(page)) == 2, "both steps")
    assert page.execute_script(FRAMED)
    httpx.post(f"{address}/api/brief/step", json={"step": None}, trust_env=False).raise_for_status()
    until(lambda: "Nobody presents" in page.find_element(By.ID, "brief-said").text, "that nobody presents")
