"""The bar of a replay: the strip with its drift, jumps, keys, addresses of moments, and the words that say what is shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from dashboard.service.access.keys import Keys as RoleKeys
from dashboard.service.app import make_app
from replay.branch import branched
from replay.recording import as_it_was, load_run, packaged_scenarios
from tests.browser.board import Board, live_app, live_plan, paused_desk, post, rehearsal_app, replay_app
from tests.waiting import until

DATE = "2031-03-02"
SAID = "Rehearsal of Lantern Outpost, sortie 2: second pool run from PET 4:05, not a recorded run"
BOXES = """
    return Array.from(document.querySelectorAll("#replay > *, #replay button, #replay select"), (one) => {
        const box = one.getBoundingClientRect();
        return [one.id || one.className, box.left, box.right, box.top, box.bottom, one.scrollWidth - one.clientWidth];
    });
"""
DRAWN = """
    const edge = document.querySelector("#replay-marks .strip-edge").getBBox();
    const brief = Number(document.querySelector("#replay-marks .strip-brief").getAttribute("y1"));
    return [edge.y, edge.y + edge.height, brief];
"""


@pytest.fixture(scope="module")
def replayed(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run that comes with the program, paused at PET 1:00."""
    return Board(browser, serve(replay_app(60)))


@pytest.fixture
def board(replayed: Board) -> Board:
    """The same, with its strip drawn and the clock back at PET 1:00."""
    post(replayed.address, "/api/replay", {"action": "speed", "speed": 60})
    replayed.show(60)
    until(lambda: replayed.driver.find_elements(By.CSS_SELECTOR, "#replay-marks svg"), "the strip")
    return replayed


def keys(board: Board, *pressed: str) -> None:
    board.driver.execute_script("document.activeElement.blur()")
    for key in pressed:
        board.driver.find_element(By.TAG_NAME, "body").send_keys(key)


def at(board: Board, pet: str) -> None:
    until(lambda: board.text("replay-at").startswith(f"PET {pet} ") and board.text("band-pet") == pet, f"PET {pet}")


def test_the_strip_shows_events_decisions_and_the_drift_by_form(board: Board) -> None:
    """A tick an event, a flag a decision, and a depth below the briefed line: 31 min behind at most, 4 min ahead."""
    found = board.driver.find_elements
    assert len(found(By.CSS_SELECTOR, "#replay-marks .mark")) > 150
    assert len(found(By.CSS_SELECTOR, "#replay-marks .mark-decision")) == 7
    top, bottom, brief = board.driver.execute_script(DRAWN)
    assert 0 < bottom - brief < 100 and (brief - top) * 4 < bottom - brief
    said = found(By.CSS_SELECTOR, "#replay-marks svg")[0].get_attribute("aria-label")
    assert "Greatest delay at PET 4:50: 33 min behind" in said


def row_is_right(boxes: list[Any], width: int) -> None:
    """The boxes of the bar lie in one row inside the page, none cut; the strip keeps the most room."""
    row = [box for box in boxes if not box[0].startswith("replay-decision") and box[0] not in ("replay-previous", "replay-next")]
    places = sorted({(left, right) for name, left, right, *_ in row if name != "replay-speed field"})
    assert places[0][0] >= 0 and places[-1][1] <= width
    assert max(bottom for *_, bottom, _ in boxes) - min(box[3] for box in boxes) <= 33
    assert [box for box in boxes if box[5] > 0] == []
    strip = next(box for box in boxes if box[0] == "replay-strip")
    assert strip[2] - strip[1] > width / 4


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768)])
def test_the_bar_holds_everything_in_one_row(board: Board, width: int, height: int) -> None:
    """Nothing is cut, nothing lies over anything else, and the strip keeps the most room."""
    board.show(300, (width, height))
    boxes = board.driver.execute_script(BOXES)
    assert {box[0] for box in boxes} >= {"replay-play", "replay-worst", "replay-speed", "replay-copy", "replay-counts"}
    row_is_right(boxes, width)


def test_jumps_go_to_decisions_and_to_where_the_room_was_most_behind(board: Board) -> None:
    """By button and by key, pausing there; a button with nowhere to go cannot be pressed."""
    before, after = (board.driver.find_element(By.ID, f"replay-decision-{one}") for one in ("previous", "next"))
    until(after.is_enabled, "a decision to go to")
    assert not before.is_enabled()
    board.press("replay-decision-next")
    at(board, "2:34")
    keys(board, "d", "d")
    at(board, "3:41")
    keys(board, "D")
    at(board, "3:12")
    board.press("replay-worst")
    at(board, "4:50")
    assert "behind" in board.text("headline-lanes") and board.text("band-word") == "PAUSED"
    board.seek(60)
    keys(board, "m")
    at(board, "4:50")
    board.seek(370)
    until(lambda: not board.driver.find_element(By.ID, "replay-decision-next").is_enabled(), "no decision any more")


