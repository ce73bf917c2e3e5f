"""The debrief in a real browser: from the board to its page, what stands there, and what can be had from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.responses import HTMLResponse, PlainTextResponse, Response
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.core.base.caution import CAUTION
from dashboard.markup import tag, text
from dashboard.reports.html import waiting_html, whole_page
from dashboard.service.http.debrief_routes import LINKS, XLSX
from dashboard.service.http.modules import add_modules, assets_folder, read_modules
from tests.browser.board import Board, replay_app
from tests.browser.conftest import set_size
from tests.waiting import until

KINDS = {
    "The board": "text/html", "Plans and runs": "text/html", "PDF": "application/pdf", "Tables (XLSX)": XLSX,
    "Carry-over (plan file)": "application/toml", "Facts (JSON)": "application/json",
}  # fmt: skip
# The lines of a drawing that can be seen: of some length, inside the drawing.
DRAWN = """
    const box = arguments[0].getBoundingClientRect();
    return Array.from(arguments[0].querySelectorAll("rect, path, line")).map((one) => one.getBoundingClientRect())
        .filter((one) => one.width + one.height > 2 && one.left >= box.left - 1 && one.right <= box.right + 1).length;
"""
ANSWER = """
    const done = arguments[1];
    fetch(arguments[0]).then(async (one) => done([one.status, one.headers.get("content-type"), (await one.blob()).size]));
"""


@pytest.fixture(scope="module")
def page(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Iterator[webdriver.Chrome]:
    """The debrief so far of the recorded run at PET 5:00, opened by the link of the board."""
    board = Board(browser, serve(replay_app(300)))
    board.open()
    first = browser.current_window_handle
    browser.find_element(By.LINK_TEXT, "Debrief").click()
    until(lambda: len(browser.window_handles) == 2, "a page of its own")
    browser.switch_to.window(next(one for one in browser.window_handles if one != first))
    until(lambda: browser.find_elements(By.TAG_NAME, "footer"), "the debrief")
    yield browser
    browser.close()
    browser.switch_to.window(first)


def section(page: webdriver.Chrome, heading: str) -> list[Any]:
    """What stands under a heading, down to the next of its rank."""
    found = page.find_elements(By.XPATH, f"//h2[.='{heading}']/following-sibling::*[preceding-sibling::h2[1][.='{heading}']]")
    assert found, heading
    return found


def test_it_is_of_the_moment_that_the_board_shows(page: webdriver.Chrome) -> None:
    """Its address, its title, and as of when."""
    assert page.current_url.endswith("/debrief")
    assert page.title.startswith("Debrief so far: ")
    assert "As of PET 5:00" in page.find_element(By.TAG_NAME, "main").text


def test_the_lanes_are_drawn_as_run(page: webdriver.Chrome) -> None:
    """A drawing of some size, with the lanes named and blocks in it."""
    (figure,) = [one for one in section(page, "Lanes as run against the brief") if one.tag_name == "figure"]
    drawings = figure.find_elements(By.TAG_NAME, "svg")
    assert drawings and all(one.rect["width"] > 400 and one.rect["height"] > 100 for one in drawings)
    for lane in ("EV1", "EV2", "ARM"):
        assert lane in figure.text
    assert sum(page.execute_script(DRAWN, one) for one in drawings) > 50


def test_it_says_where_the_minutes_went(page: webdriver.Chrome) -> None:
    """A table with one column per lane, and the largest entries of each."""
    found = section(page, "Where the minutes went")
    heads = [one.text for part in found for one in part.find_elements(By.TAG_NAME, "th")]
    assert {"EV1, min", "EV2, min"} <= set(heads)
    said = " ".join(one.text for one in found)
    assert "EV1: largest entries" in said and "EV2: largest entries" in said


def test_the_caution_stands_above_and_below(page: webdriver.Chrome) -> None:
    """Word for word, where it is read first and at the foot."""
    assert page.find_element(By.CSS_SELECTOR, ".caution").text == CAUTION
    assert page.find_element(By.CSS_SELECTOR, ".caution").is_displayed()
    assert page.find_element(By.TAG_NAME, "footer").text.endswith(CAUTION)


@pytest.mark.parametrize("label", [label for _, label in LINKS])
def test_every_link_answers_with_what_it_names(page: webdriver.Chrome, label: str) -> None:
    """200, of the right kind, and not empty."""
    link = page.find_element(By.LINK_TEXT, label)
    page.set_script_timeout(60)
    status, kind, size = page.execute_async_script(ANSWER, link.get_attribute("href"))
    assert (status, kind.split(";")[0]) == (200, KINDS[label])
    assert size > 500


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768)])
def test_nothing_lies_beside_the_page(page: webdriver.Chrome, width: int, height: int) -> None:
    """It scrolls down, never sideways."""
    set_size(page, width, height)
    try:
        assert page.execute_script("return document.documentElement.scrollWidth <= innerWidth")
    finally:
        set_size(page, 1920, 1080)


def test_what_is_being_made_takes_the_place_of_the_page_that_waits_for_it(
    browser: webdriver.Chrome, serve_once: Callable[[Any], str]
) -> None:
    """The page says how far it is, says when nobody answers, is never loaded again, and the document is asked for once."""
    modules, server, asked = read_modules(assets_folder() / "waiting", "/waiting/modules"), FastAPI(), []
    add_modules(server, modules)

    @server.get("/made")
    def made() -> Response:
        asked.append(len(asked))
        if len(asked) == 2:
            return PlainTextResponse("No state yet.", 503)
        if len(asked) < 4:
            said = f"Being made: {len(asked)} of 3."
            return HTMLResponse(waiting_html("Debrief", said, len(asked), 3, ("/", "The board"), modules.elements()), 202)
        return HTMLResponse(whole_page("It is there", "", [tag("p", text("All of it.")), tag("h2", text("Last"), id="last")]))

    browser.get(serve_once(server) + "/made#last")
    browser.execute_script("window.kept = []; new MutationObserver(() => {"
                           "const at = document.querySelector('[role=status]'); if (at) kept.push(at.textContent);"
                           "}).observe(document, {subtree: true, childList: true, characterData: true});")
    until(lambda: browser.title == "It is there", "the document")
    assert browser.execute_script("return kept") == ["No state yet.", "Being made: 3 of 3."]
    assert "All of it." in browser.find_element(By.TAG_NAME, "main").text and browser.current_url.endswith("/made#last")
    assert len(asked) == 4
