"""Entering events without slips: nothing chosen beforehand, questions before what weighs, undo over a reload."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from dashboard.log.store import EventStore
from dashboard.screens.log import LEAD_ENTRY
from dashboard.service.access.keys import Keys
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.opening import live_desk
from dashboard.service.session.live import LiveSession
from tests.browser.board import Board, live_app, live_plan, post, replay_app
from tests.waiting import until

PET_S = 'const button = document.getElementById("correct-s1"); return button && button.dataset.petS'
TOP_ROW = 'return document.querySelector("#log-rows .log-text").textContent'
# Of each button of the log: its words, how much of its cell does not fit, and how far it stands out of the log.
ACTS = """
    const log = document.getElementById("log-rows"), edge = log.getBoundingClientRect().left + log.clientWidth;
    return Array.from(document.querySelectorAll("#log-rows .log-acts button"), (one) => {
        const cell = one.closest("td"), right = one.getBoundingClientRect().right;
        return [one.textContent, cell.scrollWidth - cell.clientWidth, right - edge];
    });
"""
FIRST_VALUES = """
    return Array.from(document.querySelectorAll("#entry-form select:not([multiple])")).map((one) => one.value);
"""


@pytest.fixture(scope="module")
def live(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """A live sortie, 20 minutes old."""
    return Board(browser, serve(live_app(live_plan())))


@pytest.fixture(scope="module")
def replayed(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run that comes with the program, paused at PET 2:30."""
    return Board(browser, serve(replay_app(150)))


def form(board: Board, kind: str, opener: str = "log-enter") -> None:
    """The entry form, opened for a kind of event."""
    board.press(opener)
    Select(board.driver.find_element(By.ID, "entry-kind")).select_by_value(kind)


def choose(board: Board, field: str, value: str) -> None:
    """A choice in a field of the form."""
    Select(board.driver.find_element(By.CSS_SELECTOR, f"#entry-fields [data-field={field}]")).select_by_value(value)


def test_no_form_has_anything_chosen_beforehand(replayed: Board) -> None:
    """Every select of every kind starts empty; pressing Enter is refused in words and records nothing."""
    replayed.show()
    rows = replayed.text("log-rows")
    replayed.press("log-enter")
    replayed.press("entry-send")
    assert "What happened: expected a choice; found none." in replayed.text("entry-form")
    kinds = Select(replayed.driver.find_element(By.ID, "entry-kind"))
    for kind in [option.get_attribute("value") for option in kinds.options][1:]:
        kinds.select_by_value(kind)
        values = replayed.driver.execute_script(FIRST_VALUES)
        assert values[0] == kind and set(values[1:]) <= {""}, kind
        fields = replayed.driver.find_elements(By.CSS_SELECTOR, "#entry-fields select")
        if fields and kind not in ("reading",):
            replayed.press("entry-send")
            assert "found none" in replayed.text("entry-form") or "found neither" in replayed.text("entry-form"), kind
    replayed.press("entry-cancel")
    assert replayed.text("log-rows") == rows


def test_a_contingency_is_inserted_and_what_it_held_resumed(replayed: Board) -> None:
    """From the board: the question names its tasks; afterwards what went on hold can be resumed."""
    replayed.show()
    form(replayed, "insert", "choices-plan")
    names = [o.get_attribute("value") for o in replayed.driver.find_elements(By.CSS_SELECTOR, "[data-field=contingency] option")]
    choose(replayed, "contingency", names[-1])
    replayed.press("entry-send")
    until(lambda: f"contingency {names[-1]} is inserted" in replayed.text("ask-form"), "the question")
    replayed.press("ask-yes")
    until(lambda: f"insert contingency {names[-1]}" in replayed.text("log-rows"), "the insertion in the log")
    form(replayed, "resume", "choices-plan")
    held = [o.get_attribute("value") for o in replayed.driver.find_elements(By.CSS_SELECTOR, "[data-field=subject] option")]
    assert len(held) > 2
    choose(replayed, "subject", held[-1])
    replayed.press("entry-send")
    until(lambda: "resume" in replayed.driver.execute_script(TOP_ROW), "the resume in the log")


