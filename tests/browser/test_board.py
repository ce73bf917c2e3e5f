"""The board in a real browser: fixed places, live entries, age of the feed, loss of the server, replay."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from tests.browser.board import Board, live_app, live_plan, post, replay_app
from tests.browser.conftest import chrome_options, rested
from tests.live_server import LiveServer
from tests.waiting import until


@pytest.fixture(scope="module")
def live(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """A live sortie, 20 minutes old."""
    return Board(browser, serve(live_app(live_plan())))


@pytest.fixture(scope="module")
def replayed(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run that comes with the program, paused at PET 1:00."""
    return Board(browser, serve(replay_app(60, advised=True)))


def test_an_event_entered_on_a_card_is_in_the_log_and_on_the_card(live: Board) -> None:
    """Start next, then Done: the card, its buttons and the log follow."""
    live.show()
    Select(live.driver.find_element(By.ID, "lane-ago-EV1")).select_by_value("15")
    live.press("lane-start-EV1")
    until(lambda: "of 30 min" in live.text("lane-body-EV1"), "the task in work on the card")
    assert "start T010 Leave the airlock" in live.text("log-rows")
    assert "of 30 min" in live.text("lane-body-EV2")  # the joint task is in work on both cards
    live.press("lane-done-EV1")
    until(lambda: "done T010" in live.text("log-rows"), "the done in the log")
    assert "T020" in live.text("lane-body-EV1")


def test_hold_resume_and_undo(live: Board) -> None:
    """Hold turns into Resume; undo withdraws what was entered last, and the log keeps it, struck through."""
    live.show()
    live.press("lane-start-EV2")
    until(lambda: re.search(r"\b0 of \d+ min", live.text("lane-body-EV2")), "the task in work")
    live.press("lane-hold-EV2")
    live.type("hold-reason", "tool stuck")
    live.press("hold-yes")
    until(lambda: live.text("lane-hold-EV2") == "Resume", "the button saying Resume")
    assert "tool stuck" in live.text("lane-body-EV2")
    assert "on hold" in live.text("lane-body-EV2")
    live.press("lane-hold-EV2")
    until(lambda: live.text("lane-hold-EV2") == "Hold", "the task in work again")
    live.press("lane-undo-EV2")
    until(lambda: live.text("lane-hold-EV2") == "Resume", "the resume withdrawn")
    struck = live.driver.find_elements(By.CSS_SELECTOR, "#log-rows tr.withdrawn")
    assert any("resume T0" in row.text and "withdrawn" in row.text for row in struck)


def test_a_note_and_a_whole_event_can_be_entered(live: Board) -> None:
    """The note field, and the form for every kind of event."""
    live.show()
    live.type("log-note", "glove check asked for")
    live.press("log-add-note")
    until(lambda: "glove check asked for" in live.text("log-rows"), "the note in the log")
    live.press("log-enter")
    Select(live.driver.find_element(By.ID, "entry-kind")).select_by_value("estimate")
    field = live.driver.find_element(By.CSS_SELECTOR, "#entry-fields [data-field=task]")
    Select(field).select_by_value("T030")
    live.press("entry-send")
    until(lambda: "expected a value; found none" in live.text("entry-form"), "the missing minutes being said")
    live.driver.find_element(By.CSS_SELECTOR, "#entry-fields [data-field=remaining]").send_keys("33")
    live.press("entry-send")
    until(lambda: "33 min remain by estimate" in live.text("log-rows"), "the estimate in the log")
    assert not live.driver.find_element(By.ID, "entry-form").is_displayed()


def test_an_event_can_be_amended(live: Board) -> None:
    """The right time in PET; the row says that it was amended."""
    live.show()
    live.driver.find_element(By.CSS_SELECTOR, "#log-rows [data-act=correct]").click()
    said = live.driver.find_element(By.CSS_SELECTOR, "#log-rows .log-text").text
    assert said in live.text("amend-event")
    live.press("amend-send")
    until(lambda: "found nothing filled in" in live.text("amend-form"), "an empty correction being refused")
    live.type("amend-at", "noon")
    live.press("amend-send")
    until(lambda: "Expected a time as H:MM" in live.text("amend-form"), "the wrong time being refused")
    live.type("amend-at", "0:07")
    live.press("amend-send")
    until(lambda: "amended" in live.text("log-rows"), "the amendment in the log")


def test_a_note_can_be_reworded_and_withdrawn(live: Board) -> None:
    """An amendment puts the words right; a withdrawn note stays in the log, struck through."""
    live.show()
    post(live.address, "/api/events", {"id": "n1", "kind": "note", "text": "foothold seated at 2"})
    until(lambda: "foothold seated" in live.text("log-rows"), "the note")
    live.press("correct-n1")
    live.type("amend-text", "foothold seated at 3")
    live.press("amend-send")
    until(lambda: "foothold seated at 3" in live.text("log-rows"), "the right words")
    live.press("correct-n1")
    live.type("amend-note", "wrong foothold")
    live.press("amend-withdraw")
    until(lambda: not live.driver.find_elements(By.ID, "correct-n1"), "the note being withdrawn")
    struck = live.driver.find_elements(By.CSS_SELECTOR, "#log-rows tr.withdrawn")
    assert any("foothold seated" in row.text and "withdrawn" in row.text for row in struck)


