"""The page /debrief of the server, and what can be had from it."""

from __future__ import annotations

import re
import threading
from io import BytesIO

import httpx
import openpyxl
import pytest

from dashboard.core.debrief.look_back import debrief
from dashboard.log.store import EventStore
from dashboard.service.answers import debriefs as service
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.service.conftest import Room, event
from tests.waiting import DEADLINE_S, until


@pytest.fixture
def half_way(room, clock):
    room.send(event("clock", 0), event("start", 0, task="T010"), event("start", 0, task="T030"))
    clock.instant = clock.instant.replace(hour=9, minute=50)
    room.send(event("done", 38, task="T010"), event("defer", 39, tasks=["T020"]))
    return room


def page_of(room: Room) -> httpx.Response:
    """The page, once it is there."""
    return until(lambda: answer if (answer := room.http.get("/debrief")).status_code != 202 else None, "the page")


def test_while_it_is_made_the_page_says_so_and_shows_what_it_waited_for(half_way, monkeypatch):
    """At once, with how far it is; the facts of a minute ago are shown, and the next who asks gets new ones."""
    monkeypatch.setattr(service, "PATIENCE_S", 0.0)
    began, go_on = threading.Event(), threading.Event()

    def slow(*given, progress, **more):
        progress("decisions", 1, 3)
        began.set()
        go_on.wait(DEADLINE_S)
        return debrief(*given, **more)

    monkeypatch.setattr(service, "debrief", slow)
    first = half_way.http.get("/debrief")
    assert first.status_code == 202 and '<noscript><meta http-equiv="refresh"' in first.text
    (script,) = re.findall(r'<script type="module" src="([^"]+)"', first.text)
    assert half_way.http.get(script).status_code == 200
    assert began.wait(DEADLINE_S) and "decisions: 1 of 3" in half_way.http.get("/debrief").text
    half_way.send(event("defer", 39.5, tasks=["T040"]))
    go_on.set()
    waited_for, newest = page_of(half_way), page_of(half_way)
    assert "defer T020" in waited_for.text and "defer T040" not in waited_for.text
    assert "defer T040" in newest.text


def test_the_page_is_that_of_the_newest_state(half_way):
    """It shows what was sent before, is marked so far, and leads to its downloads."""
    page = page_of(half_way)
    assert page.status_code == 200 and page.headers["content-type"].startswith("text/html")
    assert "Debrief so far" in page.text and "defer T020" in page.text
    for link in ("/debrief.pdf", "/debrief.xlsx", "/debrief/carry-over.toml", "/debrief.json", 'href="/"'):
        assert link in page.text


def test_the_downloads(half_way):
    """Paper, tables, carry-over and facts are what they say, named after the sortie."""
    paper = half_way.http.get("/debrief.pdf")
    assert paper.content.startswith(b"%PDF-") and paper.headers["content-type"] == "application/pdf"
    assert paper.headers["content-disposition"].startswith('attachment; filename="debrief-t-')
    book = openpyxl.load_workbook(BytesIO(half_way.http.get("/debrief.xlsx").content))
    assert "minutes" in book.sheetnames
    assert 'id = "T020"' in half_way.http.get("/debrief/carry-over.toml").text
    assert half_way.http.get("/debrief.json").json()["so_far"] is True


def test_what_comes_in_later_is_in_the_next_debrief(half_way):
    """The facts are kept for the same log only."""
    before = half_way.http.get("/debrief.json").json()
    assert half_way.http.get("/debrief.json").json() == before
    half_way.send(event("defer", 39.5, tasks=["T040"]))
    assert len(half_way.http.get("/debrief.json").json()["decisions"]) == len(before["decisions"]) + 1


def test_nothing_left_is_said_in_words(room):
    """No carry-over: no link to it, and asking for it anyway is answered with why."""
    room.send(event("clock", 0))
    assert "carry-over.toml" not in page_of(room).text
    answer = room.http.get("/debrief/carry-over.toml")
    assert answer.status_code == 404 and "Nothing is left" in answer.text


def test_without_a_state_there_is_no_debrief(plan, store_url, clock, serve_desk):
    """When the state of now cannot be computed the page says so, and that the events are safe."""

    def broken(*_):
        raise RuntimeError("a fault")

    desk = Desk(LiveSession(plan, EventStore(store_url), clock), compute=broken)
    answer = Room(serve_desk(desk).url).http.get("/debrief")
    assert answer.status_code == 503 and "events are safe" in answer.text


@pytest.mark.parametrize("what", ["decisions", "calls", "projections"])
def test_the_page_says_how_far_each_part_of_the_work_is(half_way, monkeypatch, what: str):
    """Every part that the debrief notes has its words; one without them would be a fault of the page."""
    monkeypatch.setattr(service, "PATIENCE_S", 0.0)
    began, go_on = threading.Event(), threading.Event()

    def slow(*given, progress, **more):
        progress(what, 1, 3)
        began.set()
        go_on.wait(DEADLINE_S)
        return debrief(*given, **more)

    monkeypatch.setattr(service, "debrief", slow)
    half_way.http.get("/debrief")
    assert began.wait(DEADLINE_S)
    answer = half_way.http.get("/debrief")
    go_on.set()
    assert answer.status_code == 202 and ": 1 of 3" in answer.text
