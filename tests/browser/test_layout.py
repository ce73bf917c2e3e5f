"""Layout of the board in a browser: what must not move, be cut, or look fresh when it is old."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.core.deferral.advice_model import Choice, Item, Rung
from dashboard.core.events.change import Change
from dashboard.core.state.log_in_words import logbook
from dashboard.core.state.model import Alert, SortieState
from dashboard.screens import choices, headline, problems
from dashboard.screens.ids import Headline, Problems
from tests.browser.board import Board, live_app, live_plan, post, replay_app
from tests.browser.conftest import rested
from tests.scenario import follow_at
from tests.screens.plans import suited_plan
from tests.waiting import until

SHIFTS = """
    const done = arguments[0];
    let score = 0;
    new PerformanceObserver((list) => {
        for (const entry of list.getEntries()) score += entry.value;
    }).observe({type: "layout-shift", buffered: true});
    setTimeout(() => done(score), 400);
"""
CUT = """
    const box = document.getElementById(arguments[0]);
    box.innerHTML = arguments[1];
    return Array.from(box.querySelectorAll(".figure-row, .mark-row, .figure-line")).map((row) => {
        const edge = box.closest(".headline-box").getBoundingClientRect();
        const last = Math.max(...Array.from(row.childNodes, (one) => {
            const range = document.createRange();
            range.selectNodeContents(one);
            return range.getBoundingClientRect().right;
        }));
        return Math.max(row.scrollWidth - row.clientWidth, last - edge.right);
    });
"""
NAMED = """
    const box = document.getElementById("headline-end"), head = box.parentElement.querySelector("h2");
    const part = (one) => {
        const range = document.createRange(); range.selectNodeContents(one); return range.getBoundingClientRect();
    };
    if (arguments[1]) document.body.classList.add(arguments[1]);
    box.innerHTML = arguments[0];
    const row = box.querySelector(".figure-row"), end = part(row);
    const others = [part(head), ...Array.from(box.querySelectorAll(".mark-row, .figure-line"), part)];
    const found = {
        head: head.innerText, seen: getComputedStyle(head).visibility, said: row.innerText, lines: box.innerText,
        apart: others.every((one) => one.right <= end.left || one.bottom <= end.top || end.bottom <= one.top),
        boxes: [...others, end].map((one) => [one.left, one.right, one.top, one.bottom].map(Math.round)),
    };
    if (arguments[1]) document.body.classList.remove(arguments[1]);
    return found;
"""
SIZES = [(1920, 1080), (1366, 768)]


@pytest.fixture(scope="module")
def replayed(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run that comes with the program, paused at PET 2:30."""
    return Board(browser, serve(replay_app(150)))


@pytest.fixture(params=SIZES, ids=lambda size: f"{size[0]}")
def sized(replayed: Board, request: pytest.FixtureRequest) -> Board:
    """The same, paused at PET 2:30, at both sizes."""
    replayed.show(150, request.param)
    return replayed


def late_state() -> SortieState:
    """Both lanes, the end and the suit as far off as a sortie can be: 3 h 12 min."""
    state = follow_at(suited_plan(), "0:00 clock\n0:00 start T010", "0:10")
    lanes = {name: lane.model_copy(update={"ahead_min": -192.0}) for name, lane in state.lanes.items()}
    late = {"margin_min": -192.0, "plan_pace_pet_min": 582.0, "p50_pet_min": 582.0, "in_by_limit": 0.004}
    end = state.end.model_copy(update=late)
    suits = {n: s.model_copy(update={"margin_min": 192.0, "limiting": "co2"}) for n, s in state.suits.items()}
    advice = state.advice.model_copy(update={"needed": True, "confidence": 0.9, "in_by_limit": 0.004})
    return state.model_copy(update={"lanes": lanes, "end": end, "suits": suits, "advice": advice})


def test_the_headline_holds_the_largest_values_uncut(sized: Board) -> None:
    """3 h 12 min behind in both lanes, over the limit, and of a suit, beside their badges."""
    pieces = headline.snapshot(suited_plan(), late_state())
    assert "3 h 12" in pieces[Headline.LANES]
    for box, piece in pieces.items():
        beyond = sized.driver.execute_script(CUT, str(box), piece)
        assert beyond and max(beyond) <= 0, box


