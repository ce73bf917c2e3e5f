"""What-if in the browser: any set of ticks gets its figures, and may be recorded as a decision."""

from __future__ import annotations

import json
import re
import urllib.request
from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from tests.browser.board import Board, live_app, live_plan, post, replay_app
from tests.waiting import DEADLINE_S, until


@pytest.fixture(scope="module")
def board(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run at PET 2:30."""
    return Board(browser, serve(replay_app(150)))


def tick(board: Board, name: str) -> None:
    """Tick a box, wherever the list is scrolled to."""
    box = board.driver.find_element(By.ID, name)
    board.driver.execute_script("arguments[0].scrollIntoView({block: 'nearest'})", box)
    box.click()


def figures(board: Board, wanted: str) -> str:
    """The figures, once they say something."""
    until(lambda: wanted in board.text("what-if-figures"), wanted)
    return board.text("what-if-figures")


def test_ticks_get_figures_at_once_and_survive_updates(board: Board) -> None:
    """End, chance, each suit, cost and the decide-by time; the figures are the server's own for the same change."""
    board.show()
    board.press("choices-what-if")
    before = figures(board, "As things stand")
    assert "Record decision" not in before
    tick(board, "what-if-defer-T370")
    shown = figures(board, "With what is ticked")
    said = post(board.address, "/api/what-if", {"defer": ["T370"]})
    assert said["html"].count("suit") and said["draws"] == 5000
    for suit in ("EV1 ", "EV2 "):
        assert suit in shown
    assert re.search(r"loses\s+\d of \d+ priority-\d task", shown) and re.search(r"decide\s+by PET \d:\d\d", shown)
    assert shown.splitlines()[1:3] != before.splitlines()[1:3]
    post(board.address, "/api/events", {"kind": "note", "text": "an update"})
    until(lambda: "an update" in board.text("log-rows"), "the update")
    assert board.driver.find_element(By.ID, "what-if-defer-T370").is_selected()
    assert "With what is ticked" in board.text("what-if-figures")
    board.press("what-if-clear")
    figures(board, "As things stand")
    assert not board.driver.find_element(By.ID, "what-if-defer-T370").is_selected()


def test_what_the_plan_does_not_allow_and_what_goes_along_is_said(board: Board) -> None:
    """A required task, and the tasks that cannot be done without what is ticked."""
    board.show()
    board.press("choices-what-if")
    tick(board, "what-if-defer-T240")
    assert "T250 " in figures(board, "goes with it").partition("goes with it")[2]
    with urllib.request.urlopen(f"{board.address}/api/state", timeout=DEADLINE_S) as answer:
        tasks = json.load(answer)["tasks"]
    required = next(name for name, one in tasks.items() if one["required"] and one["state"] == "not started")
    tick(board, f"what-if-defer-{required}")
    assert "not allowed" in figures(board, f"{required} is required")


def test_against_a_required_task_nothing_is_recorded(board: Board) -> None:
    """The button is out of use and says why; the entry form refuses the same in the same words."""
    board.show()
    board.press("choices-what-if")
    required = board.driver.execute_script(
        "return Array.from(document.querySelectorAll('[data-what-if=defer]'), (one) => one.dataset.task).find((task) =>"
        " modules.moment.message().board.entry.kept.some((one) => one[0] === task && one[1] === task + ' is required'))"
    )
    tick(board, f"what-if-defer-{required}")
    assert f"Cannot be recorded: {required} is required" in figures(board, "Cannot be recorded")
    button = board.driver.find_element(By.ID, "decide-what-if")
    assert not button.is_enabled() and f"{required} is required" in button.get_attribute("title")
    rows = board.text("log-rows")
    for kind, name in (("defer", "tasks"), ("decision", "defer")):
        board.press("log-enter")
        Select(board.driver.find_element(By.ID, "entry-kind")).select_by_value(kind)
        if kind == "decision":
            board.driver.find_element(By.CSS_SELECTOR, "[data-field=text]").send_keys("late")
        Select(board.driver.find_element(By.CSS_SELECTOR, f"[data-field={name}]")).select_by_value(required)
        board.press("entry-send")
        assert f"Cannot be recorded: {required} is required" in board.text("entry-form")
        board.press("entry-cancel")
    assert board.text("log-rows") == rows


def test_what_a_person_may_still_decide_against_the_plan_is_asked_twice(board: Board) -> None:
    """The first question repeats each rule that is broken; the second asks about those alone. No is enough to stop it."""
    board.show()
    rows = board.text("log-rows")
    board.driver.execute_script(
        "modules.choices.acts.decide({dataset: {text: 'Defer.', events: arguments[0], broken: arguments[1]}})",
        json.dumps([{"kind": "decision", "text": "Late"}]), json.dumps(["T380 would miss its window: daylight"]),
    )
    assert "Against the plan: T380 would miss its window: daylight" in board.text("ask-words")
    board.type("ask-by", "the lead")
    board.press("ask-yes")
    until(lambda: "Record it against the plan?" in board.text("ask-form"), "the second question")
    assert "T380 would miss its window: daylight" in board.text("ask-words")
    board.press("ask-no")
    assert board.text("log-rows") == rows


def test_defer_and_trim_of_one_task_exclude_each_other(board: Board) -> None:
    """The later tick stands."""
    board.show()
    board.press("choices-what-if")
    tick(board, "what-if-defer-T390")
    tick(board, "what-if-trim-T390")
    figures(board, "With what is ticked")
    assert not board.driver.find_element(By.ID, "what-if-defer-T390").is_selected()
    assert board.driver.find_element(By.ID, "what-if-trim-T390").is_selected()


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768)])
def test_a_hand_over_and_an_ending_can_be_ticked_by_keyboard(board: Board, width: int, height: int) -> None:
    """With a trim beside them; every box of the list lies inside it and is at least 24 px wide and high."""
    board.show(size=(width, height))
    if width < 1500:
        board.press("tab-choices")
    board.press("choices-what-if")
    for name in ("what-if-choose-old-tray-outside", "what-if-trim-T390", "what-if-move-T320-EV2"):
        board.driver.execute_script(f"document.getElementById('{name}').focus()")
        board.driver.switch_to.active_element.send_keys(Keys.SPACE)
        figures(board, "With what is ticked")
    until(lambda: "\"move\": {\"T320\": \"EV2\"}" in sent(board) and "\"trim\": {\"T390\"" in sent(board), "the hand-over")
    assert "'outside'" in sent(board, "text")
    outside = """const list = document.getElementById("what-if-tasks").getBoundingClientRect();
        return Array.from(document.querySelectorAll("#what-if-tasks label, #what-if-tasks input")).filter((one) => {
            const box = one.getBoundingClientRect();
            return box.width < 24 || box.height < 24 || box.left < list.left || box.right > list.right;
        }).map((one) => one.id || one.textContent)"""
    assert board.driver.execute_script(outside) == []
    assert board.driver.execute_script("const e = document.getElementById('what-if-tasks'); "
                                       "return e.scrollWidth <= e.clientWidth")
    tick(board, "what-if-defer-T320")
    until(lambda: "T320" not in json.loads(sent(board))[0]["chosen"]["move"], "the hand-over leaving the ticks")
    board.press("what-if-clear")
    figures(board, "As things stand")


