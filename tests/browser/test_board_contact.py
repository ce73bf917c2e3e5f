"""The board and its server: silence is noticed and said, and nothing that was entered is lost."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By

from tests.browser.board import Board, live_app, live_plan
from tests.browser.conftest import set_size, until

FIRST_WORDS = """
    window.firstWords = "";
    new MutationObserver(() => {
        const said = document.getElementById("contact").textContent;
        if (said && !window.firstWords) window.firstWords = said;
    }).observe(document.getElementById("contact"), {childList: true, characterData: true, subtree: true});
"""


ON_TOP = """const e = document.getElementById(arguments[0]), b = e.getBoundingClientRect();
    return e.contains(document.elementFromPoint(b.left + 2, b.top + b.height / 2))"""


class Troubled:
    """An application that can freeze (it says nothing more, but its connections stay) or refuse to record."""

    def __init__(self, app: Any) -> None:
        self.app = app
        self.is_frozen = self.is_refusing = False
        self.status = 503

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Pass on what is not held back."""

        async def held(message: Any) -> None:
            while self.is_frozen:
                await asyncio.sleep(0.05)
            await send(message)

        if self.is_refusing and scope["type"] == "http" and scope["path"] == "/api/events":
            problem = {"subject": "store", "expected": "a key", "found": "none", "cure": "Show it."}
            body = json.dumps({"problems": [problem]}).encode()
            await send({"type": "http.response.start", "status": self.status, "headers": []})
            await send({"type": "http.response.body", "body": body})
        else:
            await self.app(scope, receive, held if scope["type"] != "lifespan" else send)


@pytest.fixture(scope="module")
def troubled() -> Troubled:
    """A live sortie, 20 minutes old, on a server that can be troubled."""
    return Troubled(live_app(live_plan()))


@pytest.fixture(scope="module")
def board(browser: webdriver.Chrome, serve: Callable[[Any], str], troubled: Troubled) -> Board:
    """Its board."""
    return Board(browser, serve(troubled))


def test_a_server_that_hangs_is_noticed_though_its_connections_stay(board: Board, troubled: Troubled) -> None:
    """The bar comes after less than 5 s of silence, names the PET on screen, and goes when the server speaks again."""
    board.open()
    board.driver.execute_script(FIRST_WORDS)
    troubled.is_frozen = True
    said = until(lambda: board.driver.execute_script("return window.firstWords"), "the bar")
    troubled.is_frozen = False
    assert said.startswith("No contact with the server for 4 s. What you see is of PET 0:2")
    until(lambda: board.text("contact") == "", "the bar going")


def test_ages_go_on_counting_while_the_server_is_silent(board: Board, troubled: Troubled) -> None:
    """The age of the last event, PET and UTC are counted in the browser."""
    board.open()
    troubled.is_frozen = True
    before = board.text("band-utc")
    until(lambda: "No contact" in board.text("contact"), "the bar")
    assert board.text("band-utc") > before
    troubled.is_frozen = False
    until(lambda: board.text("contact") == "", "the bar going")


def test_what_could_not_be_recorded_is_kept_through_a_reload_and_recorded_once(board: Board, troubled: Troubled) -> None:
    """The room is told that a note is kept; once the server records again it is in the log, one time."""
    board.open()
    troubled.is_refusing = True
    board.type("log-note", "kept in the browser")
    board.press("log-add-note")
    until(lambda: "The event is kept here and sent again" in board.text("log-outcome"), "the words")
    assert board.driver.execute_script("return document.getElementById('log-note').value") == ""
    board.open()
    assert "kept in the browser" not in board.text("log-rows")
    troubled.is_refusing = False
    until(lambda: "'note kept in the browser' sent: recorded" in board.text("log-outcome"), "the kept note being sent")
    until(lambda: board.text("log-rows").count("kept in the browser") == 1, "the note in the log")
    board.open()
    assert board.text("log-rows").count("kept in the browser") == 1


