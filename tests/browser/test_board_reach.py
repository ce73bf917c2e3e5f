"""The board by keyboard, on a laptop, and in numbers: what can be reached, how large it is, how much colour it shows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.board import Board, post, replay_app
from tests.browser.conftest import rested
from tests.waiting import until

# Notes down what takes the focus, in its order.
FOCUSED = """
    window.focused = [];
    document.addEventListener("focusin", ({target: on}) => {
        focused.push({id: on.id, act: on.dataset.act || "", outline: getComputedStyle(on).outlineStyle});
    });
    document.activeElement.blur();
"""
SIZES = """
    return Array.from(document.querySelectorAll("button, select, input, [role=slider]")).map((on) => {
        const box = on.getBoundingClientRect();
        return [on.id || on.className, box.width, box.height];
    }).filter(([name, width]) => width > 0);
"""
SATURATED = """
    const done = arguments[1], picture = new Image();
    picture.onload = () => {
        const canvas = document.createElement("canvas");
        canvas.width = picture.width;
        canvas.height = picture.height;
        const pen = canvas.getContext("2d");
        pen.drawImage(picture, 0, 0);
        const dots = pen.getImageData(0, 0, canvas.width, canvas.height).data;
        let saturated = 0;
        for (let at = 0; at < dots.length; at += 4) {
            const most = Math.max(dots[at], dots[at + 1], dots[at + 2]), least = Math.min(dots[at], dots[at + 1], dots[at + 2]);
            if (most - least > 0.4 * most && most > 60) saturated += 1;
        }
        done(saturated / (canvas.width * canvas.height));
    };
    picture.src = "data:image/png;base64," + arguments[0];
"""


# Mean and spread of the luminance (WCAG 2.2) in the boxes of a picture.
LUMINANCES = """
    const [source, boxes, done] = arguments, picture = new Image();
    const linear = (one) => (one / 255 <= 0.04045 ? one / 255 / 12.92 : ((one / 255 + 0.055) / 1.055) ** 2.4);
    picture.onload = () => {
        const canvas = document.createElement("canvas");
        [canvas.width, canvas.height] = [picture.width, picture.height];
        const pen = canvas.getContext("2d");
        pen.drawImage(picture, 0, 0);
        done(Object.fromEntries(Object.entries(boxes).map(([name, [left, top, width, height]]) => {
            const dots = pen.getImageData(left, top, width, height).data, found = [];
            for (let at = 0; at < dots.length; at += 4) {
                found.push(0.2126 * linear(dots[at]) + 0.7152 * linear(dots[at + 1]) + 0.0722 * linear(dots[at + 2]));
            }
            const mean = found.reduce((sum, one) => sum + one, 0) / found.length;
            return [name, [mean, Math.sqrt(found.reduce((sum, one) => sum + (one - mean) ** 2, 0) / found.length)]];
        })));
    };
    picture.src = "data:image/png;base64," + source;
"""
# A strip without words inside the left edge of a block of each form, the right edge of a badge, and the panel.
FORMS = """
    const role = (name) => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
    const plot = document.querySelector("#sheet-graph .js-plotly-plot");
    const { marker } = plot.data.find((one) => one.name === "blocks");
    const at = plot.data.filter((one) => one.type === "bar" && one.x.length).findIndex((one) => one.name === "blocks");
    const points = Array.from(plot.querySelectorAll(".barlayer .trace")[at].querySelectorAll(".point path"));
    const graph = plot.querySelector(".nsewdrag").getBoundingClientRect();
    const strip = (isWanted) => {
        const box = points.filter((_, n) => isWanted(n)).map((one) => one.getBoundingClientRect())
            .find((one) => one.height > 40 && one.top > graph.top && one.bottom < graph.bottom);
        return box && [box.left + 3, box.top + 6, 5, box.height - 12].map(Math.round);
    };
    const badge = (kind) => {
        const box = document.querySelector("#headline .badge." + kind).getBoundingClientRect();
        return [Math.floor(box.right), box.top + 4, 2, box.height - 8].map(Math.round);
    };
    const panel = document.querySelector(".headline-box").getBoundingClientRect();
    return {
        done: strip((n) => marker.color[n] === role("done-fill")), work: strip((n) => marker.color[n] === role("actual")),
        projected: strip((n) => marker.pattern.shape[n] === "/"), warning: badge("warning"),
        panel: [panel.right - 20, panel.top + 2, 10, 4].map(Math.round),
    };
