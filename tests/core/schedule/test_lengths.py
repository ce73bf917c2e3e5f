"""How long what remains of a task takes: at plan pace, and in each draw."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.lengths import DrawnLengths, at_plan_pace
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from tests.scenario import at, log_of, plan_of, task

DRAWS = 2000
A, B = task("A", "EV1", 0, [20, 30, 50]), task("B", "EV2", 0, [15, 15, 15])
LEAK = '[[contingency]]\nid = "leak"\nhold = ["A"]\n[[contingency.task]]\nid = "L1"\nlanes = ["EV1"]\nduration = 8\n'


def record_of(text, log, pet):
    return reconcile(plan_of(text), log_of("0:00 clock\n" + log), parse_instant(at(pet)))


def drawn(record):
    return DrawnLengths(record, 1, DRAWS, learn_pace(record), project(record).slots)


@pytest.mark.parametrize(
    ("log", "pet", "minutes"),
    [
        ("", "0:10", 30), ("0:00 start A", "0:10", 20), ("0:00 start A", "0:40", 0), ("0:00 trim A duration=22", "0:10", 22),
        ("0:00 start A\n0:05 hold A", "0:25", 25), ("0:00 start A\n0:10 estimate A remaining=40", "0:15", 35),
        ("0:00 start A\n0:10 estimate A remaining=4", "0:15", 0),
    ],
    ids=["not begun", "in work", "overrun", "trimmed", "on hold", "by estimate", "past its estimate"],
)
def test_at_plan_pace_it_is_the_estimate_or_the_planned_length_less_the_work_done(log, pet, minutes):
    """Never below zero."""
    record = record_of(task("A", "EV1", 0, [20, 30, 50], shortest=20), log, pet)
    assert at_plan_pace(record).length_min("A") == pytest.approx(minutes)


@pytest.mark.parametrize("log", ["", "0:00 start A", "0:00 start A\n0:05 hold A"])
def test_the_length_is_the_task_s_own_times_the_pace_of_its_lanes(log):
    """Begun or not; both factors scatter."""
    record = record_of(A, log, "0:10")
    found = drawn(record).of(record.runs["A"])
    assert np.array_equal(found.length_min, found.own_min * found.pace)
    assert found.own_min.std() > 1 and found.pace.std() > 0.05


@pytest.mark.parametrize(
    ("name", "log"), [("A", "0:00 start A\n0:05 estimate A remaining=20"), ("B", ""), ("B", "0:00 start B")],
    ids=["an estimate", "a timed wait", "a timed wait in work"],
)
def test_no_pace_applies_to_estimates_and_timed_waits(name, log):
    """Their length is their own."""
    record = record_of(A + B, log, "0:10")
    found = drawn(record).of(record.runs[name])
    assert found.pace is None and found.length_min is found.own_min


def test_a_trimmed_task_has_its_briefed_distribution_scaled_to_its_new_length():
    """Trimmed to two thirds, each draw of its own length is two thirds of the whole one's (no extra scatter)."""
    record = record_of(task("A", "EV1", 0, [20, 30, 50], shortest=10), "", "0:00")
    lengths = drawn(record)
    whole = lengths.of(record.runs["A"])
    cut = lengths.of(replace(record.runs["A"], planned_min=20.0, length_set=True))
    assert cut.own_min == pytest.approx(whole.own_min * 2 / 3)


def test_a_task_handed_over_keeps_its_luck_and_takes_the_pace_of_its_new_lane():
    """The same own length in every draw."""
    record = record_of(A, "", "0:00")
    lengths = drawn(record)
    here, there = (lengths.of(replace(record.runs["A"], lanes=(lane,))) for lane in ("EV1", "EV2"))
    assert np.array_equal(here.own_min, there.own_min)
    assert not np.array_equal(here.pace, there.pace)


def test_a_held_lane_is_free_after_its_hold_and_no_earlier_than_without():
    """Other lanes as they were."""
    lengths = drawn(record_of(A + B, "0:01 hold lane=EV1 reason=cramp", "0:10"))
    free = lengths.lane_free_pet_min({"EV1": 18.0, "ARM": 12.0})
    assert free["ARM"] == 12.0 and "EV2" not in free
    assert free["EV1"].min() == 18.0 and free["EV1"].max() > 30.0


def test_only_a_task_held_for_itself_has_a_hold_of_its_own():
    """Not one in work, nor one that waits for the tasks of a contingency, nor one whose lane is held."""
    begun = "0:00 start A\n0:05 "
    for log, held in (("hold A", True), ("hold lane=EV1", False), ("insert leak", False), ("note well", False)):
        record = record_of(A + LEAK, begun + log, "0:10")
        until = drawn(record).held_until_pet_min(record.runs["A"])
        assert (until is not None) is held, log
        assert until is None or until.min() > 10.0
