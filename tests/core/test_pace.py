"""The pace of this sortie: shrunk towards 1, and exact where a closed form exists."""

from __future__ import annotations

import math

import numpy as np
import pytest

from dashboard.core.durations import log_moments
from dashboard.core.pace import (
    ARM_SPREAD,
    ENOUGH_TASKS,
    LANE_SPREAD,
    PAIR_SPREAD,
    SCATTER_UNBRIEFED,
    learn_pace,
)
from dashboard.core.plan import Duration
from dashboard.core.reconcile import reconcile
from dashboard.core.times import parse_instant
from tests.scenario import at, follow_at, log_of, plan_of, task

BRIEFED = [20, 30, 50]


def lane_of(count: int, lanes: str = "EV1", minutes: object = None) -> str:
    return "".join(task(f"T{i}", lanes, 30 * i, minutes or BRIEFED) for i in range(count))


def run_through(count: int, each_min: float) -> str:
    lines = ["0:00 clock"]
    for i in range(count):
        lines += [f"{i * each_min} start T{i}", f"{(i + 1) * each_min} done T{i}"]
    return "\n".join(lines)


def pace_of(plan_text: str, log: str, pet: float | str = 600):
    return learn_pace(reconcile(plan_of(plan_text), log_of(log), parse_instant(at(pet))))


def test_with_nothing_finished_the_pace_is_as_briefed():
    """Factor 1 for every lane, with the spread we start from."""
    pace = pace_of(lane_of(3), "0:00 clock", 0)
    assert [pace.factor(lane) for lane in ("EV1", "EV2", "ARM")] == [1.0, 1.0, 1.0]
    row = pace.row(["EV1"])
    assert row @ pace.covariance @ row == pytest.approx(PAIR_SPREAD**2 + LANE_SPREAD**2)


@pytest.mark.parametrize("count", [1, 3, 8])
def test_one_lane_is_the_textbook_mean_of_a_normal_with_a_normal_prior(count):
    """Precision adds up; the mean is the precision-weighted mean of "as briefed" and what was seen."""
    pace = pace_of(lane_of(count), run_through(count, 45.0))
    log_mean, log_variance = log_moments(Duration(low=20, likely=30, high=50))
    prior = 1 / (PAIR_SPREAD**2 + LANE_SPREAD**2)
    seen = count / log_variance
    mean = seen * (math.log(45) - log_mean) / (prior + seen)
    row = pace.row(["EV1"])
    assert pace.factor("EV1") == pytest.approx(math.exp(mean))
    assert row @ pace.covariance @ row == pytest.approx(1 / (prior + seen))


def test_few_finished_tasks_move_the_pace_little_many_move_it_far():
    """Each taking half as long again as its mean: 1 < factor after 1 < after 3 < after 12 < 1.5."""
    factors = [pace_of(lane_of(n), run_through(n, 47.5)).factor("EV1") for n in (1, 3, 12)]
    assert 1.0 < factors[0] < factors[1] < factors[2] < 1.5
    assert factors[0] < 1.2


def test_what_one_crew_member_shows_counts_in_part_for_the_other():
    """Through the pace of the pair: EV2 moves by its share of the spread, the arm not at all."""
    pace = pace_of(lane_of(6), run_through(6, 45.0))
    ev1, ev2 = (math.log(pace.factor(lane)) for lane in ("EV1", "EV2"))
    assert ev2 / ev1 == pytest.approx(PAIR_SPREAD**2 / (PAIR_SPREAD**2 + LANE_SPREAD**2))
    assert pace.factor("ARM") == 1.0


def test_the_arm_has_a_pace_of_its_own():
    """Arm tasks say nothing about the crew."""
    pace = pace_of(lane_of(6, "ARM"), run_through(6, 45.0))
    assert pace.factor("ARM") > 1.1
    assert pace.factor("EV1") == 1.0
    row = pace_of(lane_of(1, "ARM"), "0:00 clock", 0).row(["ARM"])
    assert row @ pace_of(lane_of(1, "ARM"), "0:00 clock", 0).covariance @ row == pytest.approx(ARM_SPREAD**2)


