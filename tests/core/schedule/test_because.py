"""Why the end lies where it does: causes that add up, each of them where it belongs."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest

from dashboard.core.state.follow import follow
from tests.bench.states import RANDOM_LOGS, random_log
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO, follow_at, plan_of, task

LIGHT = '[[window]]\nkind = "daylight"\nfrom = "0:30"\nto = "1:15"\n[[window]]\nkind = "daylight"\nfrom = "2:00"\nto = "3:00"\n'
TIMED = "".join(task(f"T{i}", "EV1", 20 * i, [20, 20, 20], shortest=5, closeout=4) for i in range(5))
SPARE = task("G", "EV1", None, [15, 15, 15], get_ahead=True)


def causes(log, pet, text=TIMED):
    """Cause -> minutes, those under a tenth of a minute left out."""
    state = follow_at(plan_of(text), log, pet)
    return {one.what: round(one.min, 1) for one in state.end.because if abs(one.min) >= 0.1}


def run_through(*minutes):
    lines, now = ["0:00 clock"], 0.0
    for i, took in enumerate(minutes):
        lines += [f"{now} start T{i}", f"{now + took} done T{i}"]
        now += took
    return "\n".join(lines), now


@pytest.mark.parametrize("draws", [0, 200])
@pytest.mark.parametrize("seed", range(0, RANDOM_LOGS, 4))
def test_the_causes_add_up_to_the_projected_end_less_the_briefed_one(seed, draws):
    """Random logs of a plan that has one of everything: P50 is explained, or the end at plan pace where there are no draws."""
    now = PET_ZERO + timedelta(minutes=random.Random(seed).uniform(0, 330))
    end = follow(PLAN, random_log(seed), now, draws=draws).end
    projected = end.p50_pet_min if end.p50_pet_min is not None else end.plan_pace_pet_min
    if projected is None:
        assert end.because == []
    else:
        assert sum(one.min for one in end.because) == pytest.approx(projected - end.briefed_pet_min, abs=1e-6)
    assert [abs(one.min) for one in end.because] == sorted((abs(one.min) for one in end.because), reverse=True)


def test_a_sortie_that_goes_as_briefed_has_no_cause():
    """Timed tasks, each on time."""
    assert causes(*run_through(20, 20)) == {}


def test_work_that_took_longer_is_finished_work_and_the_task_that_took_most_is_named():
    """25 and 33 min for 20: 18 min; a task in hand that is over its length counts too."""
    log, now = run_through(25, 33)
    state = follow_at(plan_of(TIMED), log, now)
    assert [(one.what, one.task, one.min) for one in state.end.because] == [("finished work", "T1", pytest.approx(18.0))]
    late = follow_at(plan_of(TIMED), log + f"\n{now} start T2", now + 26)
    assert late.end.because[0].min == pytest.approx(24.0, abs=0.1)


def test_a_hold_costs_what_the_lane_stood_still():
    """Ten minutes on hold; with another task done meanwhile, only the minutes that neither was in work."""
    log = "0:00 clock\n0:00 start T0\n0:05 hold T0\n0:15 resume T0\n0:30 done T0"
    assert causes(log, "0:30") == {"holds": 10.0}
    other = "0:00 clock\n0:00 start T0\n0:05 hold T0\n0:08 start T1\n0:28 done T1\n0:28 resume T0\n0:43 done T0"
    assert causes(other, "0:43") == {"holds": 3.0}


def test_idle_time_is_a_wait_and_so_is_what_the_brief_leaves_between_tasks():
    """Ten minutes idle cost ten; a briefed gap that nothing calls for is time in hand."""
    assert causes("0:00 clock\n0:10 start T0\n0:30 done T0", "0:30") == {"waits": 10.0}
    assert causes("0:00 clock", 0, task("A", "EV1", 0, [20, 20, 20]) + task("B", "EV1", 50, [20, 20, 20])) == {"waits": -30.0}


def test_decisions_and_work_beyond_the_brief_stand_apart():
    """One task deferred, one cut from 20 to 8 min, an added one of 6 min, a get-ahead of 15 min begun."""
    assert causes("0:00 clock\n0:00 defer T4\n0:00 trim T3 duration=8", 0) == {"decisions": -32.0}
    added = '0:00 clock\n0:00 add {"id":"X","lanes":["EV1"],"duration":[6,6,6]}'
    assert causes(added, 0) == {"work beyond the brief": 6.0}
    assert causes("0:00 clock\n0:00 start G", "0:01", TIMED + SPARE)["work beyond the brief"] == 15.0


def test_work_broken_off_is_a_decision():
    """5 of 20 min worked and 4 to leave it safe: 11 min saved."""
    assert causes("0:00 clock\n0:00 start T0\n0:05 break_off T0", "0:05") == {"decisions": -11.0}


def test_a_slow_pace_is_the_pace_of_what_remains():
    """Six tasks at half as long again: what the four to come take beyond plan pace, by the learned pace."""
    text = "".join(task(f"T{i}", "EV1", 20 * i, [15, 20, 30]) for i in range(10))
    log, now = run_through(*[30] * 6)
    state = follow_at(plan_of(text), log, now)
    found = {one.what: one.min for one in state.end.because}
    assert found["finished work"] == pytest.approx(60.0)
    assert found["pace of what remains"] == pytest.approx(80 * (state.lanes["EV1"].pace - 1), rel=0.25)
    assert abs(found.get("spread", 0.0)) < 4


NEEDS_LIGHT = task("A", "EV1", 0, [25, 25, 25]) + task("C", "EV1", 40, [30, 30, 30], needs=["daylight"]) + LIGHT


def test_a_window_that_is_missed_names_the_task_the_window_and_the_next_one():
    """A takes 50 of 25 min, so C no longer fits until 1:15 and goes to 2:00: 25 min late by A, and the rest by the window."""
    state = follow_at(plan_of(NEEDS_LIGHT), "0:00 clock\n0:00 start A\n0:50 done A", "0:50")
    window = next(one for one in state.end.because if one.what == "window likely missed")
    assert (window.task, window.window, window.until_pet_min, window.next_pet_min) == ("C", "daylight", 75.0, 120.0)
    assert window.min == pytest.approx(120 - 50)
    assert state.end.plan_pace_pet_min == 150


def test_a_window_counts_as_missed_when_most_draws_miss_it():
    """At plan pace C still fits by 2 min, in most draws it does not: the cause is the window, and little is left as spread."""
    text = task("A", "EV1", 0, [30, 41, 80]) + task("C", "EV1", 41, [28, 30, 60], needs=["daylight"]) + LIGHT
    state = follow_at(plan_of(text), "0:00 clock\n0:00 start A", "0:43")
    assert state.end.plan_pace_pet_min == 73
    assert state.end.p50_pet_min > 145
    window = next(one for one in state.end.because if one.what == "window likely missed")
    assert window.task == "C" and window.min > 40
    assert sum(one.min for one in state.end.because if one.what == "spread") == pytest.approx(0.0, abs=3.0)


def test_a_window_that_some_draws_miss_is_at_risk_and_no_cause():
    """C fits by 10 min at plan pace, but not when A takes near 80: the share of the draws that start C at the next opening."""
    text = task("A", "EV1", 0, [30, 35, 80]) + task("C", "EV1", 35, [28, 30, 32], needs=["daylight"]) + LIGHT
    state = follow_at(plan_of(text), "0:00 clock\n0:00 start A", "0:20")
    assert "window likely missed" not in {one.what for one in state.end.because}
    (risk,) = state.end.may_miss
    assert (risk.task, risk.window, risk.until_pet_min, risk.next_pet_min) == ("C", "daylight", 75.0, 120.0)
    assert 0.05 <= risk.share < 0.5
    sure = follow_at(plan_of(text.replace("to = \"1:15\"", "to = \"1:50\"")), "0:00 clock\n0:00 start A", "0:20")
    assert sure.end.may_miss == []


def test_a_briefed_wait_for_a_window_is_no_cause():
    """C waits for daylight from 0:25 to 0:30 and ends as briefed from its opening."""
    text = NEEDS_LIGHT.replace("start = 40", "start = 30")
    assert causes("0:00 clock", 0, text) == {}


def test_once_the_sortie_has_ended_the_actual_end_is_explained():
    """Five tasks of 20 min in 25 each."""
    log, now = run_through(*[25] * 5)
    assert causes(log + f"\n{now} end", now) == {"finished work": 25.0}
