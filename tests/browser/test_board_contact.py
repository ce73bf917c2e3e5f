"""The board and its server: silence is noticed and said, and nothing that was entered is lost."""

from __future__ import annotations

import asyncio
import json
import re
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.browser.board import Board, live_app, live_plan
from tests.browser.conftest import set_size
from tests.waiting import until

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
    """An application that can freeze (it says nothing more, but its connections stay) or refuse to record.

    While it refuses, `statuses` are answered one after another, then `status` to everything.
    """

    def __init__(self, app: Any) -> None:
        self.app = app
        self.is_frozen = self.is_refusing = False
        self.status = 503
        self.statuses: list[int] = []

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Pass on what is not held back."""

        async def held(message: Any) -> None:
            while self.is_frozen:
                await asyncio.sleep(0.05)
            await send(message)

        if self.is_refusing and scope["type"] == "http" and scope["path"] == "/api/events":
            problem = {"subject": "store", "expected": "a key", "found": "none", "cure": "Show it."}
            body = json.dumps({"problems": [problem]}).encode()
            status = self.statuses.pop(0) if self.statuses else self.status
            await send({"type": "http.response.start", "status": status, "headers": []})
            await send({"type": "http.response.body", "body": body})
        else:
            await self.app(scope, receive, held if scope["type"] != "lifespan" else send)


@contextmanager
def often_retried(driver: webdriver.Chrome) -> Iterator[None]:
    """Pages opened meanwhile try to send what they keep five times a second instead of every 3 s."""
    source = "const slow = setInterval; window.setInterval = (act, ms, ...more) => slow(act, ms === 3000 ? 200 : ms, ...more);"
    added = driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": source})
    try:
        yield
    finally:
        driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)


@pytest.fixture(scope="module")
def troubled() -> Troubled:
    """A live sortie, 20 minutes old, on a server that can be troubled."""
    return Troubled(live_app(live_plan()))


@pytest.fixture(scope="module")
def board(browser: webdriver.Chrome, serve: Callable[[Any], str], troubled: Troubled) -> Board:
    """Its board."""
    return Board(browser, serve(troubled))


@pytest.fixture(autouse=True)
def untroubled(troubled: Troubled) -> Iterator[None]:
    """A test that fails half-way does not leave the server frozen for the others."""
    yield
    troubled.is_frozen = troubled.is_refusing = False


def test_a_server_that_hangs_is_noticed_though_its_connections_stay(board: Board, troubled: Troubled) -> None:
    """The bar comes once 4.6 s of the page's clock are silent, and names the PET on screen; meanwhile the clocks are counted on.

    It goes when the server speaks again.
    """
    board.open()
    board.driver.execute_script(FIRST_WORDS)
    troubled.is_frozen = True
    before = board.text("band-utc")
    board.driver.execute_script("const now = performance.now.bind(performance); performance.now = () => now() + 4600")
    said = until(lambda: board.driver.execute_script("return window.firstWords"), "the bar")
    until(lambda: board.text("band-utc") > before, "the clock of the band being counted on")
    troubled.is_frozen = False
    assert re.match(r"No contact with the server for ([4-9]|\d\d+) s\. The board shows PET 0:2", said), said
    until(lambda: board.text("contact") == "", "the bar going")


def test_what_could_not_be_recorded_is_kept_through_a_reload_and_recorded_once(board: Board, troubled: Troubled) -> None:
    """The room is told that a note is kept; once the server records again it is in the log, one time."""
    with often_retried(board.driver):
        board.open()
        troubled.is_refusing = True
        board.type("log-note", "kept in the browser")
        board.press("log-add-note")
        until(lambda: "Kept, will be sent" in board.text("log-outcome"), "the words")
        assert board.driver.execute_script("return document.getElementById('log-note').value") == ""
        board.open()
        assert "kept in the browser" not in board.text("log-rows")
        troubled.is_refusing = False
        until(lambda: "'note kept in the browser' sent: recorded" in board.text("log-outcome"), "the kept note being sent")
        until(lambda: board.text("log-rows").count("kept in the browser") == 1, "the note in the log")
        board.open()
        assert board.text("log-rows").count("kept in the browser") == 1


def test_what_is_kept_is_said_on_the_card_where_it_was_pressed(board: Board, troubled: Troubled) -> None:
    """And there again once it was sent; meanwhile it can be undone."""
    with often_retried(board.driver):
        board.open()
        troubled.is_refusing = True
        board.press("lane-start-ARM")
        until(lambda: board.text("lane-outcome-ARM").startswith("start T040: Kept, will be sent"), "the words")
        assert board.driver.find_element(By.ID, "lane-undo-ARM").is_enabled()
        troubled.is_refusing = False
        until(lambda: board.text("lane-outcome-ARM").startswith("start T040: sent, recorded"), "the words after it")


def test_a_lost_store_is_said_in_a_bar_and_what_is_entered_is_recorded_once_it_is_back(
    browser: webdriver.Chrome, serve: Callable[[Any], str], tmp_path: Path
) -> None:
    """The note counts at once and its sender is told that it is not on disk; the browser keeps it until it is."""
    plan, file = live_plan(), tmp_path / "sortie.db"
    store = EventStore(f"sqlite:///{file}", plan.sortie.id)
    board = Board(browser, serve(make_app(Desk(LiveSession(plan, store))).server))
    with often_retried(browser):
        board.open()
        file.rename(tmp_path / "aside.db")
        until(lambda: "sortie.db was deleted or moved" in board.text("trouble"), "the bar")
        board.type("log-note", "kept in memory")
        board.press("log-add-note")
        until(lambda: board.text("log-outcome").startswith("in memory only: it counts, but it is not on disk"), "the words")
        until(lambda: "kept in memory" in board.text("log-rows"), "the note in the log")
        assert browser.execute_script("return document.getElementById('log-note').value") == ""
        (tmp_path / "aside.db").rename(file)
        until(lambda: "'note kept in memory' sent: already recorded" in board.text("log-outcome"), "the kept note being sent")
        until(lambda: board.text("trouble") == "", "the bar going")
        assert board.text("log-rows").count("kept in memory") == 1


def test_without_contact_the_band_stays_in_view_and_the_figures_are_marked(board: Board, troubled: Troubled) -> None:
    """The bar stands above the band, nothing covers it, the board ends at the foot of the page; hatch and word on all figures."""
    script = """const box = (e) => e.getBoundingClientRect(), find = (q) => document.querySelector(q);
        return [box(find("#contact")).bottom, box(find("#band")).top, box(find(".main")).bottom, innerHeight]"""
    hatched = "return getComputedStyle(document.querySelector(arguments[0])).backgroundImage"
    sizes = ((1920, 1080), (1366, 768))
    board.open()
    troubled.is_frozen = True
    until(lambda: "No contact" in board.text("contact"), "the bar")
    for size in sizes:
        set_size(board.driver, *size)
        bar, band, foot, page = board.driver.execute_script(script)
        assert page == size[1]
        assert 0 < bar <= band + 0.5 and foot <= page + 0.5
        for name in ("band-word", "band-pet", "band-utc", "band-event-age", "band-reading-age"):
            assert board.driver.execute_script(ON_TOP, name), name
        for figure in (".headline-box", ".lane-body", ".suits-body", ".choices-body", ".log-rows", ".problems-body"):
            assert "repeating-linear-gradient" in board.driver.execute_script(hatched, figure), figure
        assert "no contact" in board.driver.find_element(By.CLASS_NAME, "sheet-stale").text
    troubled.is_frozen = False
    until(lambda: board.text("contact") == "", "the bar going")
    for size in sizes:
        set_size(board.driver, *size)
        assert "repeating-linear-gradient" not in board.driver.execute_script(hatched, ".headline-box")
    set_size(board.driver, 1920, 1080)


def test_the_words_of_the_sheet_fit_again_after_a_change_of_size_without_a_message(board: Board, troubled: Troubled) -> None:
    """The sheet is drawn for its new size though the server is silent: its words begin at other places of their blocks."""
    drawn = """const plot = document.querySelector("#sheet-graph .js-plotly-plot");
        return [plot._fullLayout.width, plot.data.find((one) => one.name === "labels").x]"""
    board.open()
    _, before = board.driver.execute_script(drawn)
    troubled.is_frozen = True
    set_size(board.driver, 1400, 950)
    wide = board.driver.execute_script("return document.querySelector('#sheet-graph').getBoundingClientRect().width")
    until(lambda: abs(board.driver.execute_script(drawn)[0] - wide) < 1, "the sheet being drawn for its new size")
    after = board.driver.execute_script(drawn)[1]
    assert before and after and not set(before) & set(after)
    troubled.is_frozen = False
    set_size(board.driver, 1920, 1080)
    until(lambda: board.text("contact") == "", "the bar going")


def test_a_kept_event_that_the_server_refuses_stays_until_a_person_decides(board: Board, troubled: Troubled) -> None:
    """Whatever the refusal, it is shown with the reason through a reload, can be sent again, and goes only when discarded."""
    refusals = (401, 403, 422)
    with often_retried(board.driver):
        board.open()
        troubled.is_refusing, troubled.status = True, 503
        for words in [f"refused later {status}" for status in refusals] + ["discarded"]:
            board.type("log-note", words)
            board.press("log-add-note")
            until(lambda: "Kept, will be sent" in board.text("log-outcome"), "the words")
            board.driver.execute_script("document.getElementById('log-outcome').textContent = ''")
        for shown, status in enumerate((*refusals, refusals[-1]), start=1):
            troubled.statuses = [status]
            until(lambda: board.text("log-refused").count("not taken") == shown, "one more being shown")  # noqa: B023
        said = board.text("log-refused")
        for status in refusals:
            assert f"note refused later {status}: store: expected a key; found none. Show it." in said
        board.open()
        until(lambda: board.text("log-refused").count("not taken") == 4, "all after a reload")
        row = "//div[@class='log-refused-row'][contains(., '{}')]//button[@data-act='{}']"
        board.driver.find_element(By.XPATH, row.format("discarded", "discard")).click()
        board.press("ask-yes")
        until(lambda: board.text("log-refused").count("not taken") == 3, "one being discarded")
        troubled.is_refusing, troubled.status = False, 503
        for status in refusals:
            board.driver.find_element(By.XPATH, row.format(f"refused later {status}", "send-again")).click()
            until(lambda: board.text("log-rows").count(f"refused later {status}") == 1, "the note in the log")  # noqa: B023
        until(lambda: board.text("log-refused") == "", "nothing left")
        assert "discarded" not in board.text("log-rows")


def test_the_board_says_what_its_own_clock_shows(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> None:
    """So that the server can say which computer's clock is off: here both are of one computer."""
    board = Board(browser, serve(live_app(live_plan())))
    board.open()

    def clocks() -> list[dict[str, float]]:
        with urllib.request.urlopen(f"{board.address}/health", timeout=10) as answer:
            return json.load(answer)["viewers"]["clocks"]

    until(clocks, "the clock of the board being heard")
    assert abs(clocks()[0]["ahead_s"]) <= clocks()[0]["error_s"] + 0.1
