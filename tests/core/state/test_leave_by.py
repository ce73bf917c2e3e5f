"""The trim that leaves a worksite in time."""

from __future__ import annotations

import pytest

from dashboard.core.state.leave_by import trim_to_leave
from dashboard.core.state.model import TaskState


@pytest.mark.parametrize(
    ("now", "start", "worked", "shortest", "length"),
    [
        (100.0, 110.0, None, 10.0, 20.0),  # not begun: the 20.5 min from its start to the leave-by time
        (120.0, 110.0, 10.0, 10.0, 20.0),  # in work: what is worked and the 10.5 min that are left
        (100.0, 110.0, None, 21.0, None),  # less than is useful
        (100.0, 110.0, None, None, None),  # may not be trimmed
        (131.0, 110.0, 21.0, 10.0, None),  # the time is past
        (80.0, 90.0, None, 10.0, None),  # the whole 30 min fit at plan pace: a length above them is no trim
    ],
)
def test_a_task_is_cut_to_what_fits_before_the_leave_by_time(now, start, worked, shortest, length) -> None:
    """PET 2:10.5 to have left."""
    task = TaskState.model_construct(projected_start_pet_min=start, worked_min=worked, planned_min=30.0)
    assert trim_to_leave(now, 130.5, task, shortest) == length