def test_a_task_is_added_handed_over_and_an_ending_chosen(replayed: Board) -> None:
    """Lanes are offered only when they can take the task, options only of the ending chosen."""
    replayed.show()
    form(replayed, "add", "choices-plan")
    for field, value in (("title", "Look at the loose wire"), ("duration", "6")):
        replayed.driver.find_element(By.CSS_SELECTOR, f"#entry-fields [data-field={field}]").send_keys(value)
    choose(replayed, "lanes", "EV2")
    replayed.press("entry-send")
    until(lambda: "Look at the loose wire" in replayed.text("log-rows"), "the added task in the log")

    form(replayed, "move", "choices-plan")
    offered = replayed.driver.execute_script("return modules.moment.message().board.entry.can_move_to")
    movable = replayed.driver.execute_script("return modules.moment.message().board.entry.movable.map((one) => one[0])")
    lane, _, task = next(one for one in offered if one[2] in movable)
    choose(replayed, "task", task)
    lanes = replayed.driver.find_elements(By.CSS_SELECTOR, "[data-field=lane] option")
    assert {o.get_attribute("value") for o in lanes} == {"", *(one[0] for one in offered if one[2] == task)}
    choose(replayed, "lane", lane)
    replayed.press("entry-send")
    until(lambda: f"move {task}" in replayed.text("log-rows"), "the hand-over in the log")

    form(replayed, "choose", "choices-plan")
    choose(replayed, "alternative", "old-tray")
    options = replayed.driver.find_elements(By.CSS_SELECTOR, "[data-field=option] option")
    choose(replayed, "option", options[-1].get_attribute("value"))
    replayed.press("entry-send")
    until(lambda: "old-tray: take" in replayed.text("log-rows"), "the choice in the log")


def test_readings_and_lengths_that_cannot_be_are_refused_or_asked_about(replayed: Board) -> None:
    """No amount, and an added task of no length: refused. Above what was loaded or read last: asked."""
    replayed.show()
    form(replayed, "reading")
    choose(replayed, "suit", "A")
    replayed.press("entry-send")
    assert "expected at least one amount" in replayed.text("entry-form")
    last = replayed.driver.execute_script(
        "return modules.moment.message().board.entry.readings.find((one) => one[0] === 'A water')")
    field = replayed.driver.find_element(By.CSS_SELECTOR, "[data-field=water]")
    for value, words in ((float(last[1]) + 1, "that was loaded"), (float(last[2]) + 0.01, "more than the last reading")):
        field.clear()
        field.send_keys(f"{value:g}")
        replayed.press("entry-send")
        until(lambda: words in replayed.text("ask-words"), words)  # noqa: B023
        replayed.press("ask-no")
    Select(replayed.driver.find_element(By.ID, "entry-kind")).select_by_value("add")
    for name, value in (("title", "Nothing"), ("duration", "0")):
        replayed.driver.find_element(By.CSS_SELECTOR, f"[data-field={name}]").send_keys(value)
    choose(replayed, "lanes", "EV2")
    replayed.press("entry-send")
    assert "expected more than 0" in replayed.text("entry-form")
    Select(replayed.driver.find_element(By.ID, "entry-kind")).select_by_value("trim")
    offered = Select(replayed.driver.find_element(By.CSS_SELECTOR, "[data-field=task]"))
    offered.select_by_index(1)
    replayed.driver.find_element(By.CSS_SELECTOR, "[data-field=duration]").send_keys("0.5")
    replayed.press("entry-send")
    assert "the shortest that is useful" in replayed.text("entry-form")
    Select(replayed.driver.find_element(By.ID, "entry-kind")).select_by_value("extend")
    Select(replayed.driver.find_element(By.CSS_SELECTOR, "[data-field=task]")).select_by_index(1)
    replayed.driver.find_element(By.CSS_SELECTOR, "[data-field=duration]").send_keys("1")
    replayed.press("entry-send")
    assert "above the planned length" in replayed.text("entry-form")
    replayed.press("entry-cancel")


@pytest.mark.parametrize(
    ("kind", "words"), [("end", "the sortie is over"), ("clock", "PET zero is set to UTC"), ("hold", "everything is put on hold")]
)
def test_what_weighs_is_repeated_in_words_before_it_is_recorded(live: Board, kind: str, words: str) -> None:
    """End, PET zero and a hold of everything ask; Cancel has the focus and records nothing."""
    live.show()
    rows = live.text("log-rows")
    form(live, kind)
    if kind == "hold":
        choose(live, "subject", "all")
    live.press("entry-send")
    until(lambda: words in live.text("ask-form"), words)
    assert live.driver.switch_to.active_element.get_attribute("id") == "ask-no"
    live.press("ask-no")
    live.press("entry-cancel")
    assert live.text("log-rows") == rows


def test_a_deferred_task_is_reinstated(live: Board) -> None:
    """It is offered once it is deferred, and is back in the plan afterwards."""
    live.show()
    post(live.address, "/api/events", {"kind": "defer", "tasks": ["T030"]})
    until(lambda: "T030" not in live.text("lane-body-EV2"), "T030 leaving the plan")
    form(live, "reinstate", "choices-plan")
    choose(live, "tasks", "T030")
    live.press("entry-send")
    until(lambda: "reinstate" in live.text("log-rows"), "the reinstatement in the log")


