"""The board on a phone, on a tablet and on paper."""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver

from tests.browser.board import Board, replay_app
from tests.browser.conftest import rested, set_size

# The buttons that a thumb must hit and that are too small; what is wider than its place; texts that lie over another.
FAULTS = """
    const seen = (one) => one.checkVisibility({visibilityProperty: true}), boxOf = (one) => one.getBoundingClientRect();
    const small = Array.from(document.querySelectorAll("button, select, input")).filter(seen)
        .filter((one) => boxOf(one).height < 43.5 || boxOf(one).width < 43.5).map((one) => one.id || one.textContent);
    const cut = Array.from(document.querySelectorAll(".headline-box *, .lane-card *, .suits *, .log td, .log td *")).filter(seen)
        .filter((one) => !one.closest("svg") && one.scrollWidth > one.clientWidth + 1)
        .filter((one) => getComputedStyle(one).overflowX !== "visible")
        .map((one) => one.className + ": " + one.textContent.slice(0, 60));
    const heads = Array.from(document.querySelectorAll(".sheet .annotation text"), boxOf);
    const over = heads.flatMap((a, at) => heads.slice(at + 1).filter((b) => a.left < b.right - 1 && b.left < a.right - 1
        && a.top < b.bottom - 1 && b.top < a.bottom - 1)).length;
    return {small: small, cut: cut, over: over, wide: Math.max(0, document.documentElement.scrollWidth - innerWidth)};
"""


@pytest.fixture(scope="module")
def replayed(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run that comes with the program, paused at PET 3:55."""
    board = Board(browser, serve(replay_app(235)))
    board.open()
    return board


@pytest.mark.parametrize(("width", "height"), [(390, 844), (820, 1180)])
def test_nothing_is_cut_and_a_thumb_hits_every_button(replayed: Board, width: int, height: int) -> None:
    """Targets of 44 px; headline, cards, suits and log whole; heads of the sheet apart; no scrolling sideways."""
    set_size(replayed.driver, width, height)
    rested(replayed.driver)
    assert replayed.driver.execute_script(FAULTS) == {"small": [], "cut": [], "over": 0, "wide": 0}
    set_size(replayed.driver, 1920, 1080)


def test_paper_is_light_and_holds_the_whole_log(replayed: Board) -> None:
    """With every region, those behind a tab too, and without a button; afterwards the screen is dark again."""
    script = """const ground = () => getComputedStyle(document.querySelector(".panel")).backgroundColor;
        const bar = () => document.querySelector("#sheet-graph .bars path").style.fill;
        const dark = [ground(), bar()];
        dispatchEvent(new Event("beforeprint")); const paper = [ground(), bar()];
        dispatchEvent(new Event("afterprint"));
        return [dark[0] !== paper[0], dark[1] !== paper[1], ground() === dark[0], paper[0]]"""
    assert replayed.driver.execute_script(script) == [True, True, True, "rgb(255, 255, 255)"]
    replayed.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    shown = """return Array.from(document.querySelectorAll("button"), (one) => one.checkVisibility()).some(Boolean)"""
    scrolls = "const rows = document.getElementById('log-rows'); return rows.scrollHeight - rows.clientHeight"
    assert (replayed.driver.execute_script(shown), replayed.driver.execute_script(scrolls)) == (False, 0)
    set_size(replayed.driver, 1100, 800)
    regions = "return arguments[0].filter((id) => !document.getElementById(id).checkVisibility())"
    assert replayed.driver.execute_script(regions, ["headline", "sheet", "lanes", "suits", "choices", "log", "problems"]) == []
    replayed.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    pdf = base64.b64decode(replayed.driver.execute_cdp_cmd("Page.printToPDF", {})["data"])
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") > 1
