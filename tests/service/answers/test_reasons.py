"""`GET /api/why`: made on request, once a version, and never in the way of the live feed."""

from __future__ import annotations

import asyncio
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from dashboard.service.answers import reasons
from dashboard.service.desk import Desk, Snapshot
from tests.service.conftest import Room, StandingClock, event, message
from tests.waiting import DEADLINE_S


def test_it_tells_the_newest_state(room: Room, clock: StandingClock):
    """An event acknowledged before is in it."""
    clock.instant = clock.instant.replace(minute=40)
    room.send(event("clock", 0), event("start", 0, task="T010"))
    assert "on 2 events" in room.http.get("/api/why").json()["html"]
    room.send(event("done", 28, task="T010"))
    assert "on 3 events" in room.http.get("/api/why").json()["html"]


@pytest.fixture
def held(monkeypatch):
    """Making the reasons waits for `go`; `made` counts how often it began."""
    real, go, made = reasons.drift, threading.Event(), []

    def waiting(*given):
        made.append(given)
        assert go.wait(DEADLINE_S)
        return real(*given)

    monkeypatch.setattr(reasons, "drift", waiting)
    return go, made


def test_the_live_feed_goes_on_while_many_ask(room: Room, held):
    """Forty ask while the reasons are being made: a new client of the feed still gets its message."""
    go, made = held
    with ThreadPoolExecutor(40) as pool:
        answers = [pool.submit(room.http.get, "/api/why", timeout=DEADLINE_S) for _ in range(40)]
        try:
            with room.live() as client:
                assert message(client)["version"] >= 1
        finally:
            go.set()
        assert {answer.result().status_code for answer in answers} == {200}
    assert len(made) < 40


def test_it_is_made_once_a_version(desk: Desk, monkeypatch):
    """Asked twice about one version: the same answer, made once; a newer version is made anew."""
    made = []
    monkeypatch.setattr(reasons, "drift", lambda *given: made.append(given) or [])
    kept = reasons.Reasons(desk)

    async def ask_about(*snapshots: Snapshot) -> list[str]:
        return [await kept.html(one, one.state) for one in snapshots if one.state is not None]

    first, second = desk.cycle(), desk.cycle()
    answers = asyncio.run(ask_about(first, first, second, first))
    assert len(answers) == 4 and len(made) == 2


def test_a_state_that_could_not_be_computed_has_no_reasons(room: Room, desk: Desk, monkeypatch):
    """503 with why, as for the state."""
    monkeypatch.setattr(desk.session, "known_at", lambda now: 1 / 0)
    desk.ask()
    assert room.http.get("/api/why").status_code == 503