def test_events_are_stepped_through_by_key_and_not_while_someone_writes(board: Board) -> None:
    """`e` goes to the next event, with shift to the one before; in the note field they are letters."""
    before = board.text("replay-at")
    board.type("log-note", "made dead")
    assert board.text("replay-at") == before
    keys(board, "e", "e", "e", "e")
    until(lambda: board.text("replay-at") > before, "a later event")
    keys(board, "E", "E", "E", "E", "E")
    until(lambda: board.text("replay-at") < before, "an earlier event")


def test_the_strip_is_a_slider_by_key(board: Board) -> None:
    """Arrows a minute, pages ten, Home and End the ends of the run."""
    slider = board.driver.find_element(By.ID, "replay-place")
    slider.send_keys(Keys.PAGE_UP)
    at(board, "1:10")
    slider.send_keys(Keys.ARROW_LEFT)
    at(board, "1:09")
    slider.send_keys(Keys.END)
    at(board, "6:22")
    slider.send_keys(Keys.HOME)
    at(board, "0:00")


def test_the_board_follows_while_someone_drags(board: Board) -> None:
    """It is drawn at places on the way, not only where the pointer is let go."""
    slider = board.driver.find_element(By.ID, "replay-place")
    action = webdriver.ActionChains(board.driver, duration=50)
    action.move_to_element(slider).click_and_hold().perform()
    at(board, "3:11")
    webdriver.ActionChains(board.driver).move_by_offset(100, 0).perform()
    until(lambda: board.text("band-pet") > "3:11", "the board at a place on the way")
    webdriver.ActionChains(board.driver).release().perform()
    assert board.text("band-word") == "PAUSED"


def test_a_replay_is_no_rehearsal(board: Board) -> None:
    """Neither word nor title."""
    assert board.driver.title == "Tetherline"
    assert not board.driver.find_elements(By.ID, "replay-rehearsal")


def test_every_speed_can_be_chosen(board: Board) -> None:
    """From 1 to 600."""
    field = board.driver.find_element(By.ID, "replay-speed")
    offered = [one.get_attribute("value") for one in field.find_elements(By.TAG_NAME, "option")]
    assert (offered[0], offered[-1]) == ("1", "600")
    for speed in offered:
        field.send_keys(f"x{speed}" if speed != "1" else Keys.HOME)
        board.driver.execute_script(
            "arguments[0].value = arguments[1]; arguments[0].dispatchEvent(new Event('change', {bubbles: true}))", field, speed
        )
        until(lambda: board.driver.execute_script("return modules.moment.message().speed") == float(speed), speed)  # noqa: B023


def counts_as(board: Board, says: str) -> None:
    """The bar says from when events count, hovering says how to see the other, and the speed is x45."""
    until(lambda: board.text("replay-counts") == says, says)
    assert "--as-it-was" in board.driver.find_element(By.ID, "replay-counts").get_attribute("title")
    until(lambda: board.driver.execute_script("return document.getElementById('replay-speed').value") == "45", "x45")


def test_the_bar_says_that_events_count_as_the_room_knew_them(board: Board) -> None:
    """Unless asked for otherwise; a speed that the list does not offer is shown all the same."""
    post(board.address, "/api/replay", {"action": "speed", "speed": 45})
    counts_as(board, "as logged at the time")


@pytest.mark.parametrize("asked", ["4:05", "2031-03-02T13:12:00Z"])
def test_an_address_opens_the_replay_paused_at_its_moment(replayed: Board, asked: str) -> None:
    """By PET or by instant; the page's address is then plain, so that loading it again takes nobody back."""
    post(replayed.address, "/api/replay", {"action": "play"})
    replayed.open(f"?at={asked}&theme=dark")
    at(replayed, "4:05")
    assert replayed.text("band-word") == "PAUSED"
    until(lambda: replayed.driver.current_url.endswith("/?theme=dark"), "the plain address")
    assert not replayed.driver.find_element(By.ID, "replay-address").is_displayed()


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("9:00", "The address asks for PET 9:00."),
        ("9:99", "The address asks for '9:99', which is not a PET. A PET is hours and minutes, such as 2:05,"),
        ("", "The address gives no PET. A PET is hours and minutes, such as 2:05, with minutes up to 59."),
        ("2031-03-03T09:00:00Z", "The address asks for 2031-03-03T09:00:00Z. This run goes from"),
    ],
)
def test_an_address_of_no_moment_says_why_and_changes_nothing(replayed: Board, asked: str, says: str) -> None:
    """What a PET looks like and from when to when the run goes, in a dialog, in plain words; the clock stays."""
    replayed.pause_at(60)
    replayed.open(f"?at={asked}")
    until(lambda: "This moment cannot be shown" in replayed.text("replay-address"), "the words")
    words = replayed.text("replay-address-words")
    assert words.startswith(says)
    assert words.endswith("This run goes from PET 0:00 to PET 6:22.")
    assert "/api" not in words and "at_pet_min" not in words
    assert replayed.text("band-pet") == "1:00"
    replayed.press("replay-address-cancel")
    assert not replayed.driver.find_element(By.ID, "replay-address").is_displayed()


