"""Whether the server can serve, and what somebody should look after."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore, Quarantined
from dashboard.service.answers import health as health_module
from dashboard.service.answers.health import Health, health_of
from dashboard.service.desk import Desk
from dashboard.service.feeds.feeds import Feeds
from dashboard.service.feeds.stdin_feed import StdinFeed
from dashboard.service.observe.clocks import Offset
from dashboard.service.session.live import LiveSession
from dashboard.service.trial.sieve import Sieve, in_quarantine
from tests.problems import assert_problem
from tests.service.conftest import StandingClock, event


def subjects(health: Health) -> list[str]:
    return [problem.subject for problem in health.problems]


def only(health: Health) -> Problem:
    (problem,) = health.problems
    return problem


@pytest.fixture
def session(plan: Plan, store_url: str, clock: StandingClock) -> LiveSession:
    return LiveSession(plan, EventStore(store_url, plan.sortie.id), clock)


@pytest.fixture
def desk(session: LiveSession) -> Desk:
    """A desk with its first version."""
    desk = Desk(session)
    desk.cycle()
    return desk


def test_a_server_in_order_has_no_problem(desk: Desk):
    """It says what it holds, and its versions."""
    desk.record([event("clock", 0), {"id": "e1", "kind": "dance"}])
    desk.cycle()
    told = health_of(desk).as_dict()
    assert told["ready"] and told["problems"] == []
    assert (told["store"]["events"], told["unread"], told["quarantined"]) == (1, 1, 0)
    assert told["versions"]["tetherline"] and told["cycle"]["version"] == 2 and told["store"]["lag_s"] == 0


class NoProcess:
    """A computer on which no trial can be run."""

    def run(self, *_: Any, **__: Any) -> Any:
        raise OSError("no more processes")

    def close(self) -> None:
        return


def test_entries_that_cannot_be_tried_are_a_warning_and_their_answers_say_so(session: LiveSession):
    """They count all the same, so the server is ready."""
    desk = Desk(session, sieve=Sieve(NoProcess()))
    (told,) = desk.record([event("clock", 0)])
    assert told["status"] == "recorded" and told["did"] is None and "not tried before it was recorded" in told["hint"]
    desk.cycle()
    health = health_of(desk)
    assert health.is_ready
    assert_problem(only(health), subject="trials", expected="each entry is tried", found="no more processes",
                   cure="Free memory", severity="caution")


def test_before_the_first_version_it_is_not_ready(session: LiveSession):
    """And says that it is waited for."""
    found = health_of(Desk(session))
    assert not found.is_ready and only(found).found == "none yet"


def test_a_state_that_cannot_be_computed_is_an_error(session: LiveSession):
    """With the reason that the board shows."""

    def broken(*_: Any) -> Any:
        raise ZeroDivisionError("division by zero")

    desk = Desk(session, compute=broken)
    desk.cycle()
    found = health_of(desk)
    assert not found.is_ready and "division by zero" in only(found).found


def test_a_desk_that_makes_no_version_is_an_error(desk: Desk, monkeypatch: pytest.MonkeyPatch):
    """Whatever its thread is busy with."""
    monkeypatch.setattr(health_module, "LONGEST_WITHOUT_VERSION_S", -1000.0)
    found = health_of(desk)
    assert not found.is_ready and only(found).subject == "state" and "Restart the server" in only(found).cure


def test_a_store_that_is_gone_is_an_error(desk: Desk, tmp_path: Path):
    """The words are those of every board."""
    (tmp_path / "sortie.log.sqlite").unlink()
    found = health_of(desk)
    assert not found.is_ready and only(found).subject == "store" and "deleted or moved" in only(found).found


def test_a_store_that_cannot_be_read_is_an_error(desk: Desk, monkeypatch: pytest.MonkeyPatch):
    """As the store says it."""
    wrong = Problem("event store", "a store of events", "a database that cannot be reached", "Is it running?")

    def gone(now: datetime) -> Any:
        raise InputError([wrong])

    monkeypatch.setattr(desk.session, "known_at", gone)
    found = health_of(desk)
    assert not found.is_ready and found.problems == [wrong]


def test_what_waits_to_be_shown_is_the_lag(desk: Desk):
    """It is over with the next version."""
    desk.record([event("note", 0, text="a")])
    assert health_of(desk).gauged.store_lag_s > 0
    desk.cycle()
    assert health_of(desk).gauged.store_lag_s == 0


def test_entries_that_are_shown_late_are_a_warning(desk: Desk, monkeypatch: pytest.MonkeyPatch):
    """They are recorded, and the server goes on serving."""
    monkeypatch.setattr(health_module, "LONGEST_LAG_S", -1.0)
    desk.record([event("note", 0, text="a")])
    found = health_of(desk)
    assert found.is_ready and only(found).subject == "state" and "entries have waited for" in only(found).found


def test_entries_in_quarantine_are_counted_and_named(desk: Desk, session: LiveSession, clock: StandingClock):
    """They do not keep the server from serving."""
    session.enter([Quarantined("{}", in_quarantine("it broke")), "no json"], clock.now())
    found = health_of(desk)
    assert found.is_ready and (found.gauged.quarantined, found.gauged.unread) == (1, 2)
    assert only(found).subject == "quarantine" and only(found).found == "1 entry"


def test_a_feed_that_brings_nothing_is_a_warning(session: LiveSession):
    """By its name, in the words of the board."""
    feed = StdinFeed()
    feed.status.in_trouble("ended", "it was closed.")
    desk = Desk(session, feeds=Feeds([feed]))
    desk._snapshot = Desk(session).cycle()
    found = health_of(desk)
    assert found.is_ready and only(found).subject == "feed standard input" and "it was closed" in only(found).found
    assert found.details["feeds"][0]["standing"] == "ended" and found.gauged.feeds_in_order == {"standard input": False}


@pytest.mark.parametrize(("ahead_s", "said"), [(1.0, None), (90.0, "90 s ahead"), (-600.0, "10 min behind")])
def test_the_clock_of_the_database_is_compared(desk: Desk, monkeypatch: pytest.MonkeyPatch, ahead_s: float, said: str | None):
    """A store on this computer has none of its own."""
    assert health_of(desk).details["store"]["clock"] is None
    monkeypatch.setattr(desk.session, "store_clock", lambda: datetime.now(UTC) + timedelta(seconds=ahead_s))
    found = health_of(desk)
    assert found.is_ready and found.details["store"]["clock"]["ahead_s"] == pytest.approx(ahead_s, abs=1)
    if said is None:
        assert found.problems == []
    else:
        assert only(found).subject == "clock of the database" and said in only(found).found


def test_clocks_of_browsers_are_compared(desk: Desk):
    """The worst is named."""
    with desk.viewers.joined() as good, desk.viewers.joined() as bad, desk.viewers.joined():
        good.offset, bad.offset = Offset(0.1, 0.01), Offset(-42.0, 0.01)
        found = health_of(desk)
    assert found.is_ready and found.gauged.viewers == 3
    assert only(found).found == "1 board of 2 with a clock that is off, the worst 42 s behind"


def test_a_disk_that_is_nearly_full_is_a_warning(desk: Desk, monkeypatch: pytest.MonkeyPatch):
    """While there is time to make room."""
    monkeypatch.setattr(health_module, "free_mb", lambda store: 120.0)
    found = health_of(desk)
    assert found.is_ready and only(found).found == "120 MB" and found.details["store"]["free_mb"] == 120


def test_errors_stand_before_warnings(session: LiveSession, monkeypatch: pytest.MonkeyPatch):
    """Whoever reads the first line reads what matters most."""
    monkeypatch.setattr(health_module, "free_mb", lambda store: 120.0)
    assert subjects(health_of(Desk(session))) == ["state", "disk of the store"]


def test_a_health_is_plain_values(desk: Desk):
    """It can be sent."""
    told = health_of(desk).as_dict()
    assert json.loads(json.dumps(told)) == told
