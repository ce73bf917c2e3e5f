"""Ahead and behind: the earned-schedule definition, case by case."""

from __future__ import annotations

import pytest

from tests.scenario import follow_at, plan_of, task

GAP = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 50, 30))


@pytest.mark.parametrize(
    ("log", "pet", "ahead"),
    [
        ("0:00 clock", "0:10", -10),  # nothing begun: the first briefed start less now
        ("0:00 clock\n0:00 start A", "0:10", 0),
        ("0:00 clock\n0:05 start A", "0:10", -5),
        ("0:00 clock\n0:00 start A", "0:40", 0),  # all of A's length earned: now lies in the briefed gap
        ("0:00 clock\n0:00 start A\n0:35 done A", "0:40", 0),  # 5 min long, but inside the briefed gap
        ("0:00 clock\n0:00 start A\n0:20 done A", "0:20", 10),  # early: the gap begins at 0:30
        ("0:00 clock\n0:00 start A\n0:35 done A", "0:58", -8),
        ("0:00 clock\n0:00 start A\n0:30 done A\n0:45 start B", "0:55", 5),
        ("0:00 clock\n0:00 start A\n0:10 estimate A remaining=30", "0:10", -2.5),  # 30 x 10/(10+30) = 7.5 earned
        ("0:00 clock\n0:00 start A\n0:10 hold A", "0:25", -15),
        ("0:00 clock\n0:00 start A\n0:10 hold A\n0:20 resume A", "0:25", -10),
        ("0:00 clock\n0:00 start A\n0:40 done A\n0:50 start B\n1:30 done B", "2:00", -10),  # frozen at the end
        ("0:00 clock\n0:01 defer A", "0:45", 0),  # only B counts now: a briefed wait until 0:50
        ("0:00 clock\n0:00 start A\n0:10 trim A duration=20\n0:20 done A\n0:20 start B", "0:30", 30),
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60", "0:20", 0),  # the decision alone costs nothing
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60", "0:58", -8),  # A earns no more than its brief
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60\n1:00 done A\n1:00 start B", "1:05", -10),
        ("0:00 clock\n0:00 start A\n0:10 extend A duration=60\n0:20 estimate A remaining=20", "0:20", -5),  # 30 x 20/40
    ],
)
def test_minutes_ahead_of_a_lane(log, pet, ahead):
    """Earned PET less now, with a briefed wait that is no delay."""
    assert follow_at(GAP, log, pet).lanes["EV1"].ahead_min == pytest.approx(ahead)


def test_before_pet_zero_it_is_unknown():
    """A lane is neither ahead nor behind before the suits are on battery power."""
    state = follow_at(GAP, "", "-0:10")
    assert state.pet_min == -10
    assert state.lanes["EV1"].ahead_min is None


def test_the_clock_event_sets_the_real_pet_zero():
    """The planned start is only taken until the clock event says otherwise."""
    state = follow_at(GAP, "0:12 clock\n0:12 start A", "0:20")
    assert state.pet_min == 8
    assert state.lanes["EV1"].ahead_min == 0
    assert state.basis.pet_zero_from == "clock event"


def test_a_lane_without_briefed_work_is_neither_ahead_nor_behind():
    """No briefed work: None, not zero."""
    assert follow_at(GAP, "0:00 clock", "0:20").lanes["ARM"].ahead_min is None


def test_a_moved_task_counts_in_its_new_lane():
    """Handing B over leaves EV1 with A alone, and EV2 with B from its briefed start."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 50, 30, can_move_to=["EV2"]))
    state = follow_at(plan, "0:00 clock\n0:00 start A\n0:30 done A\n0:31 move B lane=EV2", "1:00")
    assert state.lanes["EV1"].ahead_min == 0
    assert state.lanes["EV1"].ahead_frozen
    assert state.lanes["EV2"].ahead_min == -10
    assert state.discrepancies == []


def test_inserted_and_added_tasks_cost_time_and_earn_nothing():
    """Ten minutes on an unplanned task put the lane ten minutes behind."""
    log = """0:00 clock
    0:00 add {"id":"X","lanes":["EV1"],"duration":10}
    0:00 start X
    0:10 done X
    0:10 start A"""
    assert follow_at(GAP, log, "0:20").lanes["EV1"].ahead_min == -10


def test_with_inserted_work_still_open_the_lane_goes_on_falling_behind():
    """All briefed work earned is not the end of the lane while an added task is in work."""
    log = """0:00 clock
    0:00 start A
    0:30 done A
    0:50 start B
    1:20 done B
    1:20 add {"id":"X","lanes":["EV1"],"duration":10}
    1:20 start X"""
    assert follow_at(GAP, log, "1:27").lanes["EV1"].ahead_min == -7