"""
VISIONS = ("none", "achromatopsia", "protanopia", "deuteranopia", "tritanopia")


CHOICES = """
    const e = document.getElementById("choices-body");
    return [e.scrollHeight - e.clientHeight, e.querySelector(".choice") !== null];
"""


@pytest.fixture(scope="module")
def replayed(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Board:
    """The recorded run that comes with the program, paused at PET 1:00."""
    return Board(browser, serve(replay_app(60, advised=True)))


def tabbed(board: Board, most: int = 150) -> list[dict[str, str]]:
    """What has the focus, one Tab after another, until it comes round."""
    board.driver.execute_script(FOCUSED)
    seen: list[dict[str, str]] = []
    for _ in range(0, most, 10):
        board.driver.switch_to.active_element.send_keys(Keys.TAB * 10)
        seen = board.driver.execute_script("return focused")
        if any(on["id"] and on["id"] == seen[0]["id"] for on in seen[1:]):
            break
    return seen


def test_everything_can_be_reached_by_keyboard_and_shows_its_focus(replayed: Board) -> None:
    """Controls of the replay, sheet, cards, choices' place, log and figures take the focus, each with an outline."""
    replayed.show(60)
    reached = tabbed(replayed)
    names = {on["id"] for on in reached}
    wanted = {
        "replay-play", "replay-previous", "replay-next", "replay-speed", "replay-place", "basis-end", "basis-lane-EV1",
        "basis-suit", "sheet-back-to-now", "lane-start-EV1", "lane-done-EV1", "lane-hold-EV1", "lane-ago-EV1",
        "basis-A-water", "log-filter", "log-note", "log-add-note", "log-enter", "log-rows",
    }  # fmt: skip
    assert wanted - names == set()
    assert any(on["act"] == "correct" for on in reached)
    assert [on["id"] for on in reached if on["id"] in wanted and on["outline"] == "none"] == []


def test_a_figure_says_how_it_came_about_when_it_has_the_focus(replayed: Board) -> None:
    """Which events and which plan it rests on, as of when; it survives updates, and Escape hides it."""
    replayed.show(60)
    replayed.press("band-title")  # the window has the focus, not the browser's own bar
    replayed.driver.execute_script("document.getElementById('basis-end').focus()")
    until(lambda: "Rests on the briefed plan" in replayed.text("basis"), "the explanation")
    assert "as of PET 1:00" in replayed.text("basis")
    post(replayed.address, "/api/replay", {"action": "seek", "at_pet_min": 75})
    until(lambda: "as of PET 1:15" in replayed.text("basis"), "the explanation of the new state")
    assert replayed.driver.switch_to.active_element.get_attribute("id") == "basis-end"
    replayed.driver.switch_to.active_element.send_keys(Keys.ESCAPE)
    assert not replayed.driver.find_element(By.ID, "basis").is_displayed()


def test_space_plays_and_pauses_but_not_while_someone_writes(replayed: Board) -> None:
    """In the note field a space is a space."""
    replayed.show(60)
    replayed.type("log-note", "one two")
    assert replayed.text("band-word") == "PAUSED"
    replayed.driver.execute_script("document.activeElement.blur()")
    replayed.driver.find_element(By.TAG_NAME, "body").send_keys(Keys.SPACE)
    until(lambda: replayed.text("band-word") == "REPLAY x60", "the replay running")
    replayed.driver.find_element(By.TAG_NAME, "body").send_keys(Keys.SPACE)
    until(lambda: replayed.text("band-word") == "PAUSED", "the replay paused")


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768)])
def test_what_can_be_pressed_is_large_enough(replayed: Board, width: int, height: int) -> None:
    """At least 24 by 24 pixels."""
    replayed.show(60, (width, height))
    sizes = replayed.driver.execute_script(SIZES)
    assert len(sizes) > 30
    assert [one for one in sizes if min(one[1], one[2]) < 24] == []


