"""The page as a test speaks of it, and the sorties that the tests of the board look at."""

from __future__ import annotations

import json
import urllib.request
from datetime import UTC, datetime, timedelta
from typing import Any

from selenium import webdriver
from selenium.common.exceptions import (
    ElementClickInterceptedException,
    ElementNotInteractableException,
    NoSuchElementException,
    StaleElementReferenceException,
)
from selenium.webdriver.common.by import By

from dashboard.core.base.times import instant_text
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.opening import rehearsal_desk, replay_desk
from dashboard.service.session.live import LiveSession
from dashboard.service.session.replay import ReplaySession
from replay.recording import RecordedRun, load_run, packaged_scenarios
from tests.browser.conftest import set_size
from tests.browser.modules import expose_page
from tests.scenario import plan_of, task
from tests.waiting import DEADLINE_S, until

PLACES = (
    "band", "replay", "headline-end", "headline-lanes", "headline-suit", "headline-decision", "sheet-graph",
    "lane-card-EV1", "lane-card-EV2", "lane-card-ARM", "suits", "choices", "log", "problems",
)
TABLES = (
    task("T010", "EV1 EV2", 0, 30, title="Leave the airlock")
    + task("T020", "EV1", 30, 45, title="Release the bolts")
    + task("T030", "EV2", 30, 40, title="Tool count")
    + task("T040", "ARM", 0, 40, title="Fetch the tray")
)


def live_plan(minutes_old: float = 20) -> Plan:
    """A plan whose PET zero was so many minutes ago."""
    zero = datetime.now(UTC) - timedelta(minutes=minutes_old)
    sortie = f'[sortie]\nid = "t"\ntitle = "Test sortie"\nstart = {instant_text(zero)}\nlimit = "7:00"\nreserve = 30\n'
    lanes = "".join(
        f'[[lane]]\nid = "{n}"\nkind = "{k}"\n' for n, k in (("EV1", "crew"), ("EV2", "crew"), ("ARM", "arm"))
    )
    return plan_of(sortie + lanes + TABLES)


def clock_event(plan: Plan) -> dict[str, Any]:
    return {"id": "zero", "kind": "clock", "at": instant_text(plan.sortie.start)}


def post(address: str, path: str, body: Any) -> Any:
    """POST JSON, as `tetherline send` does."""
    request = urllib.request.Request(
        address + path, json.dumps(body).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=DEADLINE_S) as answer:
        return json.load(answer)


NOT_YET = (
    NoSuchElementException, StaleElementReferenceException, ElementNotInteractableException, ElementClickInterceptedException,
)  # fmt: skip


# One short script: what the driver itself offers costs the page ten times as much, and is asked again and again.
SAID = """
    const place = document.getElementById(arguments[0]);
    return place && place.checkVisibility({visibilityProperty: true}) ? place.innerText.trim() : "";
"""

# Brings the page on screen back to how a load leaves it: no dialog, no what-if, the log in front, nothing written, no focus.
# False where another page is on screen.
TIDY = """
    if (location.href !== arguments[0] || !window.modules) return false;
    for (const dialog of document.querySelectorAll("dialog[open]")) dialog.close();
    const whatIf = document.getElementById("choices-what-if");
    if (whatIf && whatIf.getAttribute("aria-expanded") === "true") {
        document.getElementById("what-if-clear").click();
        whatIf.click();
    }
    document.querySelector("[role=tab][data-tab=log]")?.click();
    for (const name of ["log-note", "log-filter"]) {
        const field = document.getElementById(name);
        if (!field || !field.value) continue;
        field.value = "";
        field.dispatchEvent(new Event("input", {bubbles: true}));
    }
    document.activeElement.blur();
    const pieces = modules.moment.message().board.html;  // what stands already is not written again, hence first nothing
    modules.page.draw(Object.fromEntries(Object.keys(pieces).map((id) => [id, ""])));
    modules.page.draw(pieces);
    for (const one of document.getAnimations()) if (one.animationName === "arrive") one.finish();
    return true;
"""
# Ends once the page has drawn a version of the board, or a later one: texts in the frame after it received the version, the
# lane sheet in the next one.
DRAWN = """
    const [version, done] = arguments, frame = requestAnimationFrame, frames = (then) => frame(() => frame(() => frame(then)));
    const look = () => modules.moment.message()?.version >= version ? frames(() => done()) : setTimeout(look, 20);
    look();
"""


