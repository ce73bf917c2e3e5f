"""By how much the last work at a worksite must be cut so that the worksite is left in time."""

from __future__ import annotations

from dashboard.core.base.minutes import whole
from dashboard.core.state.model import TaskState


def trim_to_leave(pet_min: float, leave_by_pet_min: float, task: TaskState, shortest_min: float | None) -> float | None:
    """The whole length to which a task must be cut so that it ends by the leave-by time of its worksite.

    Parameters
    ----------
    pet_min
        Now.
    leave_by_pet_min
        The leave-by time.
    task
        The task that ends last there.
    shortest_min
        Its shortest useful length; None: it may not be trimmed.

    Returns
    -------
    float or None
        Minutes, rounded down; None when the time is past, when a cut so deep leaves less than is useful, or when the whole task
        fits by then at plan pace: it is then expected to end late for other reasons, which no trim mends.
    """
    now = max(0.0, pet_min)
    if shortest_min is None or leave_by_pet_min <= now:
        return None
    begins = max(now, task.projected_start_pet_min or now)
    left = whole(leave_by_pet_min - begins, "down")
    length_min = (task.worked_min or 0.0) + left
    return float(whole(length_min, "down")) if shortest_min <= length_min < task.planned_min else None