def test_on_a_laptop_the_log_and_its_entry_are_in_view_and_nothing_but_the_log_scrolls(replayed: Board) -> None:
    """At 1366 by 768 log, choices, problems and suits share one place; a press brings each in view."""
    replayed.show(60, (1366, 768))
    for name in ("log-enter", "log-note", "log-rows"):
        box = replayed.driver.find_element(By.ID, name).rect
        assert box["y"] + box["height"] <= 768 and box["height"] > 0, name
    scrolls = "const e = document.querySelector(arguments[0]); return e.scrollHeight - e.clientHeight"
    assert replayed.driver.execute_script(scrolls, "html") <= 0
    assert replayed.driver.execute_script(scrolls, ".side") <= 0
    for tab, shown, hidden in (("tab-choices", "choices", "log"), ("tab-problems", "problems", "choices"),
                               ("tab-suits", "suits", "problems"), ("tab-log", "log", "suits")):
        replayed.press(tab)
        assert replayed.driver.find_element(By.ID, shown).is_displayed(), tab
        assert not replayed.driver.find_element(By.ID, hidden).is_displayed(), tab
        assert replayed.driver.find_element(By.ID, tab).get_attribute("aria-selected") == "true"
        if tab == "tab-suits":
            bars = "return Array.from(document.querySelectorAll('.suit-bar'), (one) => one.getBoundingClientRect().width)"
            assert min(replayed.driver.execute_script(bars)) > 150


def test_the_cards_say_everything_they_have_to(replayed: Board) -> None:
    """At full size no line of a card is pushed out of it, at any hour of the run. Choices, once they are there, may scroll."""
    replayed.show(60)
    script = "const e = document.getElementById(arguments[0]); return e.scrollHeight - e.clientHeight"
    for pet in range(30, 376, 23):
        replayed.seek(pet)
        assert replayed.text("replay-at").startswith(f"PET {pet // 60}:{pet % 60:02d}")
        for lane in ("EV1", "EV2", "ARM"):
            assert replayed.driver.execute_script(script, f"lane-body-{lane}") <= 0, (pet, lane)
        beyond, are_there = replayed.driver.execute_script(CHOICES)
        assert are_there or beyond <= 0, pet


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_a_calm_hour_shows_almost_no_saturated_colour(replayed: Board, theme: str) -> None:
    """Under 2 % of the dots while nothing is far off the brief."""
    replayed.pause_at(60)
    replayed.open(f"?theme={theme}")
    until(lambda: replayed.text("band-pet") == "1:00", "PET 1:00")
    assert "warning" not in replayed.driver.find_element(By.ID, "headline").get_attribute("innerHTML")
    picture = replayed.driver.get_screenshot_as_base64()
    share = replayed.driver.execute_async_script(SATURATED, picture)
    replayed.driver.execute_script("localStorage.clear()")
    assert 0 < share < 0.02


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_what_is_done_going_on_and_projected_and_what_warns_differ_in_every_vision(replayed: Board, theme: str) -> None:
    """On the page as drawn: work stands out from what is done by 3:1, hatch is seen as hatch, the edge of a warning by 3:1.

    That a figure needs 3:1 is from WCAG 2.2, 1.4.11; the visions are those that the browser simulates.
    """
    replayed.show(250)
    replayed.driver.execute_script("document.documentElement.dataset.theme = arguments[0]", theme)
    rested(replayed.driver)
    boxes = replayed.driver.execute_script(FORMS)
    for vision in VISIONS:
        replayed.driver.execute_cdp_cmd("Emulation.setEmulatedVisionDeficiency", {"type": vision})
        seen = replayed.driver.execute_async_script(LUMINANCES, replayed.driver.get_screenshot_as_base64(), boxes)

        def contrast(one: str, other: str, seen: dict[str, list[float]] = seen) -> float:
            dark, light = sorted((seen[one][0], seen[other][0]))
            return (light + 0.05) / (dark + 0.05)

        assert contrast("work", "done") >= 3 and contrast("warning", "panel") >= 3, (vision, seen)
        assert seen["projected"][1] > 5 * max(seen["done"][1], seen["work"][1]), (vision, seen)
    replayed.driver.execute_cdp_cmd("Emulation.setEmulatedVisionDeficiency", {"type": "none"})
    replayed.driver.execute_script("document.documentElement.dataset.theme = 'dark'")
