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
from tests.local import LOCAL
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


@pytest.fixture(scope="module")
def steps(address: str) -> list[dict[str, Any]]:
    """The steps of the brief, as the server has them."""
    return httpx.get(f"{address}/brief.json", **LOCAL, timeout=60).json()["steps"]


@pytest.fixture(scope="module")
def pair(steps: list[dict[str, Any]]) -> tuple[int, list[str]]:
    """The number of the first step that begins together with the next and no other, after the first; and the titles of both."""
    starts = [step["from_pet_min"] for step in steps]
    at = next(at for at in range(1, len(steps)) if starts.count(starts[at]) == 2)
    return at + 1, [title(step) for step in steps[at : at + 2]]


def title(step: dict[str, Any]) -> str:
    return f"{step['task']} {step['title']}"


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


def test_the_keys_lead_through_the_steps(page: webdriver.Chrome, steps: list[Any], pair: tuple[int, list[str]]) -> None:
    """One at a time, or all that begin together; the list says where one is, and the frame where that is on the sheet."""
    assert titles(page) == [title(steps[0])]
    assert press(page, Keys.ARROW_RIGHT, Keys.ARROW_RIGHT) == [title(steps[2])]
    assert page.execute_script(FRAMED)
    current = page.find_elements(By.CSS_SELECTOR, "[aria-current=step]")
    assert [one.text.split()[1] for one in current] == [steps[2]["task"]] and current[0].is_displayed()
    last = press(page, Keys.END)
    heads = page.find_elements(By.CSS_SELECTOR, ".lanes span")
    assert [one.text for one in heads] == ["EV1", "EV2", "ARM"] and all(0 < one.rect["y"] < 150 for one in heads)
    assert last == [title(steps[-1])] and page.execute_script(FRAMED)
    assert page.find_element(By.ID, "brief-place").text == f"{len(steps)} of {len(steps)}"
    assert press(page, Keys.HOME) == [title(steps[0])]
    page.find_element(By.CSS_SELECTOR, f".list [data-step='{pair[0]}']").click()
    assert titles(page) == pair[1][:1] and press(page, "t") == pair[1]
    page.execute_script("localStorage.setItem('tetherline single-keys', 'off')")  # as the switch of the board does
    assert press(page, "t") == pair[1]
    page.execute_script("localStorage.removeItem('tetherline single-keys')")
    assert press(page, "t") == pair[1][:1]


def test_the_words_are_large_enough_for_a_table(page: webdriver.Chrome) -> None:
    """At least 22 px at 1920 by 1080, and the whole step is in sight; on a small screen nothing lies beside the page.

    On a laptop the times at the edge of the lane sheet are not cut.
    """
    press(page, *[Keys.ARROW_RIGHT] * 16)
    sizes = page.execute_script(
        "return Array.from(document.querySelectorAll('.step:not([hidden]) :is(h2, dt, dd)'),"
        " (one) => [parseFloat(getComputedStyle(one).fontSize), one.getBoundingClientRect().bottom])"
    )
    assert min(size for size, _ in sizes) >= 22 and max(bottom for _, bottom in sizes) <= 1080
    for width, height, places in ((1366, 768, ("documentElement", "querySelector('.sheet')")), (800, 1100, ("documentElement",))):
        set_size(page, width, height)
        for place in places:
            assert page.execute_script(f"const one = document.{place}; return one.scrollWidth <= one.clientWidth"), (width, place)
    set_size(page, 1920, 1080)


def test_what_one_shows_all_see(
    page: webdriver.Chrome, address: str, steps: list[Any], pair: tuple[int, list[str]]
) -> None:
    """The presenter steps on; the page that follows along shows that step, and says so when nobody presents any more."""
    press(page, Keys.ARROW_RIGHT)
    page.find_element(By.ID, "brief-present").click()
    until(lambda: "everyone who follows along" in page.find_element(By.ID, "brief-said").text, "that it is presented")
    press(page, Keys.ARROW_RIGHT)
    until(lambda: httpx.get(f"{address}/api/brief/step", **LOCAL).json()["step"] == 3, "the step at the server")
    page.get(f"{address}/brief?follow=1")
    until(lambda: titles(page) == [title(steps[2])], "the presented step")
    assert not page.find_element(By.CSS_SELECTOR, ".list").is_displayed()
    httpx.post(f"{address}/api/brief/step", json={"step": pair[0], "in_time": True}, **LOCAL).raise_for_status()
    until(lambda: titles(page) == pair[1], "both steps")
    assert page.execute_script(FRAMED)
    httpx.post(f"{address}/api/brief/step", json={"step": None}, **LOCAL).raise_for_status()
    until(lambda: "Nobody presents" in page.find_element(By.ID, "brief-said").text, "that nobody presents")