def test_undo_survives_a_reload(live: Board) -> None:
    """What was entered on a card before the reload can still be undone."""
    live.show()
    live.press("lane-start-ARM")
    until(lambda: "of 40 min" in live.text("lane-body-ARM"), "the task in work")
    live.open()
    live.press("lane-undo-ARM")
    until(lambda: "of 40 min" not in live.text("lane-body-ARM"), "the start withdrawn")
    until(lambda: not live.driver.find_element(By.ID, "lane-undo-ARM").is_enabled(), "nothing left to undo")


def test_a_correction_keeps_the_seconds(live: Board) -> None:
    """PET H:MM moves the minute; the seconds of the event stay, and H:MM:SS gives others."""
    live.show()
    zero = live.driver.execute_script("return Date.parse(modules.moment.message().pet_zero)")
    post(live.address, "/api/events", {"id": "s1", "kind": "note", "text": "with seconds", "at": iso(zero + 252_000)})
    until(lambda: live.driver.find_elements(By.ID, "correct-s1"), "the note")
    before = float(live.driver.execute_script(PET_S))
    for written, seconds in (("0:06", before + 120), ("0:07:41", 461)):
        live.press("correct-s1")
        live.type("amend-at", written)
        live.press("amend-send")
        until(lambda: abs(float(live.driver.execute_script(PET_S) or 0) - seconds) < 0.01, written)  # noqa: B023


def iso(milliseconds: float) -> str:
    """An instant as an event carries it."""
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(milliseconds / 1000))


def test_a_time_far_outside_the_sortie_is_asked_about(live: Board) -> None:
    """In a correction and in the form; nothing is recorded until it is confirmed."""
    live.show()
    post(live.address, "/api/events", {"id": "far", "kind": "note", "text": "a slip"})
    until(lambda: live.driver.find_elements(By.ID, "correct-far"), "the note")
    live.press("correct-far")
    live.type("amend-at", "23:10")
    live.press("amend-send")
    until(lambda: "PET 23:10" in live.text("ask-words"), "the question")
    assert "between PET -2:00 and PET 11:00" in live.text("ask-words")
    live.press("ask-no")
    live.press("amend-cancel")
    row = live.driver.find_element(By.ID, "correct-far").find_element(By.XPATH, "./ancestor::tr")
    assert "amended" not in row.text


def test_what_weighs_is_asked_about_before_it_is_withdrawn_and_can_be_taken_back(live: Board) -> None:
    """The question says what will be undone; the withdrawal in its row can be taken back, and the decision counts again."""
    live.show()
    post(live.address, "/api/events", {"id": "weighs", "kind": "decision", "text": "run late", "defer": ["T020"]})
    until(lambda: "T020 Release the bolts" in live.text("sheet-out") or "Release the bolts" in live.text("sheet-out"), "T020 out")
    live.press("correct-weighs")
    live.press("amend-withdraw")
    until(lambda: "what it defers and trims goes back into the plan of record" in live.text("ask-words"), "the question")
    live.press("ask-no")
    assert "withdrawn" not in live.driver.find_element(By.ID, "correct-weighs").find_element(By.XPATH, "./ancestor::tr").text
    live.type("amend-at", "0:09")
    live.press("amend-send")
    until(lambda: "is amended to: time PET 0:09" in live.text("ask-words"), "the question before an amendment")
    live.press("ask-no")
    live.press("amend-withdraw")
    live.press("ask-yes")
    until(lambda: "Release the bolts" not in live.text("sheet-out"), "the task back in the plan")
    row = live.driver.find_element(By.CSS_SELECTOR, "#log-rows [data-act=take-back]")
    assert "decided: run late" in row.find_element(By.XPATH, "./ancestor::tr").text
    row.click()
    until(lambda: "counts again" in live.text("ask-words"), "the question")
    live.press("ask-yes")
    until(lambda: "Release the bolts" in live.text("sheet-out"), "the decision counting again")
    until(lambda: live.driver.find_elements(By.ID, "correct-weighs"), "its button being back")


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768)])
def test_no_button_of_the_log_is_cut(live: Board, width: int, height: int) -> None:
    """Neither correct nor take back, which is the wider: the cell holds it whole, and the cell lies inside the log."""
    live.show(size=(width, height))
    if width < 1500:
        live.press("tab-log")
    post(live.address, "/api/events", [{"id": f"n{width}", "kind": "note", "text": "radio check, all well"}])
    post(live.address, "/api/events", [{"id": f"w{width}", "kind": "withdraw", "event": f"n{width}"}])
    until(lambda: live.driver.find_elements(By.ID, f"correct-w{width}"), "the withdrawal in the log")
    rows = live.driver.execute_script(ACTS)
    assert {"take back", "correct"} <= {said for said, *_ in rows}
    assert [row for row in rows if row[1] > 0 or row[2] > 0] == []