class Board:
    """The page as a test speaks of it."""

    def __init__(self, driver: webdriver.Chrome, address: str) -> None:
        self.driver, self.address = driver, address

    def open(self, query: str = "") -> None:
        """Load the page; once it is drawn, scripts reach its modules as `modules.moment` and so on."""
        self.driver.get(self.address + "/" + query)
        until(lambda: self.text("band-pet") not in ("", "not known yet"), "the first message being shown")
        until(lambda: self.driver.execute_script("return document.querySelector('#sheet-graph .bars')"), "the sheet")
        expose_page(self.driver)

    def show(self, pet_min: float | None = None, size: tuple[int, int] = (1920, 1080)) -> None:
        """Have the page on screen as a load leaves it. It is loaded only where it is not there yet.

        Parameters
        ----------
        pet_min
            The replay is paused at this moment. None: the clock stays.
        size
            Width and height of the page.
        """
        set_size(self.driver, *size)
        if not self.driver.execute_script(TIDY, self.address + "/"):
            self.open()
        if pet_min is not None:
            self.seek(pet_min)

    def seek(self, pet_min: float) -> None:
        """Pause the replay at a moment; returns once the page has drawn it."""
        self.driver.execute_async_script(DRAWN, self.pause_at(pet_min))

    def pause_at(self, pet_min: float) -> int:
        """Pause the replay at a moment, whatever page is on screen; gives the version of the board that shows it."""
        return post(self.address, "/api/replay", {"action": "seek", "at_pet_min": pet_min, "pause": True})["version"]

    def text(self, name: str) -> str:
        """What a place says to who looks at it; empty while there is none, or while it is hidden."""
        words: str = self.driver.execute_script(SAID, name)
        return words

    def press(self, name: str) -> None:
        """Press a button once it is there, in use, and covered by nothing."""

        def pressed() -> bool:
            try:
                button = self.driver.find_element(By.ID, name)
                if not button.is_enabled():
                    return False
                button.click()
            except NOT_YET:
                return False
            return True

        until(pressed, f"{name} being pressed")

    def type(self, name: str, words: str) -> None:
        field = self.driver.find_element(By.ID, name)
        field.clear()
        field.send_keys(words)

    def boxes(self) -> dict[str, list[float]]:
        script = """return Object.fromEntries(arguments[0].map((id) => {
            const place = document.getElementById(id), b = (place.closest(".panel") || place).getBoundingClientRect();
            return [id, [b.left, b.top, b.width, b.height].map((v) => Math.round(v * 10) / 10)];
        }))"""
        return self.driver.execute_script(script, PLACES)


def live_app(plan: Plan, *, may_log: bool = True) -> Any:
    """The board of a sortie as it happens, its PET zero recorded."""
    store = EventStore("sqlite://", plan.sortie.id)
    store.append([clock_event(plan)], datetime.now(UTC))
    return make_app(Desk(LiveSession(plan, store), may_log=may_log)).server


def rehearsal_app(pet_min: float) -> Any:
    """The same run with decisions of the trainee's own from there on, paused at the moment."""
    run = load_run(packaged_scenarios()["lantern-2"])
    at = run.pet_zero + timedelta(minutes=pet_min)
    return make_app(rehearsal_desk(run, at, lambda branch: None, speed=60)).server


def replay_app(pet_min: float, *, advised: bool = False) -> Any:
    """The board of the recorded run that comes with the program, paused.

    With `advised` its choices are made too: that keeps a processor busy for seconds, and moves the page when they come.
    """
    run = load_run(packaged_scenarios()["lantern-2"])
    at = run.pet_zero + timedelta(minutes=pet_min)
    desk = replay_desk(run, speed=60, at=at, playing=False) if advised else paused_desk(run, at)
    return make_app(desk).server


def paused_desk(run: RecordedRun, at: datetime | None = None, speed: float = 60) -> Desk:
    """A desk that shows a recorded run, paused, and makes no choices."""
    return Desk(ReplaySession(run, at=at, speed=speed, playing=False))