def test_a_joint_task_counts_for_both_lanes_alike():
    """Half a lane term each; a joint task with the arm tells of the crew member alone."""
    pace = pace_of(lane_of(6, "EV1 EV2"), run_through(6, 45.0))
    assert pace.factor("EV1") == pytest.approx(pace.factor("EV2"))
    assert pace.factor("EV1") > 1.1
    assert pace.row(["EV1", "ARM"]).tolist() == pace.row(["EV1"]).tolist()
    unseen = pace_of(lane_of(1), "0:00 clock", 0)
    joint = unseen.row(["EV1", "EV2"])
    assert joint @ unseen.covariance @ joint == pytest.approx(PAIR_SPREAD**2 + LANE_SPREAD**2 / 2)


def test_a_task_without_briefed_spread_is_taken_to_scatter_by_a_fifth():
    """Closed form again, with our own scatter."""
    pace = pace_of(lane_of(1, minutes=30), run_through(1, 45.0))
    prior, seen = 1 / (PAIR_SPREAD**2 + LANE_SPREAD**2), 1 / SCATTER_UNBRIEFED**2
    assert math.log(pace.factor("EV1")) == pytest.approx(seen * math.log(1.5) / (prior + seen))


@pytest.mark.parametrize(
    "log",
    [
        "0:00 clock\n0:45 done T0",
        "0:00 clock\n0:00 start T0\n0:45 break_off T0",
        "0:00 clock\n0:00 start T0\n0:05 trim T0 duration=15\n0:45 done T0",
        "0:00 clock\n0:00 start T0",
        "0:00 clock\n0:00 start T0\n0:10 hold T0",
    ],
    ids=["start unknown", "broken off", "trimmed", "in work", "on hold"],
)
def test_only_a_task_that_ran_its_course_says_something(log):
    """Unknown start, broken off, cut to a called length, not over: the pace stays as briefed."""
    text = task("T0", "EV1", 0, BRIEFED, shortest=10, closeout=5)
    pace = pace_of(text, log)
    assert pace.factor("EV1") == 1.0
    assert pace.finished["EV1"] == 0


def test_time_on_hold_is_not_slow_work():
    """30 minutes of work with an hour's hold inside is 30 minutes."""
    held = pace_of(lane_of(1), "0:00 clock\n0:00 start T0\n0:10 hold T0\n1:10 resume T0\n1:30 done T0")
    straight = pace_of(lane_of(1), "0:00 clock\n0:00 start T0\n0:30 done T0")
    assert held.factor("EV1") == pytest.approx(straight.factor("EV1"))


def test_draws_have_the_mean_and_the_covariance_of_the_belief():
    """20,000 draws, and the same seed gives the same ones."""
    pace = pace_of(lane_of(4) , run_through(4, 45.0))
    drawn = pace.draws(1, 20000)
    assert drawn.mean(axis=1) == pytest.approx(pace.mean, abs=3e-3)
    assert np.cov(drawn) == pytest.approx(pace.covariance, abs=5e-4)
    assert (drawn == pace.draws(1, 20000)).all()


def test_too_few_finished_tasks_are_said_in_words():
    """The state gives no pace until enough tasks are finished, and says why."""
    plan = plan_of(lane_of(6))
    early = follow_at(plan, run_through(ENOUGH_TASKS - 1, 45.0), 46 * (ENOUGH_TASKS - 1))
    assert early.lanes["EV1"].pace is None
    assert early.not_known["lanes.EV1.pace"] == f"too few finished tasks ({ENOUGH_TASKS - 1})"
    enough = follow_at(plan, run_through(ENOUGH_TASKS, 45.0), 46 * ENOUGH_TASKS)
    assert enough.lanes["EV1"].pace == pytest.approx(1.18, abs=0.1)
    assert "lanes.EV1.pace" not in enough.not_known
