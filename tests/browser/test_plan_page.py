"""The plan page in a real browser: typed into, checked, saved."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from dashboard.log.planfile import load_plan
from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.browser.board import SAID
from tests.service.answers.test_plan_file import TEXT
from tests.service.conftest import StandingClock
from tests.waiting import until

GRID = "const grid = window.dash_ag_grid && window.dash_ag_grid.getApi('plan-grid'); "


class PlanPage:
    """The page as a test speaks of it."""

    def __init__(self, driver: webdriver.Chrome, address: str) -> None:
        self.driver, self.address = driver, address

    def open(self) -> None:
        self.driver.get(self.address + "/plan/")
        until(lambda: self.driver.execute_script("return document.body.dataset.drawn"), "the first check")

    def text(self, name: str) -> str:
        words: str = self.driver.execute_script(SAID, name)
        return words

    def rows(self) -> list[dict[str, str]]:
        """The rows that the sheet shows."""
        found: list[dict[str, str]] = self.driver.execute_script(
            GRID + "const rows = []; grid.forEachNode((node) => rows.push(node.data)); return rows"
        )
        return found

    def go(self, row: int, column: str) -> None:
        self.driver.execute_script(GRID + "grid.setFocusedCell(arguments[0], arguments[1])", row, column)

    def keys(self, *keys: str) -> None:
        ActionChains(self.driver).send_keys(*keys).perform()

    def chord(self, *keys: str) -> None:
        chain = ActionChains(self.driver)
        for key in keys[:-1]:
            chain.key_down(key)
        chain.send_keys(keys[-1])
        for key in keys[:-1]:
            chain.key_up(key)
        chain.perform()

    def in_field(self, column: str) -> bool:
        script = "const on = document.activeElement; return on.matches('.plan-field') && on.ariaLabel"
        return bool(self.driver.execute_script(script) == column)

    def is_on(self, task: str) -> bool:
        """Whether the focus is on a cell of this row, and keys go to it."""
        script = """
            const on = grid.getFocusedCell(), cell = document.activeElement;
            const row = on && grid.getDisplayedRowAtIndex(on.rowIndex);
            return Boolean(row && row.data.id === arguments[0] && cell.matches('.ag-cell, .ag-cell *') && !cell.matches('input'));
        """
        return bool(self.driver.execute_script(GRID + script, task))

    def save(self) -> None:
        """Press Ctrl+S, see the difference, and save it by Enter."""
        self.chord(Keys.CONTROL, "s")
        until(lambda: "Save in" in self.text("plan-dialog-title"), "the difference")
        self.keys(Keys.ENTER)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("plan") / "plan.toml"


@pytest.fixture(scope="module")
def page(browser: webdriver.Chrome, serve: Callable[[Any], str], path: Path) -> PlanPage:
    path.write_text(TEXT)
    plan = load_plan(path)
    desk = Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id), StandingClock()))
    return PlanPage(browser, serve(make_app(desk, plan_file=path).server))


@pytest.fixture(autouse=True)
def opened(page: PlanPage, path: Path) -> None:
    """Each test begins with the same file, loaded anew."""
    path.write_text(TEXT)
    page.driver.execute_script("try { localStorage.clear() } catch (none) { /* an empty page has no store */ }")
    page.open()


def test_a_task_is_typed_by_keyboard_alone_checked_as_it_is_typed_and_saved(page: PlanPage, path: Path) -> None:
    """A finding comes before the cell is left, and goes; the difference is said before it is written; comments stay.

    Once saved, nothing counts as changed.
    """
    page.go(1, "id")
    page.chord(Keys.CONTROL, Keys.ENTER)
    until(lambda: page.in_field("title"), "the title of a new row being edited")
    page.keys("Look over", Keys.TAB)
    until(lambda: page.in_field("lanes"), "the lanes being edited")
    page.keys("EV9")
    until(lambda: "EV9" in page.text("plan-findings"), "the finding about what is being typed")
    page.keys(Keys.BACKSPACE, Keys.BACKSPACE, Keys.BACKSPACE, Keys.ARROW_DOWN, " ", Keys.TAB)
    until(lambda: page.in_field("start"), "the start being edited")
    page.keys(Keys.TAB)
    until(lambda: page.in_field("duration"), "the duration being edited")
    page.keys("10/15/20", Keys.ENTER)
    until(lambda: "EV9" not in page.text("plan-findings") and "1 change" in page.text("plan-status"), "the check of the new row")
    made = page.rows()[2]
    assert (made["id"], made["title"], made["lanes"], made["start"]) == ("T030", "Look over", "EV1", "1:00")
    until(lambda: "Look over" in page.text("sheet-graph"), "the new row being drawn")
    page.save()
    until(lambda: "next start" in page.text("plan-said"), "the word that it is saved, and from when it counts")
    assert path.read_text().startswith(TEXT) and load_plan(path).tasks[2].duration.likely == 15
    page.keys(Keys.F4)
    until(lambda: "likely in by the limit" in page.text("plan-whole-said"), "the text of the file, which nothing stands against")
    assert page.driver.execute_script("return Object.keys(localStorage).filter((name) => name.includes('edited plan'))") == []
    assert [line for line in page.driver.get_log("browser") if line["level"] == "SEVERE"] == []


def test_rows_are_moved_copied_and_removed_and_every_step_is_undone(page: PlanPage) -> None:
    """The focus stays on its row; a page that is loaded again has the changes still."""
    names = lambda: [row["id"] for row in page.rows()]  # noqa: E731
    page.go(0, "title")
    page.chord(Keys.ALT, Keys.ARROW_DOWN)
    until(lambda: names() == ["T020", "T010"] and page.is_on("T010"), "the row standing below, with the focus")
    page.chord(Keys.CONTROL, "d")
    until(lambda: names() == ["T020", "T010", "T011"], "the copy")
    until(lambda: page.in_field("title"), "the title of the copy being edited")
    page.keys(Keys.ESCAPE)
    until(lambda: page.is_on("T011"), "the focus on the row of the copy")
    page.chord(Keys.CONTROL, Keys.DELETE)
    until(lambda: names() == ["T020", "T010"], "the copy being gone")
    until(lambda: page.is_on("T010") or page.is_on("T020"), "the focus on a row")
    page.chord(Keys.CONTROL, "z")
    page.chord(Keys.CONTROL, "z")
    page.chord(Keys.CONTROL, "z")
    until(lambda: names() == ["T010", "T020"], "the first state")
    page.chord(Keys.CONTROL, "y")
    until(lambda: names() == ["T020", "T010"], "the step done again")
    until(lambda: "1 change" in page.text("plan-status"), "the check")
    page.open()
    assert names() == ["T020", "T010"] and "not saved before" in page.text("plan-said")


def test_a_row_that_is_put_in_makes_room_once_it_has_its_length(page: PlanPage) -> None:
    """In a step of its own, which says what it moved and is undone alone; a press does it for a changed length."""
    page.go(0, "id")
    page.chord(Keys.CONTROL, Keys.ENTER)
    until(lambda: page.in_field("title"), "the title of a new row being edited")
    page.keys("Look over", Keys.TAB, Keys.TAB, Keys.TAB)
    until(lambda: page.in_field("duration"), "the duration being edited")
    page.keys("12", Keys.ENTER)
    starts = lambda: [(row["id"], row["start"]) for row in page.rows()]  # noqa: E731
    until(lambda: starts() == [("T010", "0:00"), ("T015", "0:30"), ("T020", "0:42")], "what follows begins later")
    assert page.text("plan-said").startswith("Later: T020 at 0:42.") and page.rows()[1]["duration"] == "12"
    page.chord(Keys.CONTROL, "z")
    until(lambda: starts()[2] == ("T020", "0:30"), "the room undone")
    assert page.rows()[1]["duration"] == "12"
    page.go(1, "duration")
    page.keys("15")
    page.chord(Keys.CONTROL, Keys.SHIFT, Keys.ARROW_DOWN)
    until(lambda: starts()[2] == ("T020", "0:45"), "the room for the changed length")
    assert page.is_on("T015") and page.rows()[1]["duration"] == "15"


def test_what_another_editor_saved_is_not_overwritten_and_nothing_is_lost(page: PlanPage, path: Path) -> None:
    """Both differences are shown; the second editor's changes are put on the file, and saved in a step of their own."""
    page.go(0, "duration")
    page.keys("25", Keys.ENTER)
    until(lambda: "1 change" in page.text("plan-status"), "the check")
    theirs = TEXT.replace("Carry pump", "Carry the pump")
    path.write_text(theirs)
    page.save()
    until(lambda: "changed meanwhile" in page.text("plan-dialog-title"), "the conflict")
    assert path.read_text() == theirs
    told = page.text("plan-dialog-body")
    assert "Carry the pump" in told and "duration from '30' to '25'" in told
    page.keys(Keys.ENTER)
    until(lambda: page.rows()[1]["title"] == "Carry the pump" and page.rows()[0]["duration"] == "25", "both changes")
    until(lambda: "1 change" in page.text("plan-status"), "the check")
    page.save()
    until(lambda: path.read_text() == theirs.replace("duration = 30  #", "duration = 25  #"), "the file with both changes")