def test_copy_gives_the_address_of_the_moment_shown(board: Board) -> None:
    """Selected in a field, whether or not the browser lets it be copied; opened, it leads back."""
    board.seek(245.5)
    keys(board, "a")
    until(lambda: board.text("replay-address").strip().startswith("Address of this moment"), "the dialog")
    field = board.driver.find_element(By.ID, "replay-address-field")
    address = field.get_attribute("value")
    assert address == f"{board.address}/?at=4:05:30"
    selected = "const f = document.activeElement; return f.value.slice(f.selectionStart, f.selectionEnd)"
    assert board.driver.execute_script(selected) == address
    until(lambda: board.driver.find_element(By.CSS_SELECTOR, "#replay-address .form-outcome").text, "what came of it")
    assert "everyone" in board.text("replay-address")
    board.press("replay-address-cancel")
    board.seek(60)
    board.open("?at=4:05:30")
    at(board, "4:05")
    assert board.driver.execute_script("return modules.moment.message().replay.at_pet_min") == 245.5


def test_a_live_sortie_refuses_an_address_of_a_moment(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """In words, and it goes on live."""
    live = Board(browser, serve_once(live_app(live_plan())))
    live.open("?at=0:05")
    until(lambda: "found a live sortie" in live.text("replay-address"), "the words")
    assert "PET 0:05" in live.text("replay-address-words")
    assert live.text("band-word") == "LIVE"


def test_the_bar_says_that_events_count_as_it_really_was(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """For a run that is shown so."""
    run = as_it_was(load_run(packaged_scenarios()["lantern-2"]))
    desk = paused_desk(run, run.pet_zero + timedelta(minutes=60), speed=45)
    board = Board(browser, serve_once(make_app(desk).server))
    board.open()
    counts_as(board, "as it really was")


@pytest.fixture(scope="module")
def rehearsed(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The same run with decisions of the trainee's own from PET 4:05 on."""
    return Board(browser, serve(rehearsal_app(245)))


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768)])
def test_a_rehearsal_says_so(rehearsed: Board, width: int, height: int) -> None:
    """In the bar, under the word of the band, and in the title of the page; nothing of the bar is cut for it."""
    rehearsed.show(size=(width, height))
    assert rehearsed.driver.title == f"{SAID} - Tetherline"
    assert rehearsed.text("replay-rehearsal") == "REHEARSAL"
    assert rehearsed.driver.find_element(By.ID, "replay-rehearsal").get_attribute("title") == SAID
    until(lambda: rehearsed.text("band-run") == f"rehearsal of {DATE}", "the band saying so")
    until(lambda: rehearsed.text("replay-counts") == "yours from PET 4:05", "from when on")
    boxes = rehearsed.driver.execute_script(BOXES)
    row_is_right(boxes, width)
    assert {"replay-rehearsal", "replay-play", "replay-copy"} <= {box[0] for box in boxes}
    left = "return arguments[0].map((name) => document.getElementById(name).getBoundingClientRect().left)"
    word, mark = rehearsed.driver.execute_script(left, ["band-word", "replay-rehearsal"])
    assert word == mark


def test_the_replay_of_a_rehearsal_says_so(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """In bar, band and title, as the rehearsal did; nothing that its run is called becomes a part of the page."""
    run = load_run(packaged_scenarios()["lantern-2"])
    branch = branched(run, run.pet_zero + timedelta(minutes=245)).run
    strange = replace(branch, parent="</title><i>{%css%}")
    said = SAID.replace(run.title, strange.parent)
    board = Board(browser, serve_once(make_app(paused_desk(strange)).server))
    board.open()
    assert board.driver.title == f"{said} - Tetherline"
    mark = board.driver.find_element(By.ID, "replay-rehearsal")
    assert (mark.text, mark.get_attribute("title")) == ("REHEARSAL", said)
    until(lambda: board.text("band-run") == f"rehearsal of {DATE}", "the band saying so")
    until(lambda: board.text("replay-counts") == "as logged at the time", "nobody's own decisions")


def test_who_only_watches_cannot_move_the_clock(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """The buttons cannot be pressed; the strip says what it needs. With the key they can."""
    run = load_run(packaged_scenarios()["lantern-2"])
    desk = paused_desk(run, run.pet_zero + timedelta(minutes=60))
    board = Board(browser, serve_once(make_app(desk, RoleKeys("k1")).server))
    moving = "'#replay button:not(#replay-copy), #replay select'"
    controls = f"return Array.from(document.querySelectorAll({moving}), (one) => one.disabled)"
    board.open()
    assert all(board.driver.execute_script(controls))
    board.driver.find_element(By.ID, "replay-place").click()
    until(lambda: "needs the log key" in board.driver.find_element(By.TAG_NAME, "body").text, "why nothing moves")
    assert board.text("band-pet") == "1:00"
    board.open("?key=k1")
    board.press("replay-decision-next")
    at(board, "2:34")


def test_what_is_entered_stands_in_the_strip(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """The strip is drawn anew once an event was recorded."""
    board = Board(browser, serve_once(replay_app(60)))
    board.open()
    count = "return document.querySelectorAll('#replay-marks .mark-decision').length"
    until(lambda: browser.execute_script(count) == 7, "the strip")
    post(board.address, "/api/events", {"kind": "defer", "tasks": ["T190"]})
    until(lambda: browser.execute_script(count) == 8, "the decision in the strip")
