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
from dashboard.service.desk import LATE_COMPUTING_S, Desk
from dashboard.service.session.live import LiveSession
from dashboard.service.trial.sieve import Sieve
from dashboard.service.trial.worker import Ran
from tests.service.conftest import NEVER_S, StandingClock, at_pet, event
from tests.waiting import DEADLINE_S, StandingCounter, until


class Bench:
    """A computation that can be told to fail, to take its time or to wait, and that counts."""

    def __init__(self, counter: StandingCounter) -> None:
        self.fails: Exception | None = None
        self.takes_s = 0.0
        self.calls = 0
        self.began, self.goes_on = threading.Event(), threading.Event()
        self.goes_on.set()
        self._counter = counter

    def __call__(self, plan, events, unread, now, mode) -> View:
        self.calls += 1
        self._counter.sleep(self.takes_s)
        self.began.set()
        assert self.goes_on.wait(DEADLINE_S)
        if self.fails is not None:
            raise self.fails
        state = follow(plan, events, now, unread=unread, mode=mode, draws=0)
        return View(state, {"events": len(events)})

    def hold(self) -> None:
        """Let the next computation wait."""
        self.began.clear()
        self.goes_on.clear()


@pytest.fixture
def counter(monkeypatch: pytest.MonkeyPatch) -> StandingCounter:
    """The real seconds of the desk: they pass only while something computes."""
    made = StandingCounter()
    monkeypatch.setattr("dashboard.service.desk.time", made)
    return made


@pytest.fixture
def bench(counter: StandingCounter) -> Bench:
    return Bench(counter)


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


def test_the_first_version_is_made_at_once_and_not_after_a_tick(plan: Plan, tmp_path: Path, bench: Bench):
    """A desk whose clock never ticks has one all the same."""
    store = EventStore(f"sqlite:///{tmp_path / 'first.sqlite'}", plan.sortie.id)
    desk = Desk(LiveSession(plan, store, StandingClock(tick_s=NEVER_S)), compute=bench)
    desk.open()
    try:
        until(lambda: desk.version >= 1, "the first version")
    finally:
        desk.close()


def test_it_ticks_by_itself_once_opened(plan: Plan, tmp_path: Path, bench: Bench):
    """New versions come with no event at all, and end when it is closed."""
    store = EventStore(f"sqlite:///{tmp_path / 'tick.sqlite'}")
    desk = Desk(LiveSession(plan, store, StandingClock(tick_s=0.02)), compute=bench)
    before = set(threading.enumerate())
    third = threading.Event()
    desk.subscribe(lambda: third.set() if desk.version >= 3 else None)
    desk.open()
    assert third.wait(DEADLINE_S), "no third version came"
    desk.close()
    until(lambda: set(threading.enumerate()) <= before, "the thread of the desk ending")


def test_many_events_at_once_share_a_version(plan: Plan, tmp_path: Path, bench: Bench):
    """Events that come in while a version is made are answered by one more, not by one each."""
    store = EventStore(f"sqlite:///{tmp_path / 'many.sqlite'}")
    desk = Desk(LiveSession(plan, store, StandingClock(tick_s=NEVER_S)), compute=bench)
    desk.current()
    desk.open()
    bench.hold()
    desk.record([event("note", 0, text="first")])
    assert bench.began.wait(DEADLINE_S), "no version was begun"
    for number in range(39):
        desk.record([event("note", 0, text=str(number))])
    bench.goes_on.set()
    desk.current()
    assert said(desk)["board"]["events"] == 40
    desk.close()
    assert bench.calls == 3  # the first version, the one that was held, and one for all that came in meanwhile


def test_a_hanging_computation_is_named_in_the_heartbeat(desk: Desk, bench: Bench, counter: StandingCounter):
    """The screens learn that the figures are late, not only that the server is there."""
    desk.current()
    bench.hold()
    hanging = threading.Thread(target=desk.cycle)
    hanging.start()
    assert bench.began.wait(DEADLINE_S), "the cycle did not begin"
    assert said(desk)["trouble"] is None
    counter.sleep(LATE_COMPUTING_S + 1)
    assert "The state is late: computing it has taken 6 s so far." in said(desk)["trouble"]
    bench.goes_on.set()
    hanging.join(DEADLINE_S)
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
    bench.hold()
    hanging = threading.Thread(target=desk.cycle)
    hanging.start()
    assert bench.began.wait(DEADLINE_S), "the cycle did not begin"
    desk.ask()
    assert desk.current() is good
    bench.goes_on.set()
    hanging.join(DEADLINE_S)


def test_a_state_that_overruns_twice_is_interrupted_twice(plan: Plan, tmp_path: Path, clock: StandingClock, monkeypatch):
    """Where the trials find no event to blame it is tried once more, for no longer; then the board says why it is old."""
    monkeypatch.setattr("dashboard.service.desk.LONGEST_CYCLE_S", 0.1)
    begun: list[float] = []

    def slow(*_: object) -> View:
        begun.append(time.monotonic())
        while time.monotonic() < begun[0] + DEADLINE_S:
            pass
        raise AssertionError("it was not interrupted")

    class Runs:
        def run(self, *_: object, **__: object) -> Ran:
            return Ran(None, None, 0.0)

        def close(self) -> None: ...

    session = LiveSession(plan, EventStore(f"sqlite:///{tmp_path / 'slow.sqlite'}", plan.sortie.id), clock)
    desk = Desk(session, compute=slow, sieve=Sieve(Runs()))
    desk.cycle()
    assert len(begun) == 2
    assert said(desk)["trouble"].startswith("The state could not be computed (it takes more than 0.1 s).")


def test_the_lag_is_that_of_the_earliest_request_that_waits(desk: Desk, bench: Bench, counter: StandingCounter, monkeypatch):
    """Under steady load the newest version is always a little behind; what it has answered no longer counts."""
    desk.current()
    bench.takes_s = 1.0
    during_s: list[float] = []
    after_s: list[float] = []

    def asked_meanwhile(*given: object) -> View:
        counter.sleep(2.0)
        desk.ask()
        during_s.append(desk.lag_s)
        return bench(*given)

    monkeypatch.setattr(desk, "_compute", asked_meanwhile)
    desk.ask()
    for _ in range(4):
        desk.cycle()
        after_s.append(desk.lag_s)
    monkeypatch.setattr(desk, "_compute", bench)
    desk.cycle()
    assert (during_s, after_s, desk.lag_s) == ([2.0, 3.0, 3.0, 3.0], [1.0] * 4, 0.0)
