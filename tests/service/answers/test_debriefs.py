"""The facts of the debrief, and its papers, worked out in a process of their own."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from dashboard.core.debrief.look_back import debrief
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.answers.debriefs import NOT_BEGUN, Debriefs, book, paper
from dashboard.service.beside.process import Beside
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.service.conftest import StandingClock, at_pet, event


@pytest.fixture
def reporting(plan: Plan, clock: StandingClock) -> Iterator[Desk]:
    reports = Beside(plan, "reports")
    made = Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id), clock), reports=reports, on_close=reports.close)
    clock.instant = at_pet(40)
    made.record([event("clock", 0), event("start", 0, task="T010"), event("done", 38, task="T010"),
                 event("defer", 39, tasks=["T020"])])
    yield made
    made.close()


def test_they_are_those_of_this_process(reporting: Desk):
    """The facts, their progress, and the papers made of them."""
    snapshot = reporting.cycle()
    assert snapshot.state is not None
    debriefs = Debriefs(reporting)
    made = asyncio.run(debriefs.newest(snapshot.state))
    known = reporting.known_at(snapshot.state.now)
    assert made.facts == debrief(reporting.plan, known.events, snapshot.state.now)
    assert debriefs.progress != NOT_BEGUN and debriefs.progress.done == debriefs.progress.of
    assert made.made_at <= datetime.now(UTC)
    assert paper(reporting, made).startswith(b"%PDF") and book(reporting, made).startswith(b"PK")
