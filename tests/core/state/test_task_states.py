"""The tasks of the state."""

from __future__ import annotations

from tests.core.state.made import LOG, PLAN
from tests.scenario import follow_at


def test_a_task_is_shown_as_briefed_as_it_stands_and_as_projected():
    """Done: its times. In work: what remains. Not started: when it begins, how far it can slip and what it waits for."""
    tasks = follow_at(PLAN, LOG, "0:40").tasks
    done, in_work, next_one = tasks["T010"], tasks["T030"], tasks["T040"]
    assert (done.start_pet_min, done.finish_pet_min, done.worked_min, done.ahead_min) == (0, 36, 36, -6)
    assert (in_work.worked_min, in_work.remaining_min, in_work.projected_finish_pet_min) == (40, 20, 60)
    assert (next_one.briefed_start_pet_min, next_one.projected_start_pet_min, next_one.ahead_min) == (60, 70, -10)
    assert (next_one.float_min, next_one.sets_end, in_work.float_min) == (0, True, 10)


def test_a_deferred_task_says_why_it_is_out_and_has_nothing_projected():
    """And what comes after it goes with it."""
    tasks = follow_at(PLAN, f"{LOG}\n0:38 defer T020", "0:40").tasks
    assert (tasks["T020"].state, tasks["T020"].in_plan, tasks["T020"].projected_finish_pet_min) == ("deferred", False, None)
    assert (tasks["T040"].in_plan, tasks["T040"].remaining_min) == (False, None)
    assert "T020" in (tasks["T040"].why_out or "")


def test_a_task_done_without_a_start_has_no_minutes_worked():
    """They are not known, which is not 0."""
    task = follow_at(PLAN, "0:00 clock\n0:36 done T010", "0:40").tasks["T010"]
    assert (task.start_pet_min, task.finish_pet_min, task.worked_min) == (None, 36, None)
