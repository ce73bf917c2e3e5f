"""The projection at plan pace."""

from __future__ import annotations

import pytest

from tests.scenario import follow_at, plan_of, task

LIGHT = '[[window]]\nkind = "daylight"\nfrom = "0:30"\nto = "1:00"\n[[window]]\nkind = "daylight"\nfrom = "2:00"\nto = "3:00"\n'


def starts(state):
    return {t: s.projected_start_pet_min for t, s in state.tasks.items() if s.projected_start_pet_min is not None}


def test_briefed_starts_do_not_hold_a_task_back():
    """With A done early B can start at once, long before its briefed start."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 90, 10))
    state = follow_at(plan, "0:00 clock\n0:00 start A\n0:10 done A", "0:12")
    assert state.tasks["B"].projected_start_pet_min == 12
    assert state.end.plan_pace_pet_min == 22


def test_a_joint_task_waits_for_the_later_of_its_lanes():
    """And what it waits for is named."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV2", 0, 50) + task("J", "EV1 EV2", 50, 10))
    state = follow_at(plan, "0:00 clock\n0:00 start A\n0:00 start B", "0:10")
    assert state.tasks["J"].projected_start_pet_min == 50
    assert state.tasks["J"].waits.kind == "lane"
    assert state.tasks["J"].waits.name == "EV2"
    assert state.tasks["A"].float_min == 20
    assert state.end.chain == ["B", "J"]


def test_lags_and_not_before_hold_a_task_back():
    """The later of the two decides."""
    wait = task("A", "EV1", 0, 30) + task("B", "EV2", 60, 10, follows=[{"task": "A", "lag": 15}])
    assert starts(follow_at(plan_of(wait), "0:00 clock\n0:00 start A", "0:05"))["B"] == 45
    later = plan_of(wait.replace('lag = 15}]', 'lag = 15}]\nnot_before = "1:10"'))
    state = follow_at(later, "0:00 clock\n0:00 start A", "0:05")
    assert starts(state)["B"] == 70
    assert state.tasks["B"].waits.kind == "not before"


def test_follows_counts_only_if_both_are_done():
    """With A deferred its follower is free."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV2", 60, 10, follows=[{"task": "A", "lag": 15}]))
    assert starts(follow_at(plan, "0:00 clock\n0:01 defer A", "0:05"))["B"] == 5


@pytest.mark.parametrize(
    ("minutes", "now", "start"),
    [(20, "0:10", 30), (20, "0:35", 35), (20, "0:45", 120), (40, "0:10", 120), (30, "0:30", 30)],
)
def test_a_task_that_needs_a_window_lies_wholly_inside_one(minutes, now, start):
    """The first window that holds it."""
    plan = plan_of(task("A", "EV1", 30, minutes, needs=["daylight"]) + LIGHT)
    assert starts(follow_at(plan, "0:00 clock", now))["A"] == start


def test_with_no_window_left_the_task_is_flagged_not_hidden():
    """It is placed as if it needed none, and an alert asks for a decision."""
    plan = plan_of(task("A", "EV1", 30, 90, needs=["daylight"]) + LIGHT)
    state = follow_at(plan, "0:00 clock", "0:10")
    assert state.tasks["A"].window_missed == ["daylight"]
    assert state.alerts[0].id == "no-window-A"


def test_float_is_how_far_a_task_can_slip_without_moving_the_end():
    """Proved by slipping: each task is held back by its float, then by a minute more."""
    text = (
        task("A", "EV1", 0, 30) + task("B", "EV1", 30, 20) + task("C", "EV2", 0, 10) + task("D", "EV2", 10, 15)
        + task("J", "EV1 EV2", 50, 20, after=["C"]) + task("K", "ARM", 0, 12) + task("L", "EV2", 70, 5, after=["K"])
        + task("M", "EV1", 70, 30)
    )
    base = follow_at(plan_of(text), "0:00 clock", "0:00")
    assert base.end.plan_pace_pet_min == 100
    for name, seen in base.tasks.items():
        floor = seen.projected_start_pet_min + seen.float_min
        for slip, moved in ((0, False), (1, True)):
            held = text.replace(f'id = "{name}"', f'id = "{name}"\nnot_before = {floor + slip}')
            end = follow_at(plan_of(held), "0:00 clock", "0:00").end.plan_pace_pet_min
            assert (end > 100) == moved, name


def test_float_reaches_into_a_later_window():
    """A windowed task may slip to the last place inside a window that does not move the end."""
    plan = plan_of(task("A", "EV1", 30, 20, needs=["daylight"]) + task("B", "EV2", 0, 200) + LIGHT)
    assert follow_at(plan, "0:00 clock", "0:00").tasks["A"].float_min == 160 - 30


def test_latest_start_is_measured_against_the_limit():
    """Limit 7:00 less 30 min: the last minute B can begin is 6:20."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 30, 10))
    state = follow_at(plan, "0:00 clock\n0:00 start A", "0:10")
    assert state.tasks["B"].latest_start_pet_min == 380
    assert state.tasks["A"].latest_start_pet_min == 350
    assert state.end.margin_min == 350


def test_the_arm_does_not_set_the_end_unless_the_crew_waits_for_it():
    """The end is the latest finish over the crew lanes."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("R", "ARM", 0, 200))
    state = follow_at(plan, "0:00 clock", "0:00")
    assert state.end.plan_pace_pet_min == 30
    assert state.tasks["R"].float_min is None


def test_a_crew_task_before_a_long_arm_task_keeps_its_float():
    """P runs past the end without moving it, so A may slip 90 min: as far as B, which does set the end, leaves."""
    plan = plan_of(task("A", "EV1", 0, 10) + task("P", "ARM", 10, 200, after=["A"]) + task("B", "EV2", 0, 100))
    assert follow_at(plan, "0:00 clock", "0:00").tasks["A"].float_min == 90


def test_an_order_that_contradicts_after_is_broken_where_it_must_be():
    """B stands first in its lane but comes after C, which stands behind it: C goes first, nothing hangs."""
    plan = plan_of(task("B", "EV1", 0, 10, after=["C"]) + task("C", "EV1", 10, 10))
    state = follow_at(plan, "0:00 clock", "0:00")
    assert starts(state) == {"B": 10, "C": 0}


def test_an_overrun_task_ends_now_not_in_the_past():
    """Remaining time never falls below zero."""
    plan = plan_of(task("A", "EV1", 0, 30) + task("B", "EV1", 30, 10))
    state = follow_at(plan, "0:00 clock\n0:00 start A", "0:50")
    assert state.tasks["A"].projected_finish_pet_min == 50
    assert state.end.plan_pace_pet_min == 60