def sent(board: Board, name: str = "events") -> str:
    """What the button that records would send, or say; read at once, since an update puts another button there."""
    return board.driver.execute_script(f"return document.getElementById('decide-what-if')?.dataset.{name} || ''")


def test_what_is_ticked_can_be_recorded_by_who_decides(board: Board) -> None:
    """The question repeats the figures and the caution; the log names who decided."""
    board.show()
    board.press("choices-what-if")
    tick(board, "what-if-defer-T390")
    figures(board, "Record decision")
    board.press("decide-what-if")
    asked = board.text("ask-form")
    assert "Defer T390 " in asked and "inside by PET" in asked and "priority-3 task" in asked and "Advisory only" in asked
    board.type("ask-by", "the lead")
    board.press("ask-yes")
    until(lambda: "the lead" in board.text("log-rows"), "the decision in the log")
    until(lambda: not board.driver.find_elements(By.ID, "what-if-defer-T390"), "the task leaving the list")


def test_a_decision_is_taken_back_with_all_that_came_with_it(board: Board) -> None:
    """The question repeats what it reverses; answered, the ending and the lane are as they were."""
    board.show()
    buttons = "[data-act=take-back-decision]"
    earlier = len(board.driver.find_elements(By.CSS_SELECTOR, buttons))
    board.press("choices-what-if")
    for name in ("what-if-choose-old-tray-outside", "what-if-move-T180-EV2"):
        tick(board, name)
    until(lambda: "T180" in sent(board) and "outside" in sent(board), "both in the decision")
    board.press("decide-what-if")
    board.type("ask-by", "the lead")
    board.press("ask-yes")
    until(lambda: standing(board)["alternatives"]["old-tray"] == "outside", "the ending taken")
    until(lambda: standing(board)["tasks"]["T180"]["lanes"] == ["EV2"], "the hand-over")
    until(lambda: "with it: " in board.text("log-rows"), "what came with it, in the log")
    assert len(board.driver.find_elements(By.CSS_SELECTOR, buttons)) == earlier + 1
    inside = """const box = document.querySelector('[data-act=take-back-decision]').getBoundingClientRect();
        const cell = document.querySelector('[data-act=take-back-decision]').closest('td').getBoundingClientRect();
        return [box.left >= cell.left && box.right <= cell.right && box.bottom <= cell.bottom, Math.min(box.width, box.height)]"""
    fits, least_px = board.driver.execute_script(inside)
    assert fits and least_px >= 24
    board.driver.execute_script("document.querySelector('[data-act=take-back-decision]').focus()")
    board.driver.switch_to.active_element.send_keys(Keys.ENTER)
    until(lambda: "open again, by default 'inside'" in board.text("ask-words"), "the question")
    assert "hand T180 " in board.text("ask-words") and "back to EV1" in board.text("ask-words")
    board.type("ask-by", "the lead")
    board.press("ask-yes")
    until(lambda: standing(board)["alternatives"]["old-tray"] == "inside", "the ending as before")
    until(lambda: standing(board)["tasks"]["T180"]["lanes"] == ["EV1"], "the lane as before")
    assert standing(board)["alternatives_open"] == ["old-tray"]
    until(lambda: len(board.driver.find_elements(By.CSS_SELECTOR, buttons)) == earlier, "nothing of it left to take back")