def test_what_an_entry_did_is_said_where_it_was_made_and_can_be_taken_back(
    browser: webdriver.Chrome, serve_once: Callable[[Any], str]
) -> None:
    """An entry that does not fit says so and offers its withdrawal; one that does nothing offers none."""
    live = Board(browser, serve_once(make_app(live_desk(live_plan(), "sqlite://")).server))
    live.open()
    form(live, "done")
    choose(live, "task", "T030")
    live.press("entry-send")
    until(lambda: "Discrepancy: expected " in live.text("log-outcome"), "what the entry did")
    assert "withdraw 'done T030'" in live.text("log-offer")
    live.driver.find_element(By.CSS_SELECTOR, "#log-offer button").click()
    until(lambda: "Moved: " in live.text("log-outcome") or live.text("log-outcome") == "recorded", "the withdrawal")
    until(lambda: "withdraw" in live.driver.execute_script(TOP_ROW), "the withdrawal in the log")
    form(live, "note")
    live.driver.find_element(By.CSS_SELECTOR, "#entry-fields [data-field=text]").send_keys("Sun on the tray")
    live.press("entry-send")
    until(lambda: live.text("log-outcome") == "recorded", "the note")
    assert live.text("log-offer") == ""


def test_pet_zero_is_set_by_utc_though_planned_for_years_away(
    browser: webdriver.Chrome, serve_once: Callable[[Any], str]
) -> None:
    """The band says when it is planned; the form takes UTC, asks about a time to come, and PET counts from what is recorded."""
    plan = live_plan(minutes_old=-5 * 365 * 24 * 60)
    board = Board(browser, serve_once(make_app(Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id)))).server))
    board.open()
    assert board.text("band-pet") == f"zero is planned for {plan.sortie.start:%Y-%m-%d}"
    form(board, "clock")
    assert "UTC HH:MM" in board.text("entry-form")
    board.type("entry-at", "2:99")
    board.press("entry-send")
    assert "expected UTC as HH:MM or HH:MM:SS of today" in board.text("entry-form")
    now = time.time()
    for ago, odd in ((-7200, True), (90000, True), (480, False)):
        wanted = iso(1000 * (now - ago))
        board.type("entry-at", wanted)
        board.press("entry-send")
        until(lambda: wanted[:19].replace("T", " ") in board.text("ask-words"), wanted)  # noqa: B023
        assert ("is this time meant" in board.text("ask-words")) == odd
        if odd:
            board.press("ask-no")
    board.press("ask-yes")
    until(lambda: board.text("band-pet") in ("0:08", "0:09"), "PET counting from there")


def test_who_may_not_decide_is_offered_nothing_of_it(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """Those kinds are out of use with the reason; what may be logged is offered."""
    plan = live_plan()
    store = EventStore("sqlite://", plan.sortie.id)
    store.append([{"id": "zero", "kind": "clock", "at": plan.sortie.start.isoformat()}], plan.sortie.start)
    board = Board(browser, serve_once(make_app(Desk(LiveSession(plan, store)), Keys(lead_key="secret")).server))
    board.open()
    board.press("log-enter")
    options = {one.get_attribute("value"): one for one in Select(browser.find_element(By.ID, "entry-kind")).options}
    for kind, option in options.items():
        assert option.is_enabled() == (kind not in LEAD_ENTRY), kind
        assert ("(needs the lead key)" in option.get_attribute("textContent")) == (kind in LEAD_ENTRY), kind
    board.press("entry-cancel")
    board.press("correct-zero")
    assert "needs the lead key" in board.text("amend-form")
    assert not browser.find_element(By.ID, "amend-withdraw").is_enabled()


def test_after_the_end_the_cards_say_why_nothing_can_be_pressed(
    browser: webdriver.Chrome, serve_once: Callable[[Any], str]
) -> None:
    """Start, Done and Hold are out of use, with the word."""
    board = Board(browser, serve_once(live_app(live_plan())))
    board.open()
    post(board.address, "/api/events", {"kind": "end"})
    until(lambda: board.text("band-word") == "ENDED", "ENDED")
    until(lambda: board.text("lane-outcome-EV1") == "the sortie is over", "the word")
    for act in ("start", "done", "hold"):
        assert not browser.find_element(By.ID, f"lane-{act}-EV1").is_enabled(), act


def test_a_board_that_only_shows_says_so_on_its_cards(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """Without the right to log the buttons of the cards are out of use, and the forms are not there."""
    board = Board(browser, serve_once(live_app(live_plan(), may_log=False)))
    board.open()
    until(lambda: "this board only shows" in board.text("lane-outcome-EV1"), "the word")
    assert not browser.find_element(By.ID, "lane-start-EV1").is_enabled()
    assert not browser.find_element(By.ID, "log-enter").is_displayed()