def test_without_contact_the_band_stays_in_view_and_the_figures_are_marked(board: Board, troubled: Troubled) -> None:
    """The bar stands above the band, nothing covers it, the board ends at the foot of the page; hatch and word on all figures."""
    script = """const box = (e) => e.getBoundingClientRect(), find = (q) => document.querySelector(q);
        return [box(find("#contact")).bottom, box(find("#band")).top, box(find(".main")).bottom, innerHeight]"""
    hatched = "return getComputedStyle(document.querySelector(arguments[0])).backgroundImage"
    for width, height in ((1920, 1080), (1366, 768)):
        set_size(board.driver, width, height)
        board.open()
        troubled.is_frozen = True
        until(lambda: "No contact" in board.text("contact"), "the bar")
        bar, band, foot, page = board.driver.execute_script(script)
        assert 0 < bar <= band + 0.5 and foot <= page + 0.5
        for name in ("band-word", "band-pet", "band-utc", "band-event-age", "band-reading-age"):
            assert board.driver.execute_script(ON_TOP, name), name
        for figure in (".headline-box", ".lane-body", ".suits-body", ".choices-body", ".log-rows", ".problems-body"):
            assert "repeating-linear-gradient" in board.driver.execute_script(hatched, figure), figure
        assert "no contact" in board.driver.find_element(By.CLASS_NAME, "sheet-stale").text
        troubled.is_frozen = False
        until(lambda: board.text("contact") == "", "the bar going")
        assert "repeating-linear-gradient" not in board.driver.execute_script(hatched, ".headline-box")
    set_size(board.driver, 1920, 1080)


def test_the_words_of_the_sheet_fit_again_after_a_change_of_size_without_a_message(board: Board, troubled: Troubled) -> None:
    """The sheet is drawn for its new size though the server is silent."""
    board.open()
    board.driver.execute_script(
        "const one = window.tetherlineLabels, was = one.fitted;"
        "one.fitted = (...all) => { window.fits = all[2].width; return was(...all); }"
    )
    troubled.is_frozen = True
    set_size(board.driver, 1400, 950)
    wide = "return document.querySelector('#sheet-graph').getBoundingClientRect().width"
    fitted = "return window.fits || 0"
    until(lambda: 0 < board.driver.execute_script(fitted) < board.driver.execute_script(wide), "the words being fitted")
    troubled.is_frozen = False
    set_size(board.driver, 1920, 1080)
    until(lambda: board.text("contact") == "", "the bar going")


@pytest.mark.parametrize("status", [401, 403, 422])
def test_a_kept_event_that_the_server_refuses_stays_until_a_person_decides(board: Board, troubled: Troubled, status: int) -> None:
    """It is shown with the reason through a reload, can be sent again, and goes only when someone discards it."""
    board.open()
    said = f"refused later {status}"
    troubled.is_refusing, troubled.status = True, 503
    for words in (said, f"discarded {status}"):
        board.type("log-note", words)
        board.press("log-add-note")
        until(lambda: "kept here and sent again" in board.text("log-outcome"), "the words")
        board.driver.execute_script("document.getElementById('log-outcome').textContent = ''")
    troubled.status = status
    until(lambda: board.text("log-refused").count("not taken") == 2, "both being shown")
    assert f"note {said}: store: expected a key; found none. Show it." in board.text("log-refused")
    board.open()
    until(lambda: board.text("log-refused").count("not taken") == 2, "both after a reload")
    row = "//div[@class='log-refused-row'][contains(., '{}')]//button[@data-act='{}']"
    board.driver.find_element(By.XPATH, row.format(f"discarded {status}", "discard")).click()
    board.press("ask-yes")
    until(lambda: board.text("log-refused").count("not taken") == 1, "one being discarded")
    troubled.is_refusing, troubled.status = False, 503
    board.driver.find_element(By.XPATH, row.format(said, "send-again")).click()
    until(lambda: board.text("log-rows").count(said) == 1, "the note in the log")
    until(lambda: board.text("log-refused") == "", "nothing left")
    assert f"discarded {status}" not in board.text("log-rows")