def test_two_browsers_see_each_other(live: Board) -> None:
    """What one enters, the other shows."""
    live.show()
    other = webdriver.Chrome(options=chrome_options())
    try:
        second = Board(other, live.address)
        second.open()
        second.type("log-note", "from the other screen")
        second.press("log-add-note")
        until(lambda: "from the other screen" in live.text("log-rows"), "the other browser's note")
    finally:
        other.quit()


def test_what_could_not_be_sent_is_kept_by_every_window_and_sent_again(live: Board) -> None:
    """Two windows of one browser, a lost connection in one and a failing server in the other: both events arrive."""
    live.show()
    first = live.driver.current_window_handle
    live.driver.execute_script("window.realFetch = window.fetch; window.fetch = () => Promise.reject(new Error('gone'))")
    live.driver.switch_to.new_window("tab")
    live.open()
    live.driver.execute_script("window.fetch = () => Promise.resolve(new Response('{}', {status: 503}))")
    live.type("log-note", "kept by the second window")
    live.press("log-add-note")
    until(lambda: "Kept, will be sent" in live.text("log-outcome"), "the second window keeping it")
    live.driver.close()
    live.driver.switch_to.window(first)
    live.type("log-note", "kept by the first window")
    live.press("log-add-note")
    until(lambda: "Kept, will be sent" in live.text("log-outcome"), "the first window keeping it")
    live.driver.execute_script("window.fetch = window.realFetch")
    until(lambda: "kept by the first window" in live.text("log-rows"), "the first event")
    until(lambda: "kept by the second window" in live.text("log-rows"), "the second event")


def test_text_in_a_field_and_the_filter_survive_updates(live: Board) -> None:
    """A half-written note, its focus, and the filter stay when new events come in."""
    live.show()
    live.type("log-filter", "zero")
    live.type("log-note", "half a sen")
    post(live.address, "/api/events", {"kind": "note", "text": "something new"})
    until(lambda: "something new" in live.driver.page_source, "the new event")
    assert live.driver.find_element(By.ID, "log-note").get_attribute("value") == "half a sen"
    assert live.driver.switch_to.active_element.get_attribute("id") == "log-note"
    rows = [row for row in live.driver.find_elements(By.CSS_SELECTOR, "#log-rows tbody tr") if row.is_displayed()]
    assert rows
    assert all("zero" in row.text.lower() for row in rows)


def test_words_that_look_like_markup_are_words(live: Board) -> None:
    """A note cannot become part of the page."""
    live.show()
    post(live.address, "/api/events", {"kind": "note", "text": "<img src=x onerror=document.title='broken'>"})
    until(lambda: "<img src=x" in live.text("log-rows"), "the note as words")
    assert live.driver.title == "Tetherline"


def test_the_state_of_the_feed_is_said_in_words(live: Board) -> None:
    """Fresh after an entry; the age counts in the browser between messages."""
    live.show()
    post(live.address, "/api/events", {"kind": "note", "text": "fresh"})
    until(lambda: re.fullmatch(r"\d+ s ago, fresh", live.text("band-event-age")), "a fresh feed")
    seen: set[str] = set()
    until(lambda: seen.add(live.text("band-event-age")) or len(seen) >= 3, "three ages without a message")


def test_a_live_board_fills_the_page(live: Board) -> None:
    """Without the row of the replay the regions take its room: the lower ones end at the foot of the page."""
    live.show()
    sheet, below = (live.driver.find_element(By.ID, name).rect for name in ("sheet", "problems"))
    assert 0 <= below["y"] - (sheet["y"] + sheet["height"]) <= 12
    for name in ("log", "problems", "choices"):
        box = live.driver.find_element(By.ID, name).rect
        assert 1060 <= box["y"] + box["height"] <= 1080, name
    assert live.driver.find_element(By.ID, "headline").rect["y"] < 70


def test_the_board_does_not_scroll_at_its_full_size(replayed: Board) -> None:
    """Everything of the overall state is on one page of 1920 by 1080."""
    replayed.show()
    size = replayed.driver.execute_script(
        "const e = document.scrollingElement; return [e.scrollWidth, e.clientWidth, e.scrollHeight, e.clientHeight]"
    )
    assert size[0] <= size[1]
    assert size[2] <= size[3]
    for name in ("lane-body-EV1", "lane-body-EV2", "lane-body-ARM", "headline-end", "headline-lanes", "suits-body"):
        high = replayed.driver.execute_script(
            "const e = document.getElementById(arguments[0]); return [e.scrollHeight, e.clientHeight]", name
        )
        assert high[0] <= high[1] + 1, name


