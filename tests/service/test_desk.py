"""The desk by itself: versions, failures, overload."""

import json
import threading
import time
from pathlib import Path

import pytest

from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.log.store import EventStore
from dashboard.service.compute import View
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.service.conftest import StandingClock, at_pet, event


class Bench:
    """A computation that can be told to fail or to take its time, and that counts."""

    def __init__(self) -> None:
        self.fails: Exception | None = None
        self.takes_s = 0.0
        self.calls = 0

    def __call__(self, plan, events, unread, now, mode) -> View:
        self.calls += 1
        time.sleep(self.takes_s)
        if self.fails is not None:
            raise self.fails
        state = follow(plan, events, now, unread=unread, mode=mode)
        return View(state, {"events": len(events)})


@pytest.fixture
def bench() -> Bench:
    return Bench()


@pytest.fixture
def desk(plan: Plan, tmp_path: Path, clock: StandingClock, bench: Bench) -> Desk:
    return Desk(LiveSession(plan, EventStore(f"sqlite:///{tmp_path / 'log.sqlite'}"), clock), compute=bench)


def said(desk: Desk) -> dict:
    return json.loads(desk.message())


def test_a_version_is_computed_once_however_many_ask(desk: Desk, bench: Bench):
    """Messages, states and clients share one computation."""
    for _ in range(5):
        desk.message()
        desk.state()
    assert (bench.calls, desk.version) == (1, 1)


def test_an_event_makes_a_new_version(desk: Desk):
    """The next reading covers it."""
    desk.current()
    desk.record([event("note", 0, text="x")])
    assert desk.current().version == 2
    assert said(desk)["board"] == {"events": 1}


def test_a_failure_is_shown_and_the_last_good_state_stays(desk: Desk, bench: Bench, clock: StandingClock):
    """Never a dead screen: the message says what failed and from when the figures are."""
    clock.instant = at_pet(65)
    desk.record([event("clock", 0)])
    good = desk.current()
    bench.fails = ValueError("a gap in the rail")
    clock.instant = at_pet(80)
    desk.record([event("note", 79, text="x")])
    desk.current()
    found = said(desk)
    assert "a gap in the rail" in found["trouble"]
    assert "PET 1:05" in found["trouble"]
    assert found["version"] > good.version
    assert (found["pet_min"], found["board"]) == (65, {"events": 1})


def test_after_a_failure_the_next_good_state_takes_over(desk: Desk, bench: Bench):
    """The trouble goes when its cause goes."""
    bench.fails = ValueError("a gap in the rail")
    desk.current()
    assert said(desk)["board"] is None
    assert "There is no earlier good state" in said(desk)["trouble"]
    bench.fails = None
    desk.cycle()
    assert said(desk)["trouble"] is None
    assert said(desk)["board"] == {"events": 0}


def test_a_figure_that_is_no_number_does_not_break_the_message(
    plan: Plan, tmp_path: Path, clock: StandingClock
):
    """JSON knows no NaN; the message stays JSON."""

    def compute(plan, events, unread, now, mode) -> View:
        return View(follow(plan, events, now), {"margin_min": float("nan")})

    store = EventStore(f"sqlite:///{tmp_path / 'nan.sqlite'}")
    desk = Desk(LiveSession(plan, store, clock), compute=compute)
    desk.cycle()
    assert said(desk)["board"] == {"margin_min": None}


def test_overload_skips_ticks_and_says_so(plan: Plan, tmp_path: Path, bench: Bench):
    """A cycle longer than half its period doubles the period; short cycles bring it back."""
    store = EventStore(f"sqlite:///{tmp_path / 'slow.sqlite'}")
    desk = Desk(LiveSession(plan, store, StandingClock(tick_s=0.4)), compute=bench)
    desk.cycle()
    assert said(desk)["late_ticks"] == 0
    bench.takes_s = 0.25
    desk.cycle()
    desk.cycle()
    assert said(desk)["late_ticks"] == 1
    bench.takes_s = 0.0
    desk.cycle()
    desk.cycle()
    assert said(desk)["late_ticks"] == 0


def test_it_ticks_by_itself_once_opened(plan: Plan, tmp_path: Path, bench: Bench):
    """New versions come with no event at all, and end when it is closed."""
    store = EventStore(f"sqlite:///{tmp_path / 'tick.sqlite'}")
    desk = Desk(LiveSession(plan, store, StandingClock(tick_s=0.02)), compute=bench)
    third = threading.Event()
    desk.subscribe(lambda: third.set() if desk.version >= 3 else None)
    desk.open()
    assert third.wait(10)
    desk.close()
    calls = bench.calls
    time.sleep(0.1)
    assert bench.calls == calls


def test_many_events_at_once_share_a_version(plan: Plan, tmp_path: Path, bench: Bench):
    """Events that come in while a version is made are answered by one more, not by one each."""
    store = EventStore(f"sqlite:///{tmp_path / 'many.sqlite'}")
    desk = Desk(LiveSession(plan, store, StandingClock(tick_s=30)), compute=bench)
    desk.open()
    for number in range(40):
        desk.record([event("note", 0, text=str(number))])
    assert said_events(desk) == 40
    desk.close()
    assert bench.calls < 40


def said_events(desk: Desk) -> int:
    desk.current()
    return said(desk)["board"]["events"]


def test_a_hanging_computation_is_named_in_the_heartbeat(desk: Desk, bench: Bench, monkeypatch):
    """The screens learn that the figures are late, not only that the server is there."""
    monkeypatch.setattr("dashboard.service.desk.LATE_COMPUTING_S", 0.05)
    desk.current()
    bench.takes_s = 1.0
    hanging = threading.Thread(target=desk.cycle)
    hanging.start()
    time.sleep(0.3)
    assert "The state is late" in said(desk)["trouble"]
    hanging.join()
    assert said(desk)["trouble"] is None


def test_before_the_first_version_the_message_says_so_at_once(desk: Desk, bench: Bench):
    """The server answers while a long log is read; nobody waits for the first cycle, and none is made for the asking."""
    found = said(desk)
    assert (found["version"], found["board"], found["pet_min"]) == (0, None, 0)
    assert found["trouble"] == "The state is being computed for the first time."
    assert bench.calls == 0


def test_whoever_asks_for_the_newest_version_waits_a_bounded_time(desk: Desk, bench: Bench, monkeypatch):
    """A cycle that hangs holds nobody: they get the last version, and the heartbeat says that the state is late."""
    monkeypatch.setattr("dashboard.service.desk.PATIENCE_S", 0.05)
    good = desk.current()
    bench.takes_s = 1.5
    hanging = threading.Thread(target=desk.cycle)
    hanging.start()
    time.sleep(0.2)
    desk.ask()
    assert desk.current() is good
    hanging.join()
