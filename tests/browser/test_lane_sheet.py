"""The lane sheet in a real browser: what is drawn, what fits, and what survives an update."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from dash import Dash, html
from fastapi import FastAPI
from selenium import webdriver
from selenium.webdriver import ActionChains
from selenium.webdriver.common.by import By

from dashboard.figures.rail import rail_payload
from dashboard.figures.theme import DARK, LEAST_PX, LIGHT, css_variables
from dashboard.screens import sheet
from dashboard.screens.ids import Sheet
from dashboard.screens.page import sent
from dashboard.service.http.modules import add_modules, read_modules
from tests.browser.conftest import rested, set_size
from tests.browser.modules import FOLDER, expose
from tests.scenario import follow_at, plan_of, task
from tests.waiting import until

MODULES = read_modules(FOLDER)
NIGHT = '[[window]]\nkind = "daylight"\nfrom = "0:32"\nto = "1:25"\n[[window]]\nkind = "daylight"\nfrom = "2:05"\nto = "9:00"\n'
PLAN = plan_of(
    NIGHT
    + task("T010", "EV1 EV2", 0, 30, title="Leave the airlock")
    + task("T020", "EV1", 30, 45, title="Release the tray bolts on the far side of the pump bay")
    + task("T030", "EV2", 30, 6, title="Tool count")
    + task("T035", "EV2", 36, 39, title="Route jumper J3")
    + task("T040", "EV1 EV2", 75, 60, title="Fit new tray")
    + "".join(task(f"T{100 + i}", "EV1 EV2"[4 * (i % 2):][:3], 135 + 8 * (i // 2), 8, title=f"Step {i}") for i in range(40))
)
LOG = "0:00 clock\n0:04 start T010\n0:36 done T010\n0:36 start T020\n0:36 start T030\n0:45 done T030\n0:45 start T035"
INDEX = """<!DOCTYPE html><html><head>{%metas%}{%css%}<style>VARIABLES
body{margin:0;background:var(--ground);color:var(--text);font-family:var(--font)}</style></head>
<body>{%app_entry%}SENT PLOT<footer>{%config%}{%scripts%}{%renderer%}</footer></body></html>"""


class SheetPage:
    """The page as a test speaks of it."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self.driver = driver

    def show(self, pet: str, log: str = LOG) -> None:
        """Push the state at a PET, as the live connection does, and wait until it is drawn."""
        drawn = self.count()
        board = sheet.snapshot(PLAN, follow_at(PLAN, log, pet))
        self.driver.execute_script("modules.sheet.draw(arguments[0])", board)
        until(lambda: self.count() > drawn, f"the sheet drawing PET {pet}")

    def count(self) -> int:
        """How many times the figure was drawn."""
        return int(self.driver.execute_script("return window.drawnTimes || 0"))

    def view(self) -> tuple[float, float]:
        """Top and bottom of what is in view, PET minutes."""
        bottom, top = self.driver.execute_script(f"return {PLOT}._fullLayout.yaxis.range")
        return round(top, 3), round(bottom, 3)

    def press(self, name: str) -> None:
        """Press a button and wait until the sheet has answered."""
        drawn = self.count()
        self.driver.find_element("id", name).click()
        until(lambda: self.count() > drawn, f"the sheet answering to {name}")

    def text(self, name: str) -> str:
        return str(self.driver.find_element("id", name).text)

    def labels(self) -> list[str]:
        return list(self.driver.execute_script(f"return {PLOT}.data.find(t => t.name === 'labels').text"))


COUNTED = """
const react = Plotly.react;
window.drawnTimes = 0;
modules.moment.hear({});
modules.press.answer([modules.sheet]);
modules.sheet.listen();
Plotly.react = (...given) => react(...given).then(done => { window.drawnTimes += 1; return done; });
"""
CLICK_ON_RAIL = f"""
const rail = document.getElementById('{Sheet.RAIL}'), box = rail.firstElementChild.getBoundingClientRect();
rail.dispatchEvent(new MouseEvent('click', {{clientY: box.top + arguments[0] * box.height}}));
"""
PLOT = f"document.querySelector('#{Sheet.GRAPH} .js-plotly-plot')"