@pytest.mark.parametrize("body", ["", "no-contact"])
@pytest.mark.parametrize("kind", ["expected", "plan pace"])
def test_the_end_is_named_beside_the_largest_values(sized: Board, kind: str, body: str) -> None:
    """Inside by when, against which limit, and of which kind the end is, at every size, with contact and without."""
    state = late_state()
    if kind == "plan pace":
        state = state.model_copy(update={"end": state.end.model_copy(update={"p50_pet_min": None, "in_by_limit": None})})
    found = sized.driver.execute_script(NAMED, headline.snapshot(suited_plan(), state)[Headline.END], body)
    assert found["head"].strip().endswith("Crew inside") and found["seen"] == "visible"
    assert " ".join(found["said"].split()).startswith("Inside by PET 9:42 4 h 55 min past the limit PET 4:47")
    assert ("this is the end at plan pace" in " ".join(found["lines"].split())) is (kind == "plan pace")
    assert found["apart"], found


def test_nothing_shifts_while_the_page_comes_up(sized: Board) -> None:
    """Layout-shift score 0 from the first paint on."""
    sized.open()
    assert sized.driver.execute_async_script(SHIFTS) == 0


def test_the_buttons_of_a_card_stay_where_they_are(sized: Board) -> None:
    """Whatever they say, through work, hold and end."""
    script = """return Array.from(document.querySelectorAll("#lane-card-EV2 .lane-buttons > *")).map((one) => {
        const box = one.getBoundingClientRect(); return [box.left, box.top, box.width, box.height]; })"""
    first = sized.driver.execute_script(script)
    for pet in (60, 125, 205, 250, 330, 381):
        sized.seek(pet)
        assert sized.text("replay-at").startswith(f"PET {pet // 60}:{pet % 60:02d}")
        assert sized.driver.execute_script(script) == first, pet
        cut = "return Array.from(document.querySelectorAll('.lane-buttons button'), (one) => one.scrollWidth - one.clientWidth)"
        assert max(sized.driver.execute_script(cut)) <= 0, pet
    assert all(high < 40 for _, _, _, high in first)


def test_what_is_cut_on_a_card_can_be_read_by_key(sized: Board) -> None:
    """Worksite, task, what comes next and what it waits for, with nothing cut, once the card has the focus."""
    sized.press("band-title")
    sized.driver.execute_script("document.getElementById('basis-card-EV1').focus()")
    until(lambda: "at pump-bay" in sized.text("basis"), "the card in full")
    assert "Next: T180 Caps and bag 1 stowed, bag 2 out, waits for T150 Release fitting 2" in sized.text("basis")
    assert "pump-bay" in sized.text("lane-body-EV1")


def test_only_a_badge_that_is_new_moves_and_its_colour_is_steady(replayed: Board) -> None:
    """A redraw of what is there starts no motion; a badge that was not there moves once, without fading."""
    replayed.show(150)
    script = """const m = modules.moment.message(), pieces = { ...m.board.html };
        const at = (html) => { pieces["headline-decision"] = html; modules.page.draw(pieces); };
        const moving = () => document.getAnimations().filter((one) => one.animationName === "arrive");
        const badge = (word) => '<span class="badge caution">' + word + "</span>";
        at("<p>1</p>" + badge("decide")); const fresh = moving().length;
        document.getAnimations().forEach((one) => one.finish());
        at("<p>2</p>" + badge("decide")); const same = moving().length;
        at("<p>3</p>" + badge("decide") + badge("close")); const more = moving();
        const faded = more.some((one) => one.effect.getKeyframes().some((frame) => "opacity" in frame));
        modules.page.draw(m.board.html);
        return [fresh, same, more.length, faded]"""
    assert replayed.driver.execute_script(script) == [1, 0, 1, False]


def test_a_fast_replay_shows_one_instant(replayed: Board) -> None:
    """Over 60 times the clock is not counted on between messages."""
    replayed.show(150)
    script = """const m = modules.moment.message(), was = [m.speed, m.clock_running];
        Object.assign(m, {speed: 600, clock_running: true});
        const counted = modules.moment.now() - Date.parse(m.now);
        [m.speed, m.clock_running] = was;
        return counted"""
    assert replayed.driver.execute_script(script) == 0


