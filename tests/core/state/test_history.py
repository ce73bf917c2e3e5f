"""The drift: what the room could have read off at earlier instants."""

from __future__ import annotations

from datetime import timedelta

import pytest

from dashboard.core.base.times import minutes_between, parse_instant
from dashboard.core.state.follow import follow
from dashboard.core.state.history import (
    DriftPoint,
    drift,
    drift_between,
    known_from,
    most_behind,
    thinned,
    worse_ahead_min,
)
from replay.recording import load_run, packaged_scenarios
from tests.bench.states import random_log
from tests.core.sorties import PLAN as EVERYTHING
from tests.scenario import PET_ZERO, at, follow_at, log_of, plan_of, task

PLAN = plan_of(
    task("A", "EV1", 0, 30) + task("B", "EV1", 30, 60, after=["A"]) + task("C", "EV2", 0, 60) + task("D", "ARM", 0, 20)
)
LOG = "0:00 clock\n0:00 start A\n0:00 start C\n0:40 done A\n0:40 start B\n1:05 done C"


def drift_at(pet, log=LOG, **more):
    return drift(PLAN, log_of(log) if isinstance(log, str) else log, parse_instant(at(pet)), **more)


def received(log, **late):
    """The log with each event received as it happened, those of `late` at that PET."""
    return [
        event.model_copy(update={"received": parse_instant(at(late[event.id])) if event.id in late else event.at})
        for event in log_of(log)
    ]


def test_each_point_is_the_state_of_its_instant():
    """One point an event's instant and one now; lane, end and limit as `follow` gives them there."""
    points = drift_at("1:10")
    assert [point.pet_min for point in points] == pytest.approx([0, 40, 65, 70])
    for point in points:
        state = follow_at(PLAN, LOG, point.pet_min)
        assert point.ahead_min == {name: state.lanes[name].ahead_min for name in ("EV1", "EV2")}
        assert (point.end_pet_min, point.limit_pet_min) == (state.end.plan_pace_pet_min, state.limit.pet_min)
    assert points[1].ahead_min["EV1"] == pytest.approx(-10)


def test_an_event_received_late_is_not_known_before():
    """A done and B begun at 0:30 but entered at 0:50: when a note came in at 0:45, EV1 was taken to be still at work on A."""
    log = "0:00 clock\n0:00 start A\n0:00 start C\n0:30 done A\n0:30 start B\n0:45 note x"
    on_time, late = drift_at("1:00", received(log)), drift_at("1:00", received(log, e4="0:50", e5="0:50"))
    assert {round(p.pet_min): p.ahead_min["EV1"] for p in on_time}[45] == pytest.approx(0)
    known = {round(p.pet_min): p.ahead_min["EV1"] for p in late}
    assert known[45] == pytest.approx(-15)
    assert 30 not in known and known[50] == pytest.approx(0)


@pytest.mark.parametrize("seed", range(12))
def test_a_log_that_is_folded_once_gives_the_points_of_one_that_is_folded_each_time(seed: int):
    """Exactly, for a log of every kind of event, entered soon or late."""
    events, now = random_log(seed), PET_ZERO + timedelta(minutes=300)
    points, newest = drift(EVERYTHING, events, now), follow(EVERYTHING, events, now, draws=0)
    zero = newest.basis.pet_zero
    instants = sorted({at for event in events if zero <= (at := known_from(event)) < now})
    expected = [follow(EVERYTHING, [e for e in events if known_from(e) <= at], at, draws=0) for at in instants]
    assert points == [
        DriftPoint(
            minutes_between(zero, state.now),
            {name: lane.ahead_min for name, lane in state.lanes.items() if lane.kind == "crew"},
            state.end.plan_pace_pet_min, state.limit.pet_min,
        )
        for state in (*expected, newest)
    ]  # fmt: skip


def test_the_last_point_agrees_with_the_state_of_now():
    """On a whole recorded run, half-way: the strip ends where the board stands."""
    run = load_run(packaged_scenarios()["lantern-2"])
    now = run.pet_zero + timedelta(minutes=250)
    events, state = run.known_at(now), follow(run.plan, run.known_at(now), now, draws=0)
    points = drift(run.plan, events, now, points=30)
    assert len(points) == 30
    assert points[-1].ahead_min == {name: lane.ahead_min for name, lane in state.lanes.items() if lane.kind == "crew"}
    assert points[-1].end_pet_min == state.end.plan_pace_pet_min
    assert [point.pet_min for point in points] == sorted(point.pet_min for point in points)


def test_before_pet_zero_there_is_no_drift():
    """Nothing was to be ahead of or behind of yet."""
    assert drift(PLAN, [], PET_ZERO - timedelta(minutes=5)) == []


def test_too_many_instants_are_thinned_evenly():
    """At most so many points, the first and the last instant among them, no gap twice another."""
    log = "\n".join(["0:00 clock", *(f"0:{minute:02d} note x" for minute in range(60))])
    points = drift_at("1:00", log, points=13)
    assert [round(point.pet_min) for point in points] == [0, 5, 11, 16, 21, 27, 32, 38, 43, 48, 54, 59, 60]
    assert thinned([PET_ZERO], 5) == [PET_ZERO]


def test_between_two_instants_it_looks_closer_where_it_is_deepest():
    """B waits from 0:40 until it is deferred at 1:00: a second before that, not at an event, the lane was most behind."""
    log = log_of("0:00 clock\n0:00 start A\n0:00 start C\n0:40 done A\n1:00 defer B\n1:05 done C")
    points = drift_between(PLAN, log, PET_ZERO, parse_instant(at("1:10")), PET_ZERO)
    assert [p.pet_min for p in points] == sorted(p.pet_min for p in points)
    assert {0, 40, 60, 65, 70} <= {p.pet_min for p in points}
    worst = most_behind(points)
    assert worst is not None
    assert (worst.pet_min, worst.ahead_min["EV1"]) == (pytest.approx(60 - 1 / 60), pytest.approx(-30, abs=0.1))
    assert worst.ahead_min == {
        name: follow_at(PLAN, "0:00 clock\n0:00 start A\n0:00 start C\n0:40 done A", worst.pet_min).lanes[name].ahead_min
        for name in ("EV1", "EV2")
    }


def test_of_a_long_log_no_more_points_than_asked_for():
    """The first event and the last instant are always among them."""
    run = load_run(packaged_scenarios()["lantern-2"])
    points = drift_between(run.plan, run.events, run.first, run.last, run.pet_zero, most=12)
    assert len(points) <= 12
    assert points[-1].pet_min == pytest.approx((run.last - run.pet_zero).total_seconds() / 60)


def test_nothing_is_most_behind_on_the_brief():
    """Where no lane is behind, or nothing is known, there is no worst moment."""
    ahead = DriftPoint(1.0, {"EV1": 2.0, "EV2": None}, None, 390.0)
    unknown = DriftPoint(2.0, {"EV1": None}, None, 390.0)
    assert most_behind([ahead, unknown]) is None and worse_ahead_min(ahead) == 2.0 and worse_ahead_min(unknown) is None
