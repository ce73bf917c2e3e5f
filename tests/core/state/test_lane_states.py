"""The lanes of the state."""

from __future__ import annotations

from tests.core.state.made import LOG, PLAN
from tests.scenario import follow_at, plan_of, task


def test_a_lane_says_what_it_does_and_what_comes_next():
    """Waiting between two tasks, in work, and the order of what remains."""
    lanes = follow_at(PLAN, LOG, "0:40").lanes
    assert (lanes["EV1"].state, lanes["EV1"].task, lanes["EV1"].next, lanes["EV1"].order) == (
        "waiting", None, "T020", ["T020", "T040"],
    )  # fmt: skip
    other = lanes["EV2"]
    assert (other.state, other.task, other.next, other.end_pet_min) == ("in work", "T030", "T040", 160)


def test_of_two_tasks_in_work_the_last_started_is_shown_and_work_goes_before_a_hold():
    """A task on hold is shown only while nothing is in work."""
    both = follow_at(PLAN, f"{LOG}\n0:37 start T020\n0:38 start T040 lanes=EV1", "0:40").lanes["EV1"]
    assert both.task == "T040"
    held = follow_at(PLAN, f"{LOG}\n0:37 start T020\n0:38 hold T020", "0:40").lanes["EV1"]
    assert (held.state, held.task, held.on_hold) == ("on hold", "T020", ["T020"])


def test_a_broken_off_task_is_closed_out_before_the_lane_waits():
    """For its close-out minutes; the end of the lane includes them."""
    plan = plan_of(task("T010", "EV1", 0, 30, closeout=6))
    log = "0:00 clock\n0:00 start T010\n0:10 break_off T010"
    assert [follow_at(plan, log, pet).lanes["EV1"].state for pet in ("0:12", "0:17")] == ["close-out", "finished"]
    assert follow_at(plan, log, "0:12").lanes["EV1"].end_pet_min == 16