# How many rows of the log are whole and in view.
ROWS = """
    const rows = document.getElementById("log-rows"), foot = rows.getBoundingClientRect().bottom;
    const boxes = Array.from(rows.querySelectorAll("tbody tr"), (row) => row.getBoundingClientRect());
    return boxes.filter((box) => box.bottom <= foot + 1).length;
"""
MOMENTS_MIN = (60, 150, 226, 250, 269, 330)  # calm, a contingency, before and after a decision, near the end


def test_the_log_shows_eight_rows_and_the_problems_three_alerts(replayed: Board) -> None:
    """At full size, with the row of the replay, whatever the call is; each row and each alert whole."""
    for pet in MOMENTS_MIN:
        replayed.show(pet)
        assert replayed.driver.execute_script(ROWS) >= 8, pet
    script = """const body = document.getElementById("problems-body");
        body.innerHTML = arguments[0];
        const under = body.getBoundingClientRect().bottom;
        return Array.from(body.children, (one) => one.getBoundingClientRect()).filter((b) => b.bottom <= under + 1).length"""
    state = follow_at(suited_plan(), "0:00 clock\n0:00 start T010", "0:10")
    long = "the projected end is past the limit by much more than the reserve that the plan keeps"
    alerts = [Alert(id=f"a{n}", what=long, since_pet_min=20.0, by_pet_min=390.0, do="Decide what to defer.") for n in range(3)]
    nothing = logbook(suited_plan(), [], state.now)
    piece = problems.snapshot(suited_plan(), state.model_copy(update={"alerts": alerts}), nothing)[Problems.BODY]
    assert replayed.driver.execute_script(script, piece) >= 3


def test_nothing_shifts_when_the_call_changes(sized: Board) -> None:
    """Layout-shift score 0 from a calm hour to a decision and back; every panel keeps its place and its size."""
    sized.driver.execute_script("""window.shifted = [];
        new PerformanceObserver((list) => { for (const one of list.getEntries()) shifted.push(one.value); })
            .observe({type: "layout-shift"});""")
    before = sized.boxes()
    for pet in MOMENTS_MIN:
        sized.seek(pet)
        assert sized.boxes() == before, pet
    rested(sized.driver)
    assert sized.driver.execute_script("return shifted") == []


def test_the_title_of_a_joint_block_has_the_whole_width_of_the_block(replayed: Board) -> None:
    """A thin line of drift that crosses the block does not cut its title to the first column."""
    replayed.show(249.5)
    script = """const plot = document.querySelector("#sheet-graph .js-plotly-plot");
        const texts = plot.data.find((one) => one.name === "labels").text;
        return texts.map((one) => one.replace(/<br>/g, " ").replace(/<[^>]*>/g, ""))"""
    wanted = "Arm brings the spare tray, crew guides it onto the rails"
    until(lambda: any(wanted in one for one in replayed.driver.execute_script(script)), wanted)


CUT_OFF = """
    const cut = (one) => getComputedStyle(one).overflowX !== "visible" && one.scrollWidth > one.clientWidth + 1;
    const places = [".headline", ".suits-body", ".problems-body", ".band", ".lane-card", ".sheet-foot"].map((one) => one + " *");
    return Array.from(document.querySelectorAll([".choices-body", ".choices-body *", ...places].join()))
        .filter((one) => one.clientWidth > 0 && /\\d/.test(one.textContent) && cut(one))
        .map((one) => one.textContent.slice(0, 80))
"""

# Places of a fixed height of which the foot is cut off.
TOO_HIGH = """
    return Array.from(document.querySelectorAll(".band, .headline-box, .lane-body, .suits, .sheet-out"))
        .filter((one) => one.scrollHeight > one.clientHeight + 1).map((one) => one.textContent.slice(0, 80))
"""
# Words of the lane sheet in which a number or an id is cut, and lines of blocks that do not begin with the id of a task.
OF_THE_SHEET = """
    const plot = document.querySelector("#sheet-graph .js-plotly-plot");
    const texts = (name) => plot.data.find((one) => one.name === name).text.map((one) => one.replace(/<(?!br)[^>]*>/g, ""));
    const all = [...texts("labels"), ...texts("right")];
    return [all.length > 10, all.filter((one) => /\\d[^\\s<]*…/.test(one) && !/\\b[TC]\\d{3}…/.test(one)),
        texts("labels").filter((one) => !/^([TC]\\d{3}|\\d+ of \\d+ min|\\d+ min)/.test(one))]
"""


