"""What holds a task back is named."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.schedule.waits import Waits
from tests.scenario import at, follow_at, log_of, plan_of, task

LIGHT = '[[window]]\nkind = "day"\nfrom = "1:00"\nto = "3:00"\n'
A, B = task("A", "EV1", 0, 30), task("B", "EV2", 0, 30)


@pytest.mark.parametrize(
    ("more", "log", "waits"),
    [
        (task("C", "ARM", 0, 5), "", Waits(kind="now")),
        (task("C", "EV1", 40, 5), "", Waits(kind="lane", name="EV1", until_pet_min=30)),
        (task("C", "EV1 EV2", 40, 5), "\n0:05 estimate B remaining=30", Waits(kind="lane", name="EV2", until_pet_min=35)),
        (task("C", "ARM", 40, 5, after=["B"]), "", Waits(kind="task", name="B", until_pet_min=30)),
        (
            task("C", "ARM", 40, 5, follows=[{"task": "B", "lag": 7}], after=["A"]), "",
            Waits(kind="task", name="B", until_pet_min=37),
        ),
        (task("C", "ARM", 40, 5, after=["B"], not_before="0:41"), "", Waits(kind="not before", until_pet_min=41)),
        (
            task("C", "EV1", 40, 5, not_before="0:41", needs=["day"]) + LIGHT, "",
            Waits(kind="window", name="day", until_pet_min=60),
        ),
    ],
    ids=["nothing", "its lane", "the later lane", "a task", "the later task", "its own time", "a window"],
)
def test_what_holds_a_task_back_is_the_latest_of_its_reasons(more, log, waits):
    """With the time until which it does."""
    state = follow_at(plan_of(A + B + more), "0:00 clock\n0:00 start A\n0:00 start B" + log, "0:05")
    assert state.tasks["C"].waits == waits


def test_of_two_reasons_to_the_same_time_the_task_is_named_before_the_lane():
    """C comes after A in A's own lane, and may not begin before A is over: A is what it waits for."""
    state = follow_at(
        plan_of(A + task("C", "EV1", 40, 5, after=["A"], not_before="0:30")), "0:00 clock\n0:00 start A", "0:05"
    )
    assert state.tasks["C"].waits == Waits(kind="task", name="A", until_pet_min=30)


def test_work_in_hand_waits_for_nothing():
    """Whatever it comes after."""
    plan = plan_of(A + task("C", "EV2", 40, 5, after=["A"]))
    record = reconcile(plan, log_of("0:00 clock\n0:00 start A\n0:01 start C"), parse_instant(at("0:05")))
    assert project(record).slots["C"].waits == Waits(kind="now")


def test_times_so_large_that_the_tolerance_vanishes_still_have_a_reason():
    """PET zero two thousand years ago: nonsense, but no reason to stop every figure. A is the first that could begin."""
    state = follow_at(plan_of(A), '0:00 clock\n0:01 amend e1 changes={"at":"0001-01-01T00:00:00Z"}', "0:10")
    assert state.tasks["A"].waits.kind == "now"