@pytest.fixture(scope="module")
def page(browser: webdriver.Chrome, serve: Callable[[Any], str]) -> Iterator[SheetPage]:
    """The sheet alone on a page."""
    server = FastAPI()
    add_modules(server, MODULES)
    app = Dash(__name__, server=server, backend="fastapi", assets_folder=str(FOLDER.parent), assets_ignore="^(?!lane_sheet.css)")
    app.index_string = INDEX.replace("VARIABLES", css_variables()).replace("SENT", sent(2.0)).replace("PLOT", sheet.PLOT_SCRIPT)
    box = {"width": "1130px", "height": "86vh", "margin": "20px"}
    app.layout = html.Div(html.Div(sheet.layout(PLAN), style=box))
    address = serve(app.server)
    browser.get(address)
    until(lambda: browser.execute_script("return !!window.Plotly"), "Plotly")
    expose(browser, f"{address}/modules/{MODULES.stamp}/", ("moment.js", "press.js", "sheet.js"))
    browser.execute_script(COUNTED)
    yield SheetPage(browser)


@pytest.fixture(autouse=True)
def following(page: SheetPage) -> None:
    """Each test begins at 1920 by 1080 with the view following now."""
    page.driver.execute_script("delete document.documentElement.dataset.theme")
    set_size(page.driver, 1920, 1080)
    page.show("0:55")
    if page.text(Sheet.BACK) != "Following now":
        page.press(Sheet.BACK)
    page.show("0:56")


def test_the_view_follows_now(page: SheetPage) -> None:
    """Later in the sortie now stands at 40 % of a view of 3 h 20 min, and moves with each update."""
    page.show("3:00")
    assert page.view() == (100.0, 300.0)
    page.show("3:01")
    assert page.view() == (101.0, 301.0)
    assert page.text(Sheet.BACK) == "Following now"


def test_a_zoom_survives_every_update_and_the_button_returns(page: SheetPage) -> None:
    """Wheel zoom and drag stay exactly through updates, also of new shape; Follow now does what it says."""
    page.show("3:00")
    graph = page.driver.find_element("id", Sheet.GRAPH)
    box = graph.rect
    middle = {"x": box["x"] + 400, "y": box["y"] + 400}
    page.driver.execute_cdp_cmd("Input.dispatchMouseEvent", {"type": "mouseWheel", **middle, "deltaX": 0, "deltaY": -240})
    until(lambda: page.text(Sheet.BACK) == "Follow now", "the wheel being noticed")
    zoomed = page.view()
    assert zoomed[1] - zoomed[0] < 199
    for pet in ("3:01", "3:02", "3:03"):
        page.show(pet)
        assert page.view() == zoomed
    ActionChains(page.driver).move_to_element(graph).click_and_hold().move_by_offset(0, -90).release().perform()
    until(lambda: page.view() != zoomed, "the drag")
    dragged = page.view()
    assert dragged[1] - dragged[0] == pytest.approx(zoomed[1] - zoomed[0], abs=0.01)
    for pet in ("3:05", "3:10"):
        page.show(pet, LOG + "\n1:30 done T020\n1:31 done T035\n1:32 start T040")
        assert page.view() == dragged
    page.press(Sheet.BACK)
    assert page.view() == (110.0, 310.0)
    assert page.text(Sheet.BACK) == "Following now"


def test_drags_one_after_the_other_pan_and_leave_everything_drawn(page: SheetPage) -> None:
    """Without a message in between: nothing else hears the plot and draws over it."""
    page.show("3:00")
    parts = f"return [{PLOT}.data.length, ({PLOT}.layout.shapes || []).length, {PLOT}.layout.dragmode]"
    before, view = page.driver.execute_script(parts), page.view()
    graph = page.driver.find_element("id", Sheet.GRAPH)
    for _ in range(2):
        ActionChains(page.driver).move_to_element(graph).click_and_hold().move_by_offset(0, -60).release().perform()
        until(lambda last=view: page.view() != last, "the drag")
        rested(page.driver)
        assert page.driver.execute_script(parts) == before and before[0] > 5
        assert page.view()[0] > view[0] and page.view()[1] - page.view()[0] == pytest.approx(200, abs=0.01)
        view = page.view()