def standing(board: Board) -> Any:
    """The state of the server."""
    with urllib.request.urlopen(f"{board.address}/api/state", timeout=DEADLINE_S) as answer:
        return json.load(answer)


def test_the_right_to_decide_is_what_the_head_says(board: Board) -> None:
    """The server judges who may log and who may decide; the board does as it says, and may nothing before it spoke."""
    board.show()
    script = """const moment = modules.moment, m = moment.message(), roles = m.roles, said = [];
        for (const [log, decide] of [[true, true], [true, false], [false, false]]) {
            m.roles = {log: log, decide: decide};
            said.push([moment.may().log, moment.may().decide]);
        }
        m.roles = roles;
        moment.hear(null);
        said.push([moment.may().log, moment.may().decide]);
        moment.hear(m);
        return said"""
    assert board.driver.execute_script(script) == [[True, True], [True, False], [False, False], [False, False]]


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768)])
def test_what_if_stays_in_the_place_of_the_choices(board: Board, width: int, height: int) -> None:
    """Nothing moves when it opens, and its list can be scrolled to its end."""
    board.show(size=(width, height))
    if width < 1500:
        board.press("tab-choices")
    script = """return ["lane-card-EV1", "suits", "choices"].map((id) => {
        const box = document.getElementById(id).getBoundingClientRect(); return [box.top, box.height]; })"""
    first = board.driver.execute_script(script)
    board.press("choices-what-if")
    figures(board, "As things stand")
    assert board.driver.execute_script(script) == first
    inside = "const e = document.getElementById('what-if').getBoundingClientRect(); return [e.bottom, e.height]"
    bottom, high = board.driver.execute_script(inside)
    assert bottom <= height and high > 100


def test_without_the_right_to_decide_nothing_offers_it(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """What-if still answers; the buttons that record are not there."""
    board = Board(browser, serve_once(live_app(live_plan(), may_log=False)))
    board.open()
    board.press("choices-what-if")
    tick(board, "what-if-defer-T030")
    figures(board, "With what is ticked")
    # asked in one step: a new message may put another button in the place of one that was found before
    assert browser.execute_script("return document.getElementById('decide-what-if').checkVisibility()") is False
