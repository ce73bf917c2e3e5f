"""The wall view: readable from 3 m, nothing cut, and driven by nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from dashboard.core.base.caution import CAUTION
from dashboard.core.deferral.advice_model import Advice, Choice, Item
from dashboard.core.events.change import Change
from dashboard.screens import headline
from dashboard.screens.ids import Headline
from tests.browser.board import Board, post, replay_app
from tests.browser.conftest import rested, set_size
from tests.scenario import follow_at
from tests.screens.plans import suited_plan
from tests.waiting import until

# What is written on the page: its words, its size as a share of the height, and by how much its box is left.
WRITTEN = """
    const found = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const text = walk.currentNode, of = text.parentElement;
        const isSeen = of.checkVisibility({visibilityProperty: true}) && of.closest(".panel, .band") && !of.closest("svg");
        if (!text.textContent.trim() || !isSeen) continue;
        const range = document.createRange();
        range.selectNodeContents(text);
        const at = range.getBoundingClientRect(), box = of.closest(".panel, .band").getBoundingClientRect();
        const cut = Math.max(at.right - box.right, at.bottom - box.bottom, box.left - at.left, box.top - at.top);
        found.push([text.textContent.trim(), parseFloat(getComputedStyle(of).fontSize) / innerHeight, cut]);
    }
    return found;
"""
ASIDE = ("(P10 to P90)", "with its reserve kept", "read ", "water limits", "pool run", "Lantern Outpost", "Against the brief",
         "Least suit margin", "Call", "behind", "since PET", "suit ", "▲", "▌")  # fmt: skip


@pytest.fixture(scope="module")
def wall(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run that comes with the program, paused at PET 3:55, when much is late."""
    board = Board(browser, serve(replay_app(235)))
    board.open("wall")
    return board


def call_to_decide() -> str:
    """The box of the call: two things go now, and one can wait."""
    items = [Item(task=f"T0{n}0", how="defer", decide_by_pet_min=282.0 + n, now=n < 3) for n in (1, 2, 3)]
    choice = Choice(items=items, end_pet_min=380.0, in_by_limit=0.9, decide_by_pet_min=282.0, value_lost={}, why="So.")
    advice = Advice(
        needed=True, confidence=0.9, in_by_limit=0.02, caution=CAUTION, call="decide", call_by_pet_min=282.0, choices=[choice],
        call_since_pet_min=269.0, call_for_now=Change(defer=("T010", "T020")),
    )
    state = follow_at(suited_plan(), "0:00 clock", "0:10").model_copy(update={"advice": advice, "pet_min": 269.0})
    return headline.snapshot(suited_plan(), state)[Headline.DECISION]


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768), (3840, 2160)])
def test_all_that_must_be_read_is_large_and_whole(wall: Board, width: int, height: int) -> None:
    """3.7 % of the height or more; the headline 7 %; the page does not scroll; the lane sheet is enlarged likewise."""
    set_size(wall.driver, width, height)
    rested(wall.driver)
    written = wall.driver.execute_script(WRITTEN)
    assert any("Mostly: " in said for said, _, _ in written)
    assert [(said, cut) for said, _, cut in written if cut > 1] == []
    small = [said for said, share, _ in written if share < 0.0369]
    assert [said for said in small if not any(word in said for word in ASIDE)] == []
    shares = {said.replace("\u00a0", " "): share for said, share, _ in written}
    assert min(share for said, share in shares.items() if said.startswith("PET ") and len(said) == 8) >= 0.07
    root = "const page = document.documentElement; return [page.scrollWidth - innerWidth, page.scrollHeight - innerHeight]"
    assert max(wall.driver.execute_script(root)) <= 0
    box = "const e = document.getElementById('headline-decision'), was = e.innerHTML; e.innerHTML = arguments[0]; return was"
    was = wall.driver.execute_script(box, call_to_decide())
    written = wall.driver.execute_script(WRITTEN)
    wall.driver.execute_script(box, was)
    assert any("min left: defer T010" in said for said, _, _ in written)
    assert [(said, cut) for said, _, cut in written if cut > 1] == []
    tick = "return document.querySelector('#sheet-graph .ytick text').getBoundingClientRect().height / innerHeight"
    assert wall.driver.execute_script(tick) >= 0.037
    set_size(wall.driver, 1920, 1080)


def test_it_follows_the_room_and_is_driven_by_nothing(wall: Board) -> None:
    """No button is there, and no key moves the replay; what the room sees the wall shows."""
    shown = "return Array.from(document.querySelectorAll('button, select, input'), (one) => one.checkVisibility()).some(Boolean)"
    assert wall.driver.execute_script(shown) is False
    wall.driver.find_element(By.TAG_NAME, "body").send_keys("e", Keys.SPACE)
    post(wall.address, "/api/replay", {"action": "seek", "at_pet_min": 150})
    until(lambda: wall.text("band-pet") == "2:30", "the moment that the room sees")
    assert wall.text("band-word") == "PAUSED"
