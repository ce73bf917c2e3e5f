"""Two things said of one task at one instant, in whatever order they came in."""

from __future__ import annotations

from itertools import permutations

import pytest

from tests.scenario import follow_at, log_of, plan_of, task

PLAN = plan_of(task("A", "EV1", 0, 30, closeout=6) + task("B", "EV1", 30, 30))


@pytest.mark.parametrize("ending", ["done", "break_off"])
def test_a_task_that_starts_and_ends_at_one_instant_is_over(ending: str):
    """Entered the wrong way round, minute by minute: it is over, took no time, and nothing is amiss."""
    state = follow_at(PLAN, f"0:00 clock\n0:10 {ending} A\n0:10 start A", "0:20")
    assert state.tasks["A"].state == {"done": "done", "break_off": "broken off"}[ending]
    assert (state.tasks["A"].start_pet_min, state.tasks["A"].finish_pet_min) == (10, 10)
    assert state.discrepancies == []


@pytest.mark.parametrize("said", ["hold A", "estimate A remaining=12"])
def test_what_is_said_of_a_task_comes_after_its_own_start(said: str):
    """A hold or an estimate of the minute in which it started counts."""
    state = follow_at(PLAN, f"0:00 clock\n0:10 {said}\n0:10 start A", "0:10")
    assert state.discrepancies == []
    assert state.tasks["A"].state == ("on hold" if "hold" in said else "in work")


def test_a_task_that_was_in_work_ends_before_it_starts_once_more():
    """Done and opened again in one minute: the done speaks of the earlier work."""
    state = follow_at(PLAN, "0:00 clock\n0:05 start A\n0:10 start A\n0:10 done A", "0:20")
    assert state.tasks["A"].state == "in work"


def test_a_task_opened_again_and_done_in_one_minute_is_done():
    """It was over before that minute, so the start goes first."""
    log = "0:00 clock\n0:05 start A\n0:10 done A\n0:20 done A\n0:20 start A"
    assert follow_at(PLAN, log, "0:30").tasks["A"].state == "done"


def test_the_order_of_arrival_of_one_minute_does_not_matter():
    """All ways to number start A, done A and start B of one minute: A is done and B in work."""
    events = log_of("0:00 clock\n0:10 start A\n0:10 done A\n0:12 start B")
    for order in permutations((1, 2, 3, 4)):
        renumbered = [e.model_copy(update={"seq": seq}) for e, seq in zip(events, order, strict=True)]
        state = follow_at(PLAN, renumbered, "0:20")
        assert (state.tasks["A"].state, state.tasks["B"].state) == ("done", "in work")
        assert state.discrepancies == []


def test_a_lane_with_a_close_out_running_is_not_finished():
    """Its end counts the close-out as the end of the sortie does; the figure freezes when it is over."""
    plan = plan_of(task("A", "EV1", 0, 30, closeout=6))
    log = "0:00 clock\n0:00 start A\n0:20 break_off A"
    during, after = follow_at(plan, log, "0:22"), follow_at(plan, log, "0:40")
    assert during.lanes["EV1"].end_pet_min == during.end.plan_pace_pet_min == 26
    assert (during.lanes["EV1"].state, during.lanes["EV1"].ahead_frozen) == ("close-out", False)
    assert (after.lanes["EV1"].state, after.lanes["EV1"].ahead_frozen) == ("finished", True)
    assert after.lanes["EV1"].ahead_min == 30 - 26
    assert after.lanes["EV1"].end_pet_min == 26


def test_the_end_of_the_sortie_cuts_a_close_out_short():
    """The lane then ends as the sortie does."""
    plan = plan_of(task("A", "EV1", 0, 30, closeout=6))
    state = follow_at(plan, "0:00 clock\n0:00 start A\n0:20 break_off A\n0:22 end", "0:40")
    assert state.lanes["EV1"].end_pet_min == state.end.plan_pace_pet_min == 22
    assert state.lanes["EV1"].ahead_frozen