def test_boxes_stay_where_they_are_through_a_replay(replayed: Board) -> None:
    """Every 15 minutes of the run, each drawn: no region moves or changes its size."""
    replayed.show(60)
    first = replayed.boxes()
    for pet in range(75, 367, 15):
        replayed.seek(pet)
        assert replayed.text("replay-at").startswith(f"PET {pet // 60}:{pet % 60:02d}")
        assert replayed.boxes() == first, pet


def test_replay_plays_pauses_and_steps(replayed: Board) -> None:
    """The word at its fixed place changes, PET runs, and a step goes to the next event and pauses."""
    replayed.show(60)
    until(lambda: replayed.text("band-word") == "PAUSED", "PAUSED")
    replayed.press("replay-play")
    until(lambda: replayed.text("band-word") == "REPLAY x60", "REPLAY x60")
    assert "2031-03-02" in replayed.text("band-run")
    until(lambda: replayed.text("band-pet") >= "1:02", "PET running at 60 times")
    replayed.press("replay-next")
    until(lambda: replayed.text("band-word") == "PAUSED", "PAUSED at the next event")


def test_every_time_on_the_page_carries_the_name_of_its_clock(replayed: Board) -> None:
    """H:MM stands after the word PET or UTC, or in a column or axis headed PET."""
    replayed.show()
    for pet in (30, 150, 250, 375):
        replayed.seek(pet)
        assert replayed.text("replay-at").startswith(f"PET {pet // 60}:")
        for name in ("band", "headline", "lanes", "suits", "choices", "problems-head", "sheet-out", "replay"):
            text = replayed.text(name)  # read once: choices may come in between
            for found in re.finditer(r"-?\d:[0-5]\d", text):
                before = text[: found.start()].replace("\n", " ").replace("\u00a0", " ")
                named = r"(PET|UTC|of|to) ?$" if name in ("replay", "headline") else r"(PET|UTC)[ \d:]*$"
                assert re.search(named, before), (name, text)
    heads = [cell.text for cell in replayed.driver.find_elements(By.CSS_SELECTOR, "#log-rows th")]
    assert heads[0] == "PET"


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (1920, 1080), (3840, 2160)])
def test_the_overall_state_is_in_view(replayed: Board, width: int, height: int) -> None:
    """Band, headline and the sheet lie inside the window on a laptop, a desk and a large screen."""
    replayed.show(size=(width, height))
    for name, (left, top, wide, high) in replayed.boxes().items():
        if name in ("band", "sheet-graph") or name.startswith("headline"):
            assert left >= 0 and top >= 0, name
            assert left + wide <= width + 1 and top + high <= height + 1, name


def test_nothing_is_loaded_from_outside_and_nothing_fails(replayed: Board) -> None:
    """The console is free of errors with every outside address blocked."""
    replayed.driver.get("about:blank")
    replayed.driver.get_log("browser")
    replayed.open()
    rested(replayed.driver)
    assert [line for line in replayed.driver.get_log("browser") if line["level"] == "SEVERE"] == []


def test_at_stale_the_projected_end_is_withheld(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """The last event is 40 minutes old: the word, and no projected end."""
    plan = live_plan(minutes_old=40)
    board = Board(browser, serve_once(live_app(plan)))
    board.open()
    until(lambda: "stale" in board.text("band-event-age"), "the word stale")
    assert board.text("headline-end") == "withheld: no event for 40 min"
    marked = browser.execute_script(
        "return getComputedStyle(document.querySelector('#headline-lanes .mark-row'), '::after').content"
    )
    assert "stale" in marked


def test_a_choice_is_shown_and_recorded_as_a_decision(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """Half an hour behind, the choices come by themselves; recording the first asks, repeats it, and takes effect."""
    board = Board(browser, serve_once(replay_app(249.5, advised=True)))
    board.open()
    until(lambda: "Record decision" in board.text("choices-body"), "the choices")
    assert "Advisory only" in board.text("choices-body")
    until(lambda: "expect a cut" in board.text("headline-decision"), "the call, which comes after the first choice")
    board.press("decide-1")
    asked = board.text("ask-form")
    assert "Record this decision?" in asked and "Advisory only" in asked
    assert browser.switch_to.active_element.get_attribute("id") == "ask-by"
    board.press("ask-yes")
    assert "expected the name of who decides" in board.text("ask-form")
    board.type("ask-by", "lead")
    board.press("ask-yes")
    until(lambda: "decided: " in board.text("log-rows"), "the decision in the log")
    until(lambda: "nothing to decide" in board.text("headline-decision"), "no decision waiting any more")


def test_a_silent_server_is_said_across_the_page_and_its_return_heals(browser: webdriver.Chrome) -> None:
    """A bar stands across the page; when the server is back the bar goes by itself."""
    plan = live_plan()
    first = LiveServer(live_app(plan)).start()
    board = Board(browser, first.url)
    board.open()
    first.stop()
    until(lambda: "No contact with the server" in board.text("contact"), "the bar")
    second = LiveServer(live_app(plan), port=first.port).start()
    try:
        until(lambda: board.text("contact") == "", "the bar going")
    finally:
        second.stop()