def test_the_view_stays_by_the_sortie(page: SheetPage) -> None:
    """However often it is made wider or moved earlier: half an hour beyond either end and no more."""
    page.show("3:00")
    for name in (Sheet.WIDER, Sheet.WIDER, Sheet.WIDER, Sheet.WIDER, Sheet.WIDER):
        page.driver.find_element("id", name).click()
    first, last = page.driver.execute_script(f"const y = {PLOT}.layout.yaxis; return [y.minallowed, y.maxallowed]")
    until(lambda: page.view() == pytest.approx((first, last), abs=0.01), "the whole sortie")
    assert -60 <= first <= 0 and last < 600


def test_back_to_now_works_when_now_has_not_moved(page: SheetPage) -> None:
    """In a paused replay the view returns to exactly where it was before the move."""
    page.show("3:00")
    before = page.view()
    page.press(Sheet.LATER)
    assert page.view() != before
    page.press(Sheet.BACK)
    assert page.view() == before


def test_everything_works_by_keyboard(page: SheetPage) -> None:
    """The buttons move and scale the view when pressed from the keyboard, and have words for a screen reader."""
    page.show("3:00")
    top, bottom = page.view()
    for name, expected in ((Sheet.EARLIER, (top - 60, bottom - 60)), (Sheet.CLOSER, (top - 30, bottom - 90))):
        button = page.driver.find_element("id", name)
        assert len(button.get_attribute("aria-label")) > 5
        drawn = page.count()
        button.send_keys("\n")
        until(lambda before=drawn: page.count() > before, f"{name} by keyboard")
        assert page.view() == pytest.approx(expected, abs=0.01)


def test_the_rail_brings_a_time_into_view(page: SheetPage) -> None:
    """A click on the rail near its lower end shows that end of the plan."""
    rail = page.driver.find_element("id", Sheet.RAIL)
    drawn = page.count()
    ActionChains(page.driver).move_to_element_with_offset(rail, 20, rail.size["height"] - 30).click().perform()
    until(lambda: page.count() > drawn, "the jump")
    top, bottom = page.view()
    assert top < 380 < bottom
    assert page.text(Sheet.BACK) == "Follow now"


def test_the_same_message_again_draws_nothing(page: SheetPage) -> None:
    """A repeated message, as a heartbeat sends, does not draw the figure again."""
    page.show("1:10")
    drawn = page.count()
    board = sheet.snapshot(PLAN, follow_at(PLAN, LOG, "1:10"))
    page.driver.execute_script("modules.sheet.draw(arguments[0])", board)
    rested(page.driver)
    assert page.count() == drawn