# How many choices are whole and in view, without scrolling.
WHOLE_CHOICES = """
    const foot = document.getElementById("choices-body").getBoundingClientRect().bottom;
    return Array.from(document.querySelectorAll("#choices-body .choice:not(.ladder)"))
        .filter((one) => one.getBoundingClientRect().bottom <= Math.min(foot, innerHeight) + 1).length;
"""


def test_no_number_time_or_id_is_cut_at_any_size(replayed: Board) -> None:
    """A call to decide with the largest values, a ladder and choices with several parts, from a phone to a wall."""
    item = Item(task="T030", how="trim", to=25.0, decide_by_pet_min=281.0, wins_min=192.0, now=True)
    parts = [item, item.model_copy(update={"task": "T020", "now": False})]
    choice = Choice(
        trim={"T030": 25.0, "T020": 25.0}, items=parts, end_pet_min=582.0, in_by_limit=0.004, decide_by_pet_min=281.0,
        value_lost={"2": 2.0}, margin_min={"A": -192.0}, limiting={"A": "co2"}, why="So.", differs="keeps T010 and T040",
    )
    rung = Rung(wanted=0.9, reached=True, trim={"T030": 25.0, "T020": 25.0}, value_lost={"2": 2.0})
    late = late_state()
    told = {"call": "decide", "call_by_pet_min": 281.0, "call_since_pet_min": 224.0, "call_changed_by": "hold lane ARM",
            "call_for_now": Change(trim={"T030": 25.0}), "choices": [choice] * 3, "ladder": [rung]}
    state = late.model_copy(update={"advice": late.advice.model_copy(update=told)})
    pieces = {**headline.snapshot(suited_plan(), state), **choices.snapshot(suited_plan(), state)}
    for width, height in ((390, 844), (768, 1024), (1366, 768), (1920, 1080), (3840, 2160)):
        replayed.show(150, (width, height))
        rested(replayed.driver)
        assert replayed.driver.execute_script(CUT_OFF) == [] and replayed.driver.execute_script(TOO_HIGH) == [], width
        assert replayed.driver.execute_script(OF_THE_SHEET) == [True, [], []], width
        replayed.driver.execute_script(
            "document.body.dataset.tab = 'choices';"
            "for (const [id, html] of Object.entries(arguments[0])) document.getElementById(id).innerHTML = html", pieces,
        )
        assert "by PET 4:41" in replayed.text("headline-decision")
        assert width < 1366 or replayed.driver.execute_script(WHOLE_CHOICES) >= (3 if width > 1920 else 1), width
        assert replayed.driver.execute_script(CUT_OFF) == [] and replayed.driver.execute_script(TOO_HIGH) == [], width


def test_all_that_rests_on_a_stale_log_says_so(browser: webdriver.Chrome, serve_once: Callable[[Any], str]) -> None:
    """Choices, sheet and alerts as well as the headline: a word and a hatch."""
    board = Board(browser, serve_once(live_app(live_plan(minutes_old=150))))
    board.open()
    until(lambda: "stale" in board.text("band-event-age"), "the word stale")
    before = "return getComputedStyle(document.getElementById(arguments[0]), '::before').content"
    for head in ("choices-head", "problems-head"):
        assert "stale log" in browser.execute_script(before, head)
    label = browser.find_element(By.CLASS_NAME, "sheet-stale")
    assert label.is_displayed() and "stale log" in label.text
    hatched = "return getComputedStyle(document.querySelector(arguments[0])).backgroundImage"
    assert "repeating-linear-gradient" in browser.execute_script(hatched, ".sheet-stale")
    post(board.address, "/api/events", {"kind": "note", "text": "fresh again"})
    until(lambda: not label.is_displayed(), "the mark going with the first event")
