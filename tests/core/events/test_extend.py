"""A task is let run longer."""

from __future__ import annotations

import pytest

from tests.core.sorties import PLAN, complaints
from tests.scenario import follow_at, plan_of, task

BOXED = plan_of(task("STOP", "EV1", 0, 30, boxed=True) + task("FIX", "EV1", 30, 20) + task("NEXT", "EV1", 50, 10))


@pytest.mark.parametrize("plan", [PLAN, plan_of(task("A", "EV1", 0, 30, boxed=True))], ids=["open-ended", "boxed"])
def test_an_extend_sets_a_new_whole_length(plan) -> None:
    """Of an open-ended task and of a boxed stop, without complaint; the brief stays what it was."""
    state = follow_at(plan, "0:00 clock\n0:00 start A\n0:10 extend A duration=45", "0:20")
    found = state.tasks["A"]
    assert (found.planned_min, found.projected_finish_pet_min, found.briefed_finish_pet_min) == (45, 45, 30)
    assert (found.extended, found.trimmed) == (True, False)
    assert state.discrepancies == [] and state.basis.decisions == 1


@pytest.mark.parametrize(
    ("log", "expected", "found"),
    [
        (
            "0:10 extend A duration=30",
            "a whole length above the planned 30 min of A (a trim cuts it short)", "extend to 30 min; set aside",
        ),
        (
            "0:10 trim A duration=15\n0:11 extend A duration=12",
            "a whole length above the planned 15 min of A (a trim cuts it short)", "extend to 12 min; set aside",
        ),
        (
            "0:10 extend B duration=40",
            "a boxed or open-ended task to extend (an estimate says that B takes longer)", "extend to 40 min; applied",
        ),
        ("0:10 done A\n0:11 extend A duration=40", "A not over yet", "A done; the extend was set aside"),
    ],
)
def test_an_extend_that_does_not_fit_is_listed_with_what_would(log: str, expected: str, found: str) -> None:
    """One that is not longer offers the trim; one of a task of fixed content offers the estimate."""
    assert complaints(f"0:00 clock\n0:00 start A\n{log}", "0:20") == [(expected, found)]


def test_a_trimmed_task_may_be_let_run_to_its_brief_again() -> None:
    """Up to the briefed length it is back as it was, whatever the task."""
    log = "0:00 clock\n0:10 decision time trim={\"E\":12}\n0:11 extend E duration=40"
    state = follow_at(PLAN, log, "0:20")
    assert (state.tasks["E"].planned_min, state.tasks["E"].trimmed, state.tasks["E"].extended) == (40, False, False)
    assert [one.event for one in state.discrepancies] == ["e2"]


def test_an_extend_sets_an_estimate_aside() -> None:
    """The estimate was made of the length before; one made afterwards stands."""
    log = "0:00 clock\n0:00 start STOP\n0:10 estimate STOP remaining=20\n0:12 extend STOP duration=50"
    assert follow_at(BOXED, log, "0:20").tasks["STOP"].projected_finish_pet_min == 50
    assert follow_at(BOXED, f"{log}\n0:15 estimate STOP remaining=25", "0:20").tasks["STOP"].projected_finish_pet_min == 40


def test_an_extended_task_moves_what_follows() -> None:
    """By the minutes that were added."""
    before = follow_at(BOXED, "0:00 clock\n0:00 start STOP", "0:10")
    after = follow_at(BOXED, "0:00 clock\n0:00 start STOP\n0:10 extend STOP duration=45", "0:10")
    assert after.end.plan_pace_pet_min == before.end.plan_pace_pet_min + 15