# A label's words may not leave its block, and no words may lie on other words.
MEASURED = """
const plot = PLOT;
const boxes = [...plot.querySelectorAll('.scatterlayer .textpoint text')].flatMap(node => {
  const lines = [...node.querySelectorAll('tspan.line')];
  return (lines.length ? lines : [node]).map(line => {
    const r = line.getBoundingClientRect();
    const sizes = [line, ...line.querySelectorAll('tspan')].map(n => parseFloat(getComputedStyle(n).fontSize));
    return {text: line.textContent, left: r.left, right: r.right, top: r.top, bottom: r.bottom, size: Math.min(...sizes)};
  });
});
const bars = [...plot.querySelectorAll('.barlayer .point path')].map(node => {
  const r = node.getBoundingClientRect(); return {left: r.left, right: r.right, top: r.top, bottom: r.bottom};
});
return {boxes, bars};
""".replace("PLOT", PLOT)


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1366, 768), (1024, 768)])
@pytest.mark.parametrize("pet", ["0:10", "1:00", "3:30"])
def test_no_words_collide_or_leave_their_block(page: SheetPage, width: int, height: int, pet: str) -> None:
    """At every size each label lies inside a block, off every other label, at 13 px or more."""
    set_size(page.driver, width, height)
    page.show(pet)
    rested(page.driver)  # a change of size is drawn after it settles
    found = page.driver.execute_script(MEASURED)
    boxes, bars = found["boxes"], found["bars"]
    assert len(boxes) >= 4
    for i, box in enumerate(boxes):
        assert box["size"] >= LEAST_PX, box["text"]
        inside = [b for b in bars if b["left"] <= box["left"] + 1 and box["right"] <= b["right"] + 1
                  and b["top"] <= box["top"] + 3 and box["top"] < b["bottom"]]
        assert inside, box["text"]
        for other in boxes[i + 1:]:
            apart_across = box["right"] <= other["left"] + 1 or other["right"] <= box["left"] + 1
            apart_down = box["bottom"] <= other["top"] + 4 or other["bottom"] <= box["top"] + 4
            assert apart_across or apart_down, (box["text"], other["text"])


def test_a_long_title_is_cut_with_an_ellipsis_and_whole_in_the_hover(page: SheetPage) -> None:
    """A title too long for its block ends in an ellipsis; the hover has all of it."""
    set_size(page.driver, 1024, 768)
    page.show("1:00")
    rested(page.driver)
    assert any("Release" in text and "…" in text for text in page.labels())
    hovers = page.driver.execute_script(f"return {PLOT}.data.find(t => t.name === 'blocks').customdata")
    assert any("Release the tray bolts on the far side of the pump bay" in hover for hover in hovers)


def test_a_flag_says_what_it_is_when_one_points_at_it(page: SheetPage) -> None:
    """The briefed start of which task, and when."""
    set_size(page.driver, 1920, 1080)
    page.show("1:00")
    rested(page.driver)
    flag = page.driver.find_element(By.CSS_SELECTOR, "#sheet-graph .scatterlayer .points path")
    ActionChains(page.driver).move_to_element(flag).perform()
    said = "return (document.querySelector('#sheet-graph .hoverlayer') || {}).textContent || ''"
    until(lambda: "briefed start PET" in page.driver.execute_script(said), "the flag being explained")


def test_a_short_block_says_its_title_only_where_it_fits(page: SheetPage) -> None:
    """Eight-minute steps lose their words when the view is wide and have them when it is close."""
    page.show("3:30")
    for _ in range(3):
        page.press(Sheet.WIDER)
    assert not any("Step" in text for text in page.labels())
    for _ in range(7):
        page.press(Sheet.CLOSER)
    drawn = page.count()
    rail = rail_payload(PLAN, follow_at(PLAN, LOG, "3:30"))
    page.driver.execute_script(CLICK_ON_RAIL, (340 - rail["top"]) / (rail["bottom"] - rail["top"]))
    until(lambda: page.count() > drawn, "the jump")
    assert sum("Step" in text for text in page.labels()) >= 8


def test_the_light_theme_redraws_in_its_own_colours(page: SheetPage) -> None:
    """Changing the theme of the page changes every colour of the figure, without a message."""
    read = f"return {PLOT}.layout.plot_bgcolor"
    assert page.driver.execute_script(read) == DARK["ground"]
    page.driver.execute_script("document.documentElement.dataset.theme = 'light'")
    until(lambda: page.driver.execute_script(read) == LIGHT["ground"], "the light theme")


def test_the_figure_offers_no_upload_and_reaches_for_no_network(page: SheetPage) -> None:
    """No button sends the chart anywhere, and the browser logged no error, so nothing was fetched from outside."""
    assert page.driver.execute_script(f"return {PLOT}.querySelectorAll('.modebar-btn').length") == 0
    assert [line for line in page.driver.get_log("browser") if line["level"] == "SEVERE"] == []
