"""A state at PET zero as it is briefed: every task at its briefed times. For drawing a plan, not for figures.

The state at PET zero projects the plan pace, which begins a task as soon as it can. Whoever writes a plan wants to see the times
that are written.
"""

from __future__ import annotations

from dashboard.core.state.model import LaneState, SortieState, TaskState


def as_briefed(state: SortieState) -> SortieState:
    """Put every task at its briefed times, without spread, and say of no lane how far it is ahead.

    Parameters
    ----------
    state
        At PET zero, without an event.

    Returns
    -------
    SortieState
        A copy. A task without a briefed start has no place in it.
    """
    return state.model_copy(update={
        "tasks": {name: _briefed_task(task) for name, task in state.tasks.items()},
        "lanes": {name: _briefed_lane(lane) for name, lane in state.lanes.items()},
    })  # fmt: skip


def _briefed_task(task: TaskState) -> TaskState:
    return task.model_copy(update={
        "projected_start_pet_min": task.briefed_start_pet_min, "projected_finish_pet_min": task.briefed_finish_pet_min,
        "p10_pet_min": None, "p90_pet_min": None,
    })  # fmt: skip


def _briefed_lane(lane: LaneState) -> LaneState:
    return lane.model_copy(update={"ahead_min": None})
