"""What people ask is answered by a process beside the server, in time or with the reason why not."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator

import pytest

from dashboard.core.base.problems import InputError
from dashboard.core.plan.model import Plan
from dashboard.core.state.history import drift
from dashboard.log.store import EventStore
from dashboard.screens.why import why_html
from dashboard.service.answers import asked
from dashboard.service.answers.asked import answer_of
from dashboard.service.answers.reasons import Reasons
from dashboard.service.answers.take_back_question import take_back_of
from dashboard.service.answers.what_if_requests import WhatIfs
from dashboard.service.beside.process import Beside
from dashboard.service.desk import Desk
from dashboard.service.opening import live_desk
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.service.beside import jobs
from tests.service.conftest import Room, StandingClock, at_pet, event

DECISION = event("decision", 39, text="Drop it", defer=["T020"], id="d")


@pytest.fixture
def answering(plan: Plan, clock: StandingClock) -> Iterator[Desk]:
    """A desk with a process for its answers."""
    beside = Beside(plan, "answers")
    made = Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id), clock), answers=beside, on_close=beside.close)
    clock.instant = at_pet(40)
    made.record([event("clock", 0), event("start", 0, task="T010"), event("done", 38, task="T010"), DECISION])
    yield made
    made.close()


def test_answers_of_the_process_are_those_of_this_one(answering: Desk, plan: Plan, clock: StandingClock):
    """What-if, the reasons for the numbers, and how to take a decision back."""
    snapshot = answering.cycle()
    state = snapshot.state
    assert state is not None
    known = answering.known_at(state.now).events
    here = Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id), clock))
    here.session.enter([event.model_dump(mode="json", exclude_none=True) for event in known], state.now)
    assert asyncio.run(Reasons(answering).html(snapshot, state)) == why_html(plan, state, drift(plan, known, state.now))
    for body in ({"defer": ["T030"]}, {"defer": ["T999"]}):
        assert asyncio.run(WhatIfs(answering).answer(body, state)) == asyncio.run(WhatIfs(here).answer(body, state))
    assert take_back_of(answering, "d", state) == take_back_of(here, "d", state)
    here.close()


def test_a_server_has_a_process_for_its_answers(plan: Plan):
    """They share the interpreter neither with the cycle nor with long reports or advice."""
    desk = live_desk(plan, "sqlite://")
    try:
        assert isinstance(desk.answers, Beside) and desk.answers is not desk.reports
    finally:
        desk.close()


@pytest.mark.parametrize("path", ["what-if", "why", "take-back"])
def test_what_takes_too_long_is_answered_with_what_to_do(
    answering: Desk, serve_desk: Callable[[Desk], LiveServer], monkeypatch, path: str
):
    """503, what was expected and found; the state goes on."""
    monkeypatch.setattr(asked, "LONGEST_ANSWER_S", 0.0)
    room = Room(serve_desk(answering).url)
    if path == "what-if":
        answer = room.http.post("/api/what-if", json={"defer": ["T030"]})
    else:
        answer = room.http.get(f"/api/{path}", params={"decision": "d"} if path == "take-back" else {})
    (problem,) = answer.json()["problems"]
    assert answer.status_code == 503
    assert (problem["expected"], problem["found"]) == ("an answer within 0 s", "none by then")
    assert "Ask again later" in problem["cure"]
    assert room.state()["pet_min"] == 40


def test_what_fails_is_answered_with_the_reason(answering: Desk):
    """The process beside goes on."""
    with pytest.raises(InputError, match="found ValueError: a gap"):
        answer_of(answering, "a question", jobs.broken, at_pet(40))
    assert answer_of(answering, "a question", jobs.told, at_pet(40))[1][-1] == "d"
