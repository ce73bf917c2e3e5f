"""`POST /api/what-if`: figures of any set of changes, one at a time, and nothing recorded."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Callable

import pytest

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.times import instant_text
from dashboard.core.deferral.figures import figures_of
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.log.store import EventStore
from dashboard.service.answers import what_if_figures as whatif
from dashboard.service.answers.what_if_requests import WhatIfs
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.scenario import plan_of, task
from tests.screens.html_text import attribute
from tests.service.conftest import PLAN, Room, StandingClock, event
from tests.waiting import DEADLINE_S


def test_the_figures_are_those_of_the_core(room: Room, desk: Desk, clock: StandingClock):
    """End, chance and cost of deferring a task, what goes along, and the caution; the log stays as it was."""
    clock.instant = clock.instant.replace(minute=40)
    room.send(event("clock", 0), event("start", 0, task="T010"))
    rows = len(room.http.get("/api/events").json())
    said = room.http.post("/api/what-if", json={"defer": ["T030"]}).json()
    record = reconcile(desk.plan, desk.session.known_at(clock.instant).events, clock.instant)
    made = figures_of(record, project(record), Change(defer=("T030",)), confidence=0.9, draws=whatif.DRAWS)
    assert said["choice"]["end_pet_min"] == pytest.approx(made.end_pet_min)
    assert said["choice"]["in_by_limit"] == pytest.approx(made.in_by_limit)
    assert said["choice"]["value_lost"] == {str(k): v for k, v in made.value_lost.items()}
    assert said["along"] == ["T040"] and said["caution"] == CAUTION and CAUTION in said["html"]
    assert len(room.http.get("/api/events").json()) == rows


def test_a_hand_over_and_an_option_are_figured_and_recorded_with_the_decision(
    serve_desk: Callable[[Desk], LiveServer], store_url: str, clock: StandingClock
):
    """Together with a trim of the same task; the events of the button say all of it, and sent they take effect."""
    ending = '[[alternative]]\nid = "end"\ndefault = "now"\n[alternative.options]\nnow = ["T040"]\nlater = ["T050"]\n'
    tables = PLAN.replace('id = "T020"', 'id = "T020"\ncan_move_to = ["EV2"]\nshortest = 5')
    plan = plan_of(tables + task("T050", "EV1", None, 5) + ending)
    room = Room(serve_desk(Desk(LiveSession(plan, EventStore(store_url), clock))).url)
    room.send(event("clock", 0))
    body = {"trim": {"T020": 5.0}, "move": {"T020": "EV2"}, "choose": {"end": "later"}}
    said = room.http.post("/api/what-if", json=body).json()
    assert (said["broken"], said["choice"]["move"], said["choice"]["choose"]) == ([], body["move"], body["choose"])
    (sent,) = attribute(said["html"], "data-events")
    for one in json.loads(sent):
        assert room.send({**one, "at": instant_text(clock.instant), "by": "lead"}).status_code < 300
    state = room.state()
    assert state["tasks"]["T020"]["lanes"] == ["EV2"] and state["tasks"]["T020"]["planned_min"] == 5
    assert state["alternatives"] == {"end": "later"}
    assert state["tasks"]["T040"]["in_plan"] is False


@pytest.mark.parametrize(
    "body",
    [{"move": {"T010": "EV9"}}, {"choose": {"ending": "x"}}, {"move": {"T999": "EV1"}},
     {"defer": ["T030"], "move": {"T030": "EV1"}}, {"defer": ["T030"], "break_off": ["T030"]}],
)  # fmt: skip
def test_names_that_are_not_there_and_contradictions_are_refused(room: Room, body: dict[str, object]):
    """422, and what was expected."""
    answer = room.http.post("/api/what-if", json=body)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["expected"]


@pytest.mark.parametrize(
    ("body", "found"),
    [({"defer": ["T999"]}, "T999"), ({"give": []}, "give"), ({"trim": {"T010": "short"}}, "trim"), ([1], "")],
)
def test_a_wrong_request_is_answered_with_what_is_wrong(room: Room, body: object, found: str):
    """422 and problems; never a stack trace."""
    answer = room.http.post("/api/what-if", json=body)
    assert answer.status_code == 422
    assert found in str(answer.json()["problems"])


def test_one_is_computed_at_a_time_and_the_newest_wins(desk: Desk, monkeypatch):
    """While the first is held, the second and third wait; the third is answered, the second told that it is not."""
    real, began, go, made = whatif.figures_of, threading.Event(), threading.Event(), []

    def waiting(*given, **named):
        made.append(given[2].defer)
        began.set()
        assert go.wait(DEADLINE_S)
        return real(*given, **named)

    monkeypatch.setattr(whatif, "figures_of", waiting)
    what_ifs, state = WhatIfs(desk), desk.cycle().state

    async def three() -> list[int]:
        asked = [asyncio.create_task(what_ifs.answer({"defer": [t]}, state)) for t in ("T010", "T020", "T030")]
        assert await asyncio.to_thread(began.wait, DEADLINE_S)  # by then each of the three waits for something
        assert not any(one.done() for one in asked)
        go.set()
        return [status for status, _ in await asyncio.gather(*asked)]

    assert asyncio.run(three()) == [200, 409, 200]
    assert made == [("T010",), ("T030",)]
