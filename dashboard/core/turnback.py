"""Turn-back time: the latest PET at which a lane can drop everything that may be dropped and still be in."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.core.lifecycle import IN_WORK, NOT_STARTED, ON_HOLD
from dashboard.core.record import Record, TaskRun


def minutes_to_be_in(record: Record, runs: Sequence[TaskRun], return_min: float) -> float:
    """Least minutes from now until a lane can be in.

    Work in hand that may be broken off costs its close-out, other work in hand what remains of it; then the way back
    from the worksite; then every required task of the lane that has not begun. Where the plan holds the way back as a
    required task of its own it is counted twice: the turn-back time is then early by that much. Waiting for the other
    lane or for a window is left out, which makes it late by as much as the lane must wait.
    """
    total = return_min
    for run in runs:
        if not record.in_plan(run.task.id):
            continue
        if run.state in (IN_WORK, ON_HOLD):
            droppable = run.task.closeout is not None and not run.task.required
            left = run.remaining_min(record.pet_min)
            total += min(left, run.task.closeout or 0.0) if droppable else left
        elif run.state == NOT_STARTED and run.task.required:
            total += run.planned_min
    return total