def test_a_lane_is_added_in_the_text_of_the_file_and_is_then_there_to_choose(page: PlanPage, path: Path) -> None:
    """The text is checked as it is typed, and not opened over changes of the sheet; the new lane has a column."""
    page.go(0, "duration")
    page.keys("25", Keys.ENTER)
    until(lambda: "1 change" in page.text("plan-status"), "the check")
    page.keys(Keys.F4)
    until(lambda: "Save the changes of the tasks first" in page.text("plan-said"), "the refusal")
    page.chord(Keys.CONTROL, "z")
    until(lambda: page.rows()[0]["duration"] == "30", "the change undone")
    page.keys(Keys.F4)
    until(lambda: "likely in by the limit" in page.text("plan-whole-said"), "the check of the text")
    page.chord(Keys.CONTROL, Keys.END)
    page.keys('\n[[lane]]\nid = "HOIST"\nkind = "others"\n')
    until(lambda: "kind" in page.text("plan-whole-findings"), "the finding about what is being typed")
    page.keys(Keys.ARROW_UP, Keys.END, Keys.ARROW_LEFT, Keys.BACKSPACE)
    until(lambda: "likely in by the limit" in page.text("plan-whole-said"), "the check of the mended text")
    page.driver.execute_script("delete document.body.dataset.drawn")
    page.save()
    until(lambda: 'id = "HOIST"' in path.read_text(), "the file with the lane")
    until(lambda: page.driver.execute_script("return document.body.dataset.drawn"), "the page being loaded again")
    page.go(0, "lanes")
    page.keys(Keys.ENTER)
    until(lambda: "HOIST" in page.driver.execute_script("return document.querySelector('.plan-options').textContent"), "the lane")
    page.keys(Keys.ESCAPE)
    until(lambda: "HOIST" in page.text("sheet-graph"), "the column of the lane")


def test_a_text_is_put_on_what_another_editor_saved(page: PlanPage, path: Path) -> None:
    """Both differences are shown. The file alone can be taken, which undo takes back; no save passes over a line unsaid."""
    page.keys(Keys.F4)
    until(lambda: "likely in by the limit" in page.text("plan-whole-said"), "the check of the text")
    page.chord(Keys.CONTROL, Keys.END)
    page.keys("\n# mine\n")
    theirs = TEXT.replace("Carry pump", "Carry the pump")
    path.write_text(theirs)
    value = lambda: page.driver.execute_script("return document.getElementById('plan-whole-text').value")  # noqa: E731
    page.save()
    until(lambda: "changed meanwhile" in page.text("plan-dialog-title"), "the conflict")
    told = page.text("plan-dialog-body")
    assert "Carry the pump" in told and "# mine" in told and path.read_text() == theirs
    page.keys(Keys.TAB, Keys.ENTER)
    until(lambda: value() == theirs, "the file as it is")
    page.chord(Keys.CONTROL, "z")
    until(lambda: value() == TEXT + "\n# mine\n", "the text that was typed")
    page.chord(Keys.CONTROL, "s")
    until(lambda: "'title = \"Carry the pump\"' became" in page.text("plan-dialog-body"), "the line that saving would put back")
    page.keys(Keys.ESCAPE)
    path.write_text(theirs.replace("Unstow pump", "Unstow the pump"))
    page.save()
    until(lambda: "changed meanwhile" in page.text("plan-dialog-title"), "the second conflict")
    page.keys(Keys.ENTER)
    until(lambda: "Unstow the pump" in value() and value().endswith("# mine\n"), "both changes")
    page.save()
    wanted = TEXT.replace("Unstow pump", "Unstow the pump") + "\n# mine\n"
    until(lambda: path.read_text() == wanted, "the file with both changes")
